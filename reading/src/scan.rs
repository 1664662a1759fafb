//! Walks the tagged items of a reply and notes what each clause says.
//!
//! Which subject a predicate belongs to, what a negation reaches, what an exception turns round. What the notes add up
//! to is `verdict`'s business.

mod clause;
mod predicate;
mod report;

use super::lex::{Item, Present};
use super::lexicon::{Lexicon, Tag, Tags};
use super::numbers::UNWELL_POINT;
use super::resolve::{self, outright};
use super::roles::Role;
use super::support::{Good, Reach};
use crate::flag::{Flag, Flags};

/// One problem noted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Finding {
    pub(super) flags: Flags,
    /// Index of the item it rests on.
    pub(super) at: usize,
    pub(super) red: bool,
    /// Whether it rests on point numbers alone, so that a correction may take it back.
    pub(super) numbers: bool,
    /// Whether the word may be good news as well.
    pub(super) either: bool,
}

/// What was noted on the way through a reply.
#[derive(Debug, Default)]
pub(super) struct Notes {
    pub(super) findings: Vec<Finding>,
    /// Items that say that all is well.
    pub(super) general: Vec<usize>,
    /// The same, with how surely they are about the helmet.
    pub(super) goods: Vec<Good>,
    /// Whether trouble was denied.
    pub(super) denies: bool,
    /// Whether anything was said to be well.
    pub(super) praised: bool,
    /// Check points said to be fine, by bit.
    pub(super) fine: u8,
    /// How many parts were said to be fine.
    pub(super) parts: u8,
    /// Items that keep the reply from being all clear.
    pub(super) doubts: Vec<usize>,
    /// Good news that was denied.
    pub(super) denied_goods: Vec<usize>,
    /// Words that are no doubt beside good news that names the helmet or everything.
    pub(super) mild: Vec<usize>,
    /// Parts named with nothing said of them.
    pub(super) bare: Vec<(usize, Tag)>,
    /// Repairs: by staff, with a new part, by the athlete.
    pub(super) fixes: Vec<usize>,
    /// Tape, gum, stickers.
    pub(super) patched: bool,
    /// "False alarm": takes back what was said of the helmet before.
    pub(super) retracts: Vec<usize>,
    /// Signs of concussion denied, which a later "ok, a little" takes back.
    pub(super) denied_signs: Vec<usize>,
    /// Ends of clauses, as item indexes.
    pub(super) ends: Vec<usize>,
    /// Where what is only supposed begins and ends.
    pub(super) supposed: Vec<(usize, usize)>,
    /// What is among the items.
    pub(super) present: Present,
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
    items: &'a [Item<'a>],
    lexicon: &'a Lexicon,
    notes: Notes,
    /// Named and waiting for a predicate.
    open: Vec<Subject>,
    /// The last that had one, in this sentence.
    last: Vec<Subject>,
    negation: Option<usize>,
    /// The negation that the predicate at hand was denied by.
    denier: Option<usize>,
    /// A negated predicate whose negation still reaches on ("no cracks or loose screws").
    chained: bool,
    /// Where that predicate stands.
    chained_at: usize,
    softened: bool,
    except: Option<usize>,
    /// Where everything was said to be bad: then an exception is what is fine.
    all_bad: bool,
    only: Option<usize>,
    need: Option<usize>,
    supposing: bool,
    /// Whether something has been supposed: then a comma or an "and" ends it.
    supposed: bool,
    asking: bool,
    /// Whether the clause tells of something besides the helmet.
    story: bool,
    /// The first item of this clause.
    clause_start: usize,
    /// Items before this one have been dealt with.
    skip_to: usize,
    /// A correction that takes back the points named before it.
    correcting: Option<usize>,
    /// Whether something else was said to be in trouble.
    elsewhere: bool,
    /// Whether something was supposed and set aside.
    voided: bool,
    /// Whether the reply tells of a blow.
    struck: bool,
    /// Whether "not loose" was said: then "not tight" is good news too.
    not_loose: bool,
    /// Whether the reply says "again", "twice", "keep".
    repeated: bool,
    /// From here on nothing is said any more.
    trailing: usize,
    /// The first item that names something else.
    first_thing: usize,
    /// Whether the reply names the helmet, a part, the check or whoever writes.
    names_gear: bool,
}

/// The helmet, a part, the check, whoever writes.
const TALKED_OF: Tags = Tags::PARTS.and(Tags::of(&[Tag::Helmet, Tag::Me, Tag::Checked, Tag::Points, Tag::Aside]));

/// Notes what the items say; `present` is what is among them.
pub(super) fn scan(items: &[Item], present: Present, lexicon: &Lexicon) -> Notes {
    let Present { tags, .. } = present;
    let mut scan = Scan {
        items,
        lexicon,
        notes: Notes { present, ..Notes::default() },
        open: Vec::new(),
        last: Vec::new(),
        negation: None,
        denier: None,
        chained: false,
        chained_at: 0,
        softened: false,
        except: None,
        all_bad: false,
        only: None,
        need: None,
        supposing: false,
        supposed: false,
        asking: tags.has(Tag::Question) && asks(items, 0),
        story: false,
        clause_start: 0,
        skip_to: 0,
        correcting: None,
        elsewhere: tags.has(Tag::Aside)
            && items.iter().any(|item| item.tag == Tag::Aside && item.was.is_some_and(resolve::is_trouble)),
        voided: false,
        struck: tags.has(Tag::Hit),
        not_loose: (tags.has(Tag::Neg) || tags.has(Tag::None))
            && items.windows(3).any(|three| {
                matches!(three[0].tag, Tag::Neg | Tag::None)
                    && three[1..]
                        .iter()
                        .any(|item| matches!(item.tag, Tag::Loose | Tag::TooTight | Tag::Move | Tag::Wobble))
            }),
        repeated: tags.has(Tag::Repeat),
        trailing: items.len() - items.iter().rev().take_while(|item| clause::trails(item)).count(),
        first_thing: if tags.has(Tag::Other) {
            items.iter().position(|item| item.tag == Tag::Other).unwrap_or(items.len())
        } else {
            items.len()
        },
        names_gear: tags.meets(TALKED_OF),
    };
    for at in 0..items.len() {
        scan.step(at);
    }
    scan.end_sentence(items.len());
    scan.notes
}

/// Whether the sentence from `from` on ends in a question mark, and does not ask about something else.
fn asks(items: &[Item], from: usize) -> bool {
    let end = items[from..].iter().position(|item| matches!(item.tag, Tag::Period | Tag::Question));
    end.is_some_and(|end| {
        let aside = end > 0 && items[from + end - 1].tag == Tag::Aside;
        items[from + end].tag == Tag::Question && !aside
    })
}

/// The tags a strict negation reaches through.
const fn is_transparent(tag: Tag) -> bool {
    matches!(
        tag,
        Tag::Glue
            | Tag::Plan
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
    /// Whether a negation that has had its predicate reaches this one too: "no cracks or loose screws", "no cracks, dents
    /// or scratches". What merely runs on ("nothing loose my strap broke") is not reached.
    fn reached(&self, at: usize) -> bool {
        let between = &self.items[(self.chained_at + 1).min(at)..at];
        let or = |items: &[Item]| items.iter().any(|item| item.tag == Tag::Or);
        let listed = between.iter().any(|item| item.tag == Tag::Comma)
            && between.iter().all(|item| matches!(item.tag, Tag::Comma | Tag::Used))
            && or(&self.items[at + 1..self.items.len().min(at + 7)]);
        self.chained && (or(between) || listed)
    }

    /// Notes that all is well with what is named at `from`.
    fn well(&mut self, from: usize, at: usize, reach: Reach) {
        self.notes.general.push(at);
        self.notes.goods.push(Good { from: from.min(at), at: from.max(at), reach });
    }

    /// What is told besides begins: what stood before it is over.
    fn aside(&mut self, at: usize) {
        if at > 0 && self.items[at - 1].tag != Tag::Aside {
            self.end_clause(at, true);
        }
        self.clause_start = at + 1;
    }

    fn step(&mut self, at: usize) {
        let tag = self.items[at].tag;
        if at < self.skip_to {
            return;
        }
        self.asking |= self.inverted(at);
        // "Doesnt rock either helmet is cracked": the denial ends there.
        if tag == Tag::Also && self.negation.is_some_and(|neg| neg + 1 < at) && self.begins_anew(at + 1) {
            (self.negation, self.chained) = (None, false);
        }
        // "Strap yes, cage no also no cracks".
        let answered = |neg: usize| neg + 1 == at && self.open.iter().any(|s| s.at < neg && is_specific(s));
        if tag == Tag::Also && self.negation.is_some_and(answered) {
            self.settle_open(at);
        }
        let degree = tag == Tag::So && self.degrees(at);
        let inflected = self.items[at].roles.has(Role::Inflected);
        if !is_transparent(tag) && !inflected && !degree && !resolve::is_predicate(tag) && outright(tag).is_none() {
            self.let_go(at, tag);
        }
        match tag {
            // "I dont have a headache".
            Tag::Gone if self.denies_a_sign(at) => self.negation = Some(at),
            Tag::Period | Tag::Question => self.end_sentence(at),
            Tag::So if self.degrees(at) => {}
            Tag::But | Tag::So => self.end_clause(at, true),
            Tag::Aside => self.aside(at),
            Tag::Sub => {
                self.end_clause(at, true);
                let doubts =
                    if self.items[at].roles.has(Role::When) { &mut self.notes.mild } else { &mut self.notes.doubts };
                doubts.push(at);
            }
            Tag::Comma => self.comma(at),
            Tag::And => self.conjunction(at),
            Tag::Neg | Tag::None | Tag::Nah => self.negative(at, tag),
            Tag::Except => self.exception(at),
            Tag::Only => self.only = Some(at),
            Tag::Need => self.need = Some(at),
            Tag::Soft => {
                self.softened = true;
                if self.chained {
                    self.notes.doubts.push(at);
                }
            }
            Tag::Hedge if self.items[at].roles.has(Role::Supposes) => match self.supposed_until(at) {
                Some(stretch) => self.suppose(stretch),
                None => self.notes.doubts.push(at),
            },
            Tag::Mild | Tag::Hit => self.notes.mild.push(at),
            Tag::Hedge | Tag::Would | Tag::Doubt | Tag::Unknown => {
                self.story |= tag == Tag::Unknown;
                self.notes.doubts.push(at);
            }
            Tag::Ask => self.asking = true,
            Tag::If => match self.supposed_until(at) {
                Some(stretch) => self.suppose(stretch),
                None => (self.supposing, self.supposed) = (true, false),
            },
            Tag::Fix => self.fixed(at),
            Tag::Patch => self.patch(at),
            Tag::Retract => {
                if self.notes.findings.is_empty() && !self.notes.general.is_empty() {
                    self.notes.doubts.push(at);
                }
                self.notes.retracts.push(at);
            }
            Tag::Correct => self.correct(at),
            Tag::Story | Tag::You => self.story = true,
            Tag::Person => {
                self.story = true;
                self.subject(at, tag);
            }
            Tag::Admit => self.admit(at),
            Tag::Vomit => self.vomit(at),
            Tag::Cross | Tag::Yes => self.mark(at, tag),
            // "One yes, two yes".
            Tag::Affirm if self.open.last().is_some_and(|last| last.points == UNWELL_POINT) => {
                self.find(Flag::Unwell, at, false);
                self.open.clear();
            }
            // "Everything checked", "los seis revisados".
            Tag::Checked if self.open.last().is_some_and(|last| last.tag == Tag::All && last.at + 2 >= at) => {
                self.predicate(at, Tag::Good)
            }
            Tag::Checked if self.ticks_off(at) => self.predicate(at, Tag::Good),
            Tag::Checked if self.negation.take().is_some() => self.notes.doubts.push(at),
            Tag::Affirm if self.answers_for_named(at) => self.predicate(at, Tag::Good),
            _ if resolve::is_predicate(tag) => self.predicate(at, tag),
            _ if outright(tag).is_some() => self.said_outright(at, tag),
            _ if tag.is_part() || tag.is_body() => self.subject(at, tag),
            Tag::Helmet | Tag::It | Tag::Other | Tag::Me | Tag::All | Tag::Rest | Tag::Points => self.subject(at, tag),
            _ => {}
        }
    }

    /// Where "if it was loose id tell you" ends, or "ill tell you if it gets loose": nothing of it is so.
    /// With it comes where it begins, which is before the "if" where the promise stands there.
    fn supposed_until(&self, at: usize) -> Option<(usize, usize)> {
        let length = self.items[at..].iter().take(16).take_while(|item| !ends_supposing(item.tag)).count();
        let clause = &self.items[at..at + length];
        let told = clause.iter().position(|item| item.roles.has(Role::Tells)).map(|tells| tells + 1);
        let clause = &clause[..told.unwrap_or(length).min(self.supposed_length(at, length))];
        if clause.iter().any(|item| item.tag == Tag::Unknown || item.roles.has(Role::Persists)) {
            return None;
        }
        if let Some(tells) = told {
            return Some((at, at + tells));
        }
        let mut before =
            self.items[..at].iter().rev().take(6).take_while(|item| !is_boundary(item.tag) || item.tag == Tag::So);
        let promise = before.position(|item| item.roles.has(Role::Tells));
        let clause = clause.iter().take_while(|item| item.tag != Tag::Comma).count();
        promise.map(|back| (at - 1 - back, at + clause))
    }

    /// How far what is supposed reaches, of so many items at most: "ill tell u if somethin breaks my head hurts" supposes one thing.
    fn supposed_length(&self, at: usize, most: usize) -> usize {
        let trouble = |item: &Item| resolve::is_trouble(item.tag) || outright(item.tag).is_some();
        let clause = &self.items[at..at + most];
        let Some(first) = clause.iter().position(trouble) else { return most };
        let anew = |next: &usize| clause[next - 1].tag != Tag::Or && self.begins_anew(at + next);
        (first + 1..most).find(anew).unwrap_or(most)
    }

    /// Whether something new is named there: "my strap", "i", "the mask", or trouble by itself.
    fn begins_anew(&self, at: usize) -> bool {
        let names = |item: &Item| {
            let tag = item.tag;
            item.roles.has(Role::My)
                || tag.is_part()
                || tag.is_body()
                || matches!(tag, Tag::Me | Tag::It | Tag::Helmet | Tag::Points | Tag::And)
                || resolve::is_trouble(tag)
                || outright(tag).is_some()
        };
        let definite = self.items.get(at).is_some_and(|item| item.roles.has(Role::Definite));
        self.items.get(at + usize::from(definite)).is_some_and(names)
    }

    /// Nothing of a stretch is so, nor is it put off.
    fn suppose(&mut self, stretch: (usize, usize)) {
        (self.skip_to, self.voided) = (stretch.1, true);
        self.notes.supposed.push(stretch);
    }

    /// "One yes, two yes", "grip yes, strap yes": the yes is the last word on what is named.
    fn answers_for_named(&self, at: usize) -> bool {
        let named = |last: &Subject| last.tag == Tag::Points || last.tag.is_part();
        let over =
            |next: &Item| matches!(next.tag, Tag::Comma | Tag::Period | Tag::And | Tag::Points) || next.tag.is_part();
        let last = self.items.get(at + 1).is_none_or(over);
        let all = |open: &Subject| open.tag == Tag::All;
        self.open.last().is_some_and(|open| open.tag == Tag::Points || ((named(open) || all(open)) && last))
    }

    /// "Brow check, grip check": ticked off one by one.
    fn ticks_off(&self, at: usize) -> bool {
        let over = |next: &Item| matches!(next.tag, Tag::Comma | Tag::Period | Tag::And) || next.tag.is_part();
        self.negation.is_none()
            && self.open.last().is_some_and(|last| last.tag.is_part() && last.at + 1 == at)
            && self.items.get(at + 1).is_none_or(over)
    }

    fn denies_a_sign(&self, at: usize) -> bool {
        let sign = |item: &Item| outright(item.tag).is_some_and(crate::flag::Flag::is_body);
        self.items[at].roles.has(Role::Denies) && self.items.get(at + 1).is_some_and(sign)
    }

    /// "So loose": how much, not what follows from it.
    fn degrees(&self, at: usize) -> bool {
        self.items
            .get(at + 1)
            .is_some_and(|next| resolve::is_predicate(next.tag) || outright(next.tag).is_some() || next.tag == Tag::Too)
    }

    /// "Is everyone good", "can it be": a question by its word order.
    fn inverted(&self, at: usize) -> bool {
        let next = self.items.get(at + 1);
        self.items[at].roles.has(Role::Inverts)
            && self.items[self.clause_start.min(at)..at].iter().all(|item| matches!(item.tag, Tag::Fill | Tag::Affirm))
            && next.is_some_and(|next| {
                matches!(next.tag, Tag::It | Tag::Helmet | Tag::Me | Tag::Person | Tag::All)
                    || next.tag.is_part()
                    || next.roles.has(Role::Inverted)
            })
    }
}

/// Whether what is supposed ends here.
const fn ends_supposing(tag: Tag) -> bool {
    matches!(tag, Tag::Period | Tag::Question | Tag::But)
}

/// Whether a clause ends here.
const fn is_boundary(tag: Tag) -> bool {
    matches!(tag, Tag::Period | Tag::Question | Tag::Comma | Tag::But | Tag::So | Tag::Sub)
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
