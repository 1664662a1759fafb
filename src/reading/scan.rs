//! Walks the tagged items of a reply and notes what each clause says.
//!
//! Which subject a predicate belongs to, what a negation reaches, what an exception turns round. What the notes add up
//! to is `verdict`'s business.

use super::lex::Item;
use super::lexicon::Tag;
use super::numbers::SIX;
use super::resolve::{self, Outcome, affirmed, denied, outright, part_flag};
use crate::trade::flag::{Flag, Flags};

/// Words that make an entry deny something by itself ("dont have it"), so that no other word denies it.
const NEGATIONS: [&str; 12] =
    ["no", "not", "dont", "doesnt", "isnt", "aint", "wont", "cant", "didnt", "sin", "never", "without"];

/// One problem noted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Finding {
    pub(super) flags: Flags,
    /// Index of the item it rests on.
    pub(super) at: usize,
    pub(super) red: bool,
    /// Whether it rests on point numbers alone, so that a correction may take it back.
    pub(super) numbers: bool,
}

/// What was noted on the way through a reply.
#[derive(Debug, Default)]
pub(super) struct Notes {
    pub(super) findings: Vec<Finding>,
    /// Items that say that all is well.
    pub(super) general: Vec<usize>,
    /// Check points said to be fine, by bit.
    pub(super) fine: u8,
    /// Items that keep the reply from being all clear.
    pub(super) doubts: Vec<usize>,
    /// Parts named with nothing said of them.
    pub(super) bare: Vec<(usize, Tag)>,
    /// Repairs: by staff, with a new part, by the athlete.
    pub(super) fixes: Vec<usize>,
    /// Tape, gum, stickers.
    pub(super) patched: bool,
    /// "False alarm": takes back what was said of the helmet before.
    pub(super) retracts: Vec<usize>,
    /// Ends of clauses, as item indexes.
    pub(super) ends: Vec<usize>,
}

/// Someone or something that is talked about.
#[derive(Debug, Clone, Copy)]
struct Subject {
    tag: Tag,
    points: u8,
    at: usize,
}

#[derive(Debug)]
struct Scan<'a> {
    items: &'a [Item],
    notes: Notes,
    /// Named and waiting for a predicate.
    open: Vec<Subject>,
    /// The last that had one, in this sentence.
    last: Vec<Subject>,
    negation: Option<usize>,
    /// A negated predicate whose negation still reaches on ("no cracks or loose screws").
    chained: bool,
    softened: bool,
    except: Option<usize>,
    only: Option<usize>,
    need: Option<usize>,
    supposing: bool,
    asking: bool,
    /// Whether the clause tells of something besides the helmet.
    story: bool,
    /// Whether a point list in this clause has had its predicate.
    clause_start: usize,
    skip_to: usize,
    correcting: Option<usize>,
}

/// Notes what the items say.
pub(super) fn scan(items: &[Item]) -> Notes {
    let mut scan = Scan {
        items,
        notes: Notes::default(),
        open: Vec::new(),
        last: Vec::new(),
        negation: None,
        chained: false,
        softened: false,
        except: None,
        only: None,
        need: None,
        supposing: false,
        asking: asks(items, 0),
        story: false,
        clause_start: 0,
        skip_to: 0,
        correcting: None,
    };
    for at in 0..items.len() {
        scan.step(at);
    }
    scan.end_sentence(items.len());
    scan.notes
}

/// Whether the sentence from `from` on ends in a question mark.
fn asks(items: &[Item], from: usize) -> bool {
    items[from..]
        .iter()
        .find(|item| matches!(item.tag, Tag::Period | Tag::Question))
        .is_some_and(|item| item.tag == Tag::Question)
}

/// The tags a strict negation reaches through.
const fn is_transparent(tag: Tag) -> bool {
    matches!(
        tag,
        Tag::Glue
            | Tag::None
            | Tag::Neg
            | Tag::Too
            | Tag::Used
            | Tag::All
            | Tag::Feel
            | Tag::Soft
            | Tag::Also
            | Tag::It
    ) || tag.is_part()
        || tag.is_body()
        || matches!(tag, Tag::Helmet | Tag::Points | Tag::Need)
}

impl Scan<'_> {
    fn step(&mut self, at: usize) {
        let tag = self.items[at].tag;
        if at < self.skip_to {
            return;
        }
        self.asking |= self.inverted(at);
        if !is_transparent(tag) && !resolve::is_predicate(tag) && outright(tag).is_none() {
            self.let_go(at, tag);
        }
        match tag {
            Tag::Period | Tag::Question => self.end_sentence(at),
            Tag::But => self.end_clause(at, true),
            Tag::Sub => {
                self.end_clause(at, true);
                self.notes.doubts.push(at);
            }
            Tag::Comma => self.comma(at),
            Tag::And => self.conjunction(at),
            Tag::Neg | Tag::None | Tag::Nah => self.negative(at, tag),
            Tag::Except => self.exception(at),
            Tag::Only => self.only = Some(at),
            Tag::Need => self.need = Some(at),
            Tag::Soft => self.softened = true,
            Tag::Hedge | Tag::Would | Tag::Doubt | Tag::Unknown | Tag::Hit => {
                self.story |= tag == Tag::Unknown;
                self.notes.doubts.push(at);
            }
            Tag::Ask => self.asking = true,
            Tag::If => self.supposing = true,
            Tag::Fix => self.fixed(at),
            Tag::Patch => self.patch(at),
            Tag::Retract => {
                if self.notes.findings.is_empty() && !self.notes.general.is_empty() {
                    self.notes.doubts.push(at);
                }
                self.notes.retracts.push(at);
            }
            Tag::Correct => self.correct(at),
            Tag::Story => self.story = true,
            Tag::Person => {
                self.story = true;
                self.subject(at, tag);
            }
            Tag::Vomit => self.vomit(at),
            Tag::Cross | Tag::Yes => self.mark(at, tag),
            _ if resolve::is_predicate(tag) => self.predicate(at, tag),
            _ if outright(tag).is_some() => self.said_outright(at, tag),
            _ if tag.is_part() || tag.is_body() => self.subject(at, tag),
            Tag::Helmet | Tag::It | Tag::Other | Tag::Me | Tag::All | Tag::Rest | Tag::Points => self.subject(at, tag),
            _ => {}
        }
    }

    /// "Is everyone good", "can it be": a question by its word order.
    fn inverted(&self, at: usize) -> bool {
        let next = self.items.get(at + 1);
        matches!(
            self.items[at].word.as_str(),
            "is" | "are" | "can" | "do" | "does" | "did" | "should" | "will" | "could"
        ) && self.items[self.clause_start.min(at)..at].iter().all(|item| item.tag == Tag::Fill)
            && next.is_some_and(|next| {
                matches!(next.tag, Tag::It | Tag::Helmet | Tag::Me | Tag::Person | Tag::All)
                    || matches!(next.word.as_str(), "the" | "my" | "you" | "u" | "this")
            })
    }

    /// A word that stops a negation's reach: an opener ("no sir ...") is let go, any other leaves a doubt.
    fn let_go(&mut self, at: usize, tag: Tag) {
        if matches!(tag, Tag::Or) {
            return;
        }
        self.chained = false;
        let Some(neg) = self.negation else { return };
        if self.open.iter().any(|s| s.at > neg && (s.tag.is_part() || s.tag == Tag::Points)) {
            if matches!(tag, Tag::Fill | Tag::Story | Tag::Person) {
                self.settle_open(at);
            }
            return;
        }
        let opener = self.is_opener(neg);
        let ends = matches!(tag, Tag::Period | Tag::Question | Tag::But | Tag::Comma | Tag::And);
        if ends && !opener {
            return;
        }
        if !opener {
            self.notes.doubts.push(neg);
        }
        if opener || matches!(tag, Tag::Fill | Tag::Story | Tag::Unknown | Tag::Person) {
            self.negation = None;
        }
        let _ = at;
    }

    fn is_opener(&self, neg: usize) -> bool {
        matches!(self.items[neg].word.as_str(), "no" | "nah" | "nope" | "na" | "naw")
            && self.items[self.clause_start.min(neg)..neg]
                .iter()
                .all(|item| matches!(item.tag, Tag::Fill | Tag::Used | Tag::Comma | Tag::Neg | Tag::Nah))
    }

    fn negative(&mut self, at: usize, tag: Tag) {
        let next = self.items.get(at + 1).map(|item| item.tag);
        if tag == Tag::Nah && self.is_opener(at) {
            return;
        }
        if self.is_opener(at)
            && matches!(next, Some(Tag::Me | Tag::It | Tag::Comma | Tag::Fill | Tag::Neg | Tag::Person))
            && self.open.is_empty()
        {
            return;
        }
        let praise = self.items[at + 1..]
            .iter()
            .find(|item| item.tag != Tag::Glue)
            .is_some_and(|i| resolve::is_reassuring(i.tag));
        if tag == Tag::None && (self.negation.is_some() || (self.chained && !praise)) {
            return;
        }
        if self.negation.is_some() && !self.open.is_empty() {
            self.settle_open(at);
        }
        self.negation = Some(at);
    }

    fn comma(&mut self, at: usize) {
        if self.negation.is_some() {
            self.end_clause(at, false);
        }
    }

    fn conjunction(&mut self, at: usize) {
        if self.negation.is_some() {
            self.end_clause(at, false);
        }
    }

    fn subject(&mut self, at: usize, tag: Tag) {
        let subject = Subject { tag, points: self.items[at].points, at };
        if tag == Tag::Points && self.correcting.take().is_some() {
            self.take_back();
        }
        let specific = tag.is_part() || tag == Tag::Points;
        if specific && let Some(neg) = self.negation {
            self.open.retain(|s| s.at > neg || is_specific(s));
            if self.open.iter().any(|s| s.at < neg) {
                self.settle_open(at);
            }
        }
        if self.except.is_some() && specific {
            self.flag_subject(subject, at);
            self.last = vec![subject];
            return;
        }
        if self.need.is_some() && tag.is_part() && !self.asking {
            self.flag_subject(subject, at);
            self.last = vec![subject];
            return;
        }
        if specific {
            self.open.retain(|s| {
                !matches!(s.tag, Tag::Helmet | Tag::It | Tag::Me | Tag::Rest | Tag::All)
                    || tag == Tag::Points && s.tag == Tag::All
            });
        }
        self.open.push(subject);
    }

    /// The open subjects had a bare "not": "5 ok 4 not", "la mask no"; or it was "no strap".
    fn settle_open(&mut self, at: usize) {
        let Some(neg) = self.negation.take() else { return };
        let open = std::mem::take(&mut self.open);
        if open.is_empty() {
            let answer = self.is_opener(neg) && self.items.get(at).is_some_and(|item| item.tag == Tag::Comma);
            if !answer {
                self.notes.doubts.push(neg);
            }
        }
        for subject in open {
            if subject.at < neg {
                self.elliptical(subject, neg, at);
            } else if subject.tag.is_part() && self.contrasts(neg) {
                self.flag_subject(subject, neg);
            } else if subject.tag == Tag::Points {
                self.notes.fine |= subject.points;
            } else if !matches!(self.items[neg].word.as_str(), "no" | "sin" | "without" | "no tengo" | "no hay") {
                self.notes.doubts.push(neg);
            } else if subject.tag == Tag::Helmet {
                self.find(Flag::Missing, at.min(self.items.len() - 1), false);
            } else if subject.tag.is_part() {
                self.flag_subject(subject, subject.at);
            } else {
                self.notes.doubts.push(neg);
            }
        }
    }

    /// "5 not", "la mask no", "helmet good, head not", "helmet fine but i'm not".
    fn elliptical(&mut self, subject: Subject, neg: usize, at: usize) {
        let ends = at <= neg + 2;
        match subject.tag {
            Tag::Me if ends && !self.notes.general.is_empty() => self.find(Flag::Unwell, neg, false),
            tag if tag.is_body() && ends => {
                if let Outcome::Off(flags) = denied(Tag::Good, Some(tag)) {
                    self.notes.findings.push(Finding { flags, at: neg, red: false, numbers: false });
                } else {
                    self.notes.doubts.push(neg);
                }
            }
            _ => self.flag_subject(subject, neg),
        }
    }

    /// "Ok but not the mask": the "not" opens a clause set against good news.
    fn contrasts(&self, neg: usize) -> bool {
        self.clause_start > 0
            && self.items[self.clause_start - 1].tag == Tag::But
            && self.clause_start == neg
            && !self.notes.general.is_empty()
    }

    fn exception(&mut self, at: usize) {
        self.settle_open(at);
        self.except = Some(at);
        self.notes.doubts.push(at);
    }

    fn correct(&mut self, at: usize) {
        let also = self.items[at..].iter().take(6).any(|item| item.tag == Tag::Also);
        if !also {
            self.end_clause(at, true);
            self.correcting = Some(at);
        }
    }

    /// Takes back the points named last.
    fn take_back(&mut self) {
        while self.notes.findings.last().is_some_and(|finding| finding.numbers) {
            self.notes.findings.pop();
        }
    }

    fn fixed(&mut self, at: usize) {
        if self.negation.take().is_some() || self.need.take().is_some() {
            let open = std::mem::take(&mut self.open);
            self.notes.doubts.push(at);
            for subject in open {
                self.flag_subject(subject, at);
            }
            return;
        }
        self.last = std::mem::take(&mut self.open);
        self.notes.fixes.push(at);
    }

    /// Tape is no repair: the part it holds is off.
    fn patch(&mut self, at: usize) {
        self.notes.patched = true;
        self.negation = None;
        self.notes.doubts.push(at);
        for subject in self.targets(at, Tag::Broken) {
            self.flag_subject(subject, at);
        }
        self.open.clear();
    }

    /// ✅ and ❌ by position when there are six or seven of them; else they speak for what stands before them.
    fn mark(&mut self, at: usize, tag: Tag) {
        let is_mark = |item: &&Item| matches!(item.tag, Tag::Cross | Tag::Yes);
        let row = self.items[at..].iter().take_while(is_mark).count();
        if at > 0 && is_mark(&&self.items[at - 1]) && self.skip_to > at {
            return;
        }
        if row == 6 || row == 7 {
            let off: u8 = (0..row).filter(|n| self.items[at + n].tag == Tag::Cross).map(|n| 1 << n).sum();
            self.skip_to = at + row;
            if off == 0 {
                self.notes.general.push(at);
            } else {
                self.flag_subject(Subject { tag: Tag::Points, points: off, at }, at);
            }
            return;
        }
        let as_said = if tag == Tag::Yes { Tag::Good } else { Tag::Bad };
        self.predicate(at, as_said);
    }

    fn said_outright(&mut self, at: usize, tag: Tag) {
        let Some(flag) = outright(tag) else { return };
        let own = self.items[at].word.split(' ').any(|word| NEGATIONS.contains(&word));
        let denied = (self.negation.is_some() || self.chained) && !own;
        let body = flag.is_body() || flag == Flag::Symptom;
        let mut clause = self.items[at..].iter().take(6).take_while(|item| !is_boundary(item.tag));
        let resolved = self.soft_before(at) || clause.any(|item| item.tag == Tag::Anymore);
        let still_counts = flag == Flag::Symptom && resolved;
        if denied && !still_counts {
            if resolved && flag != Flag::Symptom && self.softened {
                self.notes.doubts.push(at);
            } else {
                self.notes.general.push(at);
            }
            self.negation = None;
            self.chained = true;
            return;
        }
        self.negation = None;
        if self.supposing && !body {
            return;
        }
        if self.asking && !body && matches!(tag, Tag::LooseOff | Tag::TightOff | Tag::Pain) {
            self.notes.doubts.push(at);
            return;
        }
        let struck = self.items.iter().any(|item| item.tag == Tag::Hit);
        let flag = if flag == Flag::Unwell && struck { Flag::Symptom } else { flag };
        self.find(flag, at, tag == Tag::RedFlag);
        self.last = std::mem::take(&mut self.open);
    }

    /// Vomiting is an illness; after a blow it is a sign of concussion, again and again a red flag.
    fn vomit(&mut self, at: usize) {
        if self.negation.take().is_some() {
            self.notes.general.push(at);
            return;
        }
        let has = |tag: Tag| self.items.iter().any(|item| item.tag == tag);
        let (struck, repeated) = (has(Tag::Hit), has(Tag::Repeat));
        self.find(Flag::Illness, at, false);
        if struck || repeated {
            self.find(Flag::Symptom, at, repeated);
        }
    }

    /// Whether the negation is "not really", "ya no", "wouldn't call it": a denial that grants something.
    fn soft_before(&self, at: usize) -> bool {
        let from = self.negation.unwrap_or(at);
        self.softened
            || self.items[from..=at].iter().any(|item| item.tag == Tag::Soft)
            || matches!(self.items[from].word.as_str(), "ya no" | "no more" | "no longer" | "stopped")
    }

    fn find(&mut self, flag: Flag, at: usize, red: bool) {
        let flags = [flag].into_iter().collect();
        self.notes.findings.push(Finding { flags, at, red, numbers: false });
    }

    fn flag_subject(&mut self, subject: Subject, at: usize) {
        if subject.tag == Tag::Points {
            let flags = point_flags(subject.points);
            self.notes.findings.push(Finding { flags, at: subject.at, red: false, numbers: true });
        } else if let Some(flag) = part_flag(subject.tag) {
            self.find(flag, subject.at, false);
        } else if subject.tag == Tag::Pad {
            self.find(Flag::Cheeks, subject.at, false);
        } else {
            self.notes.doubts.push(at);
        }
    }

    fn predicate(&mut self, at: usize, tag: Tag) {
        if self.only_describes(at, tag) {
            return;
        }
        if self.inverts(at, tag) {
            return;
        }
        let negation = self.negation.take();
        let negated = negation.is_some() || (self.chained && resolve::is_trouble(tag));
        let targets = self.targets(at, tag);
        self.open.clear();
        if self.supposing {
            return;
        }
        if self.asking && !matches!(tag, Tag::Broken | Tag::Crack | Tag::Hurt | Tag::Gone | Tag::Flat) {
            self.notes.doubts.push(at);
            return;
        }
        if targets.is_empty() {
            self.outcome(at, tag, None, negated);
        }
        for &subject in &targets {
            self.outcome(at, tag, Some(subject), negated);
        }
        self.chained = negated && resolve::is_trouble(tag);
        if targets.iter().any(|s| s.tag.is_part() || s.tag == Tag::Points) {
            self.last = targets;
        }
    }

    /// "A small crack", "a nasty cold": the adjective belongs to the trouble named next.
    fn only_describes(&self, at: usize, tag: Tag) -> bool {
        let next = self.items.get(at + 1).map(|item| item.tag);
        matches!(tag, Tag::Bad | Tag::Loose | Tag::TooTight | Tag::Good)
            && next.is_some_and(|next| {
                matches!(next, Tag::Crack | Tag::Vomit)
                    || (tag != Tag::Good && outright(next).is_some_and(Flag::is_body))
            })
            && tag != Tag::Good
    }

    /// "Everything but 1 and 2 is bad": the exception is what is fine.
    fn inverts(&mut self, at: usize, tag: Tag) -> bool {
        let Some(except) = self.except.filter(|_| tag == Tag::Bad && self.negation.is_none()) else { return false };
        let starts_with_all =
            ["everything", "all", "todo", "todos"].iter().any(|w| self.items[except].word.starts_with(w));
        if !starts_with_all || !self.open.is_empty() {
            return false;
        }
        let named = self.notes.findings.iter().filter(|f| f.at > except).fold(Flags::NONE, |all, f| all.union(f.flags));
        self.notes.findings.retain(|finding| finding.at < except);
        let flags = point_flags(SIX).minus(named);
        self.notes.findings.push(Finding { flags, at, red: false, numbers: true });
        true
    }

    /// The subjects a predicate belongs to.
    fn targets(&mut self, at: usize, tag: Tag) -> Vec<Subject> {
        let specific = is_specific;
        if self.open.iter().all(|s| s.tag == Tag::Other) && resolve::is_trouble(tag) {
            let found = self.after(at, tag);
            if !found.is_empty() {
                return found;
            }
        }
        if self.open.iter().any(specific) {
            let open = std::mem::take(&mut self.open);
            if open.iter().any(|s| matches!(s.tag, Tag::Points)) || !open.iter().any(|s| s.tag == Tag::Helmet) {
                return open;
            }
            return open.into_iter().filter(specific).collect();
        }
        if resolve::is_trouble(tag) || matches!(tag, Tag::Click | Tag::Hold | Tag::Good) {
            let found = self.after(at, tag);
            if !found.is_empty() {
                return found;
            }
        }
        let open = std::mem::take(&mut self.open);
        let vague = open.iter().all(|s| s.tag == Tag::It);
        if vague && self.last.iter().any(specific) && tag != Tag::Ok && !self.since_last_is_new(at) {
            return self.last.clone();
        }
        open
    }

    /// Whether something other than "and it" stands between the last subject's predicate and this one.
    fn since_last_is_new(&self, at: usize) -> bool {
        let Some(last) = self.last.last() else { return true };
        self.items[last.at..at].iter().any(|item| matches!(item.tag, Tag::Fill | Tag::Story | Tag::Me | Tag::Helmet))
    }

    /// Subjects right after an attributive predicate: "loose strap", "missing a screw", "cracked my shell".
    fn after(&mut self, at: usize, tag: Tag) -> Vec<Subject> {
        let items = self.items;
        let mut found = Vec::new();
        let mut next = at + 1;
        let mut skipped = 0;
        while let Some(item) = items.get(next) {
            let takes = item.tag.is_part()
                || item.tag.is_body()
                || matches!(item.tag, Tag::Points | Tag::Other)
                || (found.is_empty() && item.tag == Tag::Helmet && resolve::is_trouble(tag));
            if takes {
                found.push(Subject { tag: item.tag, points: item.points, at: next });
                skipped = 0;
            } else if matches!(item.tag, Tag::Glue | Tag::Used | Tag::AtTime)
                || (item.tag == Tag::And && !found.is_empty())
            {
                skipped += 1;
                if skipped > 3 {
                    break;
                }
            } else {
                break;
            }
            next += 1;
        }
        let own = items
            .get(next)
            .is_some_and(|item| resolve::is_predicate(item.tag) || matches!(item.tag, Tag::Neg | Tag::Rest));
        if found.is_empty() || (own && (resolve::is_reassuring(tag) || !self.open.is_empty())) {
            return Vec::new();
        }
        self.skip_to = found[found.len() - 1].at + 1;
        found
    }

    fn outcome(&mut self, at: usize, tag: Tag, subject: Option<Subject>, negated: bool) {
        if let Some(s) = subject.filter(|s| s.tag == Tag::Points) {
            return self.points_outcome(at, tag, s, negated);
        }
        let name = subject.map(|s| match (tag, s.tag) {
            (Tag::TooTight, Tag::Head) if s.at > at => Tag::Helmet,
            (_, named) => named,
        });
        if tag == Tag::Gone && self.follows_body(name) {
            return;
        }
        let softly = negated && self.softened;
        let result = if negated { denied(tag, name) } else { affirmed(tag, name) };
        match result {
            Outcome::Off(flags) => {
                self.notes.findings.push(Finding { flags, at, red: name == Some(Tag::Neck), numbers: false });
            }
            Outcome::Good if softly => self.soft_denial(at, tag, name),
            Outcome::Good => self.good(at, tag, subject, negated),
            Outcome::Doubt => self.notes.doubts.push(at),
            Outcome::Nothing => {}
        }
    }

    /// "Had a headache but it's gone": what is gone is the complaint, not the helmet.
    fn follows_body(&self, name: Option<Tag>) -> bool {
        matches!(name, None | Some(Tag::It))
            && self.notes.findings.last().is_some_and(|finding| finding.flags.iter().any(Flag::is_body))
    }

    /// "Not really hurting": counts for the head, leaves a doubt elsewhere.
    fn soft_denial(&mut self, at: usize, tag: Tag, name: Option<Tag>) {
        match affirmed(tag, name) {
            Outcome::Off(flags) if flags.contains(Flag::Symptom) => self.find(Flag::Symptom, at, false),
            _ => self.notes.doubts.push(at),
        }
    }

    fn good(&mut self, at: usize, tag: Tag, subject: Option<Subject>, negated: bool) {
        let Some(subject) = subject else {
            if self.only.is_some_and(|only| only + 1 == at) {
                self.notes.doubts.push(at);
            }
            if negated || !matches!(tag, Tag::Click | Tag::Hold) {
                self.notes.general.push(at);
            }
            return;
        };
        let bit = bit_of(subject.tag);
        match subject.tag {
            Tag::Other | Tag::Person => {}
            _ if bit == 0 && !subject.tag.is_part() && (negated || !subject.tag.is_body()) => {
                self.notes.general.push(at);
            }
            _ => self.fine(at, bit, subject),
        }
    }

    fn fine(&mut self, at: usize, bits: u8, subject: Subject) {
        if self.only.is_some_and(|only| only < subject.at && subject.at - only <= 3) && bits != 0 {
            let flags = point_flags(SIX & !bits);
            self.notes.findings.push(Finding { flags, at, red: false, numbers: true });
        }
        self.notes.fine |= bits;
    }

    fn points_outcome(&mut self, at: usize, tag: Tag, subject: Subject, negated: bool) {
        if resolve::is_reassuring(tag) != negated {
            self.fine(at, subject.points, subject);
        } else {
            self.flag_subject(subject, at);
        }
    }

    /// Ends a clause: open subjects are settled; the sentence's subjects may be taken up again.
    fn end_clause(&mut self, at: usize, hard: bool) {
        self.settle_open(at);
        if hard {
            self.close(at);
        }
    }

    fn close(&mut self, at: usize) {
        self.cut_off(at);
        let open = std::mem::take(&mut self.open);
        for subject in open {
            self.left_over(subject, at);
        }
        if let Some(need) = self.need.take() {
            self.notes.doubts.push(need);
        }
        self.chained = false;
        self.softened = false;
        self.except = None;
        self.only = None;
        self.supposing = false;
        self.story = false;
        self.clause_start = at + 1;
        self.notes.ends.push(at);
    }

    /// "All good but": what was to follow is not there.
    fn cut_off(&mut self, at: usize) {
        let Some(but) = self.clause_start.checked_sub(1).filter(|i| self.items[*i].tag == Tag::But) else { return };
        let trails = matches!(self.items[but].word.as_str(), "tho" | "though" | "so");
        let mut rest = self.items[self.clause_start.min(at)..].iter().take_while(|item| item.tag != Tag::Period);
        if !trails && rest.all(|item| matches!(item.tag, Tag::Fill | Tag::Glue | Tag::Used | Tag::But)) {
            self.notes.doubts.push(but);
        }
    }

    /// A subject with nothing said of it.
    fn left_over(&mut self, subject: Subject, at: usize) {
        if self.supposing {
            return;
        }
        if self.asking && (subject.tag == Tag::Points || subject.tag.is_part()) {
            self.notes.doubts.push(subject.at);
        } else if subject.tag == Tag::Points {
            if self.story || self.items[self.clause_start.min(at)..at].iter().any(|i| i.tag == Tag::Other) {
                self.notes.doubts.push(subject.at);
            } else {
                self.flag_subject(subject, at);
            }
        } else if subject.tag.is_part() {
            if subject.tag != Tag::Pad && self.only.is_some_and(|only| only < subject.at) && !self.story {
                self.flag_subject(subject, at);
            } else {
                self.notes.bare.push((subject.at, subject.tag));
            }
        } else if subject.tag.is_body() || (subject.tag == Tag::Helmet && self.follows_but()) {
            self.notes.doubts.push(subject.at);
        }
    }

    fn follows_but(&self) -> bool {
        self.clause_start.checked_sub(1).is_some_and(|i| self.items[i].tag == Tag::But)
    }

    fn end_sentence(&mut self, at: usize) {
        self.settle_open(at);
        if let Some(neg) = self.negation.take() {
            self.notes.doubts.push(neg);
        }
        self.close(at);
        self.last.clear();
        if self.asking {
            self.notes.doubts.push(at.min(self.items.len().saturating_sub(1)));
        }
        self.asking = self.items.get(at + 1..).is_some_and(|_| asks(self.items, at + 1));
    }
}

/// Whether a clause ends here.
const fn is_boundary(tag: Tag) -> bool {
    matches!(tag, Tag::Period | Tag::Question | Tag::Comma | Tag::But | Tag::Sub)
}

/// Whether the subject is more than "it", "everything", "I" or the helmet.
fn is_specific(subject: &Subject) -> bool {
    subject.tag.is_part() || subject.tag.is_body() || matches!(subject.tag, Tag::Points | Tag::Other)
}

/// The flags of point bits.
fn point_flags(points: u8) -> Flags {
    (1..=7).filter(|n| points & (1 << (n - 1)) != 0).filter_map(Flag::from_check_point).collect()
}

/// The bit of a part that is a check point.
const fn bit_of(tag: Tag) -> u8 {
    match tag {
        Tag::Brow => 1,
        Tag::Grip | Tag::Forehead => 1 << 1,
        Tag::Crown => 1 << 2,
        Tag::Cheeks => 1 << 3,
        Tag::Strap => 1 << 4,
        Tag::Hardware => 1 << 5,
        _ => 0,
    }
}
