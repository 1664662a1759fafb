//! Where clauses begin and end, what negation and exception reach, and what is left when a clause is over.
//!
//! Invariant: a negation that reaches nothing leaves a doubt, unless it is an opener ("no sir ...").

use super::super::lex::Item;
use super::super::lexicon::Tag;
use super::super::numbers::{SIX, UNWELL_POINT};
use super::super::resolve::{self, Outcome, denied};
use super::super::roles::Role;
use super::super::support::{self, Good, Reach};
use super::{Finding, Scan, Subject, asks, is_specific, point_flags};
use crate::flag::Flag;

/// How far to look along a clause: longer ones are not answers, and the time must not grow with the square.
const WINDOW: usize = 40;

impl Scan<'_> {
    /// A word that stops a negation's reach: an opener ("no sir ...") is let go, any other leaves a doubt.
    pub(super) fn let_go(&mut self, at: usize, tag: Tag) {
        // What trails off ends like the reply itself.
        if tag == Tag::Or || at >= self.trailing || (tag == Tag::Comma && self.lists_on(at)) {
            return;
        }
        self.chained = false;
        let Some(neg) = self.negation else { return };
        let emphasis = matches!(tag, Tag::Fill | Tag::Affirm) && neg + 1 == at;
        if emphasis && self.open.iter().any(|s| s.at < neg && is_specific(s)) {
            // "La mask no, coach": what follows says nothing.
            return self.settle_open(at);
        }
        if self.open.iter().any(|s| s.at > neg && (s.tag.is_part() || s.tag == Tag::Points)) {
            if matches!(tag, Tag::Fill | Tag::Affirm | Tag::Checked | Tag::Story | Tag::You | Tag::Person) {
                self.settle_open(at);
            }
            return;
        }
        let opener = self.is_opener(neg);
        let ends = matches!(tag, Tag::Period | Tag::Question | Tag::But | Tag::So | Tag::Comma | Tag::And);
        if ends && !opener {
            return;
        }
        if !opener {
            self.bare_denial(neg, Some(tag));
            // "Didnt check it": good news after that is a guess.
            if tag == Tag::Checked {
                self.notes.doubts.push(at);
            }
        }
        if opener
            || matches!(
                tag,
                Tag::Fill | Tag::Affirm | Tag::Checked | Tag::Story | Tag::You | Tag::Unknown | Tag::Person
            )
        {
            self.negation = None;
        }
    }

    /// "No cracks, dents or loose screws": one trouble after another, and an "or" before the last.
    fn lists_on(&self, at: usize) -> bool {
        let listed = |item: &Item| {
            resolve::is_trouble(item.tag)
                || item.tag.is_part()
                || matches!(item.tag, Tag::Comma | Tag::Or | Tag::Glue | Tag::Used)
        };
        let list = self.items[at + 1..].iter().take(8);
        self.chained
            && self.items.get(at + 1).is_some_and(|next| resolve::is_trouble(next.tag) || next.tag == Tag::Or)
            && list.take_while(|item| listed(item)).any(|item| item.tag == Tag::Or)
    }

    /// A denial that reaches nothing is a doubt, unless it takes back what was supposed ("i thought it was loose, it
    /// wasnt"); what somebody did not do is a small one ("my dad didnt believe me").
    fn bare_denial(&mut self, neg: usize, reaches: Option<Tag>) {
        if self.takes_back_what_was_supposed(neg) {
            return;
        }
        let act = matches!(reaches, Some(Tag::Story | Tag::Person | Tag::You | Tag::Mild | Tag::Other));
        if act && self.items[neg].tag == Tag::Neg && !self.open.iter().any(is_specific) {
            self.notes.mild.push(neg);
        } else {
            self.notes.doubts.push(neg);
        }
    }

    fn takes_back_what_was_supposed(&self, neg: usize) -> bool {
        let supposes = |item: &Item| item.roles.has(Role::Supposed) || item.roles.has(Role::Reported);
        let told = self.notes.findings.last().is_some_and(|last| last.at < neg);
        self.voided || (told && self.items[..neg].iter().rev().take(WINDOW).any(supposes))
    }

    pub(super) fn is_opener(&self, neg: usize) -> bool {
        self.items[neg].roles.has(Role::Opens)
            && neg - self.clause_start.min(neg) < WINDOW
            && self.items[self.clause_start.min(neg)..neg]
                .iter()
                .all(|item| matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Used | Tag::Comma | Tag::Neg | Tag::Nah))
    }

    pub(super) fn negative(&mut self, at: usize, tag: Tag) {
        let next = self.items.get(at + 1).map(|item| item.tag);
        let again = self.items[at + 1..].iter().take(3).find(|item| item.tag != Tag::Glue);
        if again.is_some_and(|item| item.tag == Tag::None || item.roles.has(Role::DeniesAgain))
            && tag == Tag::Neg
            && !self.items[at].roles.has(Role::DeniesAgain)
        {
            // "Aint got no", "dont have nothing": one denial said twice.
            return;
        }
        if tag == Tag::Nah && self.is_opener(at) {
            return;
        }
        // "No we are good".
        let answers = |next: &Item| next.tag == Tag::Good && matches!(next.opens, Some(Tag::Me | Tag::It));
        if self.is_opener(at) && self.items.get(at + 1).is_some_and(answers) {
            return;
        }
        if self.is_opener(at)
            && matches!(next, Some(Tag::Me | Tag::It | Tag::Comma | Tag::Fill | Tag::Affirm | Tag::Neg | Tag::Person))
            && !self.items[at + 1].roles.has(Role::Inflected)
            && self.open.is_empty()
        {
            return;
        }
        let says_more = self.items[at + 1..]
            .iter()
            .find(|item| item.tag != Tag::Glue)
            .is_some_and(|i| resolve::is_predicate(i.tag) || resolve::outright(i.tag).is_some());
        if tag == Tag::None && (self.negation.is_some() || (self.chained && !says_more)) {
            return;
        }
        if self.negation.is_some() && !self.open.is_empty() {
            self.settle_open(at);
        }
        self.negation = Some(at);
    }

    pub(super) fn comma(&mut self, at: usize) {
        self.supposing &= !self.supposed;
        // "My glove broke and my strap too, ...".
        let too = |subject: &Subject| {
            subject.tag.is_part() && self.items.get(subject.at + 1).is_some_and(|next| next.tag == Tag::Also)
        };
        let too = !self.notes.findings.is_empty() && self.open.iter().any(too);
        if too || (self.open.iter().any(|subject| subject.tag.is_part()) && self.is_excepted(at)) {
            for subject in std::mem::take(&mut self.open) {
                self.flag_subject(subject, at);
            }
        }
        if self.negation.is_some() {
            self.end_clause(at, false);
        }
    }

    pub(super) fn conjunction(&mut self, at: usize) {
        self.supposing &= !self.supposed;
        if self.negation.is_some() {
            self.end_clause(at, false);
        }
    }

    pub(super) fn subject(&mut self, at: usize, tag: Tag) {
        let subject = Subject { tag, points: self.items[at].points, at };
        let well = |item: &Item| item.tag == Tag::Checked || resolve::is_reassuring(item.tag);
        let bare = !self.items[self.clause_start.min(at)..at].iter().rev().take(WINDOW).any(well);
        if tag == Tag::Rest && self.negation.is_none() && bare {
            // "5 and 6 the rest are good": what stands before "the rest" is what it is set against.
            let (named, others) = std::mem::take(&mut self.open).into_iter().partition(is_specific);
            self.open = others;
            let named: Vec<Subject> = named;
            for subject in named {
                self.flag_subject(subject, at);
            }
        }
        if tag == Tag::Points && self.correcting.take().is_some() {
            self.take_back();
        }
        // "No screw loose, it sits low": a new subject is not reached by a negation that has had its predicate.
        let goes_on = at.checked_sub(1).is_some_and(|before| self.items[before].tag == Tag::Or);
        self.chained &= goes_on;
        let specific = tag.is_part() || tag == Tag::Points;
        if specific && let Some(neg) = self.negation {
            self.open.retain(|s| s.at > neg || is_specific(s));
            if self.open.iter().any(|s| s.at < neg) {
                self.settle_open(at);
            }
        }
        if self.except.is_some() && specific {
            if self.all_bad {
                self.spare(subject, at);
            } else {
                self.flag_subject(subject, at);
            }
            self.last = vec![subject];
            return;
        }
        // "Need somebody to look at 3 and 5", but not "need 2 more".
        let whom = |item: &Item| matches!(item.tag, Tag::Person | Tag::You | Tag::Checked | Tag::Fix);
        let named = tag.is_part()
            || (tag == Tag::Points && self.need.is_some_and(|need| self.items[need..at].iter().take(WINDOW).any(whom)));
        if self.need.is_some() && named && !self.asking {
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
        if !self.open.iter().any(|s| s.tag == tag && s.points == subject.points) {
            self.open.push(subject);
        }
    }

    /// "All bad but 1": the others are off.
    fn spare(&mut self, subject: Subject, at: usize) {
        let fine = subject.points | super::bit_of(subject.tag);
        let others = |finding: &&mut Finding| finding.numbers && finding.at + 8 > at;
        match self.notes.findings.last_mut().filter(others) {
            Some(others) => others.flags = others.flags.minus(point_flags(fine)),
            None => {
                let flags = point_flags(SIX & !fine);
                self.notes.findings.push(Finding { flags, at, red: false, numbers: true, either: false });
            }
        }
    }

    /// The open subjects had a bare "not": "5 ok 4 not", "la mask no"; or it was "no strap".
    pub(super) fn settle_open(&mut self, at: usize) {
        let Some(neg) = self.negation.take() else { return };
        let open = std::mem::take(&mut self.open);
        if open.is_empty() && self.is_the_answer(neg) {
            return self.well(neg, neg, Reach::Whole);
        }
        if open.is_empty() {
            let answer = self.is_opener(neg) && self.items.get(at).is_some_and(|item| item.tag == Tag::Comma);
            if !answer {
                self.bare_denial(neg, None);
            }
        }
        for subject in open {
            if subject.at < neg {
                self.elliptical(subject, neg, at);
            } else if (subject.tag.is_part() && self.contrasts(neg))
                || (subject.tag == Tag::Points && self.is_set_against_good(neg, subject.at))
            {
                self.flag_subject(subject, neg);
            } else if subject.tag == Tag::Points {
                self.notes.fine |= subject.points;
            } else if !self.items[neg].roles.has(Role::Lacks) {
                // "Zero grip", "no contact on either cheek".
                if subject.tag.is_part() {
                    self.notes.denied_goods.push(neg);
                }
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

    /// "All six good wait not 2", "2 is ok but not 1", "no pasan ni el 2 ni el 5", "ni el 2 ni el 6 pasan": a number denied after good news, or
    /// denied good news of.
    fn is_set_against_good(&self, neg: usize, at: usize) -> bool {
        let good = |item: &Item| resolve::is_reassuring(item.tag);
        let quiet = |item: &&Item| {
            matches!(item.tag, Tag::Neg | Tag::None | Tag::Points | Tag::Glue | Tag::Used | Tag::And | Tag::Or)
        };
        let next = self.items[at..].iter().take(WINDOW).find(|item| !quiet(item));
        !self.notes.general.is_empty()
            || self.items[..neg].iter().rev().take(WINDOW).any(good)
            || next.is_some_and(|item| good(item) && item.tag != Tag::Ok && !item.several)
    }

    /// "None", "nothing coach": the whole reply, to the question which numbers are off.
    fn is_the_answer(&self, neg: usize) -> bool {
        let rest = |(at, item): (usize, &Item)| {
            at == neg || matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Nah | Tag::Period | Tag::Comma | Tag::Glue)
        };
        self.items[neg].tag == Tag::None && self.items.len() <= 5 && self.items.iter().enumerate().all(rest)
    }

    /// "5 not", "la mask no", "helmet good, head not", "helmet fine but i'm not".
    pub(super) fn elliptical(&mut self, subject: Subject, neg: usize, at: usize) {
        let after = &self.items[(neg + 1).min(at)..at.min(self.items.len())];
        let ends = after.iter().filter(|item| !trails(item)).count() <= 1;
        match subject.tag {
            // "My truck broke down, the helmet didnt".
            Tag::Helmet | Tag::It if self.elsewhere => {}
            // "7 no": the seventh asks whether something does not feel right.
            Tag::Points if subject.points == UNWELL_POINT => {}
            Tag::Me if ends && !self.notes.general.is_empty() => self.find(Flag::Unwell, neg, false),
            tag if tag.is_body() && ends => {
                if let Outcome::Off(flags) = denied(Tag::Good, Some(tag)) {
                    self.notes.findings.push(Finding { flags, at: neg, red: false, numbers: false, either: false });
                } else {
                    self.notes.doubts.push(neg);
                }
            }
            // "1 and 2 good, rest no".
            Tag::Rest if self.notes.fine & SIX != 0 => {
                let flags = point_flags(SIX & !self.notes.fine);
                self.notes.findings.push(Finding { flags, at: neg, red: false, numbers: true, either: false });
            }
            _ => self.flag_subject(subject, neg),
        }
    }

    /// "Ok but not the mask": the "not" opens a clause set against good news.
    pub(super) fn contrasts(&self, neg: usize) -> bool {
        self.clause_start > 0
            && matches!(self.items[self.clause_start - 1].tag, Tag::But | Tag::So)
            && self.clause_start == neg
            && !self.notes.general.is_empty()
    }

    pub(super) fn exception(&mut self, at: usize) {
        self.settle_open(at);
        // "Fail all but the 2".
        let bad = at.checked_sub(1).is_some_and(|before| self.items[before].tag == Tag::Bad);
        self.all_bad |= bad && self.items[at].roles.has(Role::Everything);
        self.except = Some(at);
        self.notes.doubts.push(at);
    }

    pub(super) fn correct(&mut self, at: usize) {
        let also = self.items[at..].iter().take(6).any(|item| item.tag == Tag::Also);
        if !also {
            self.end_clause(at, true);
            self.correcting = Some(at);
        }
    }

    /// Takes back the points named last.
    pub(super) fn take_back(&mut self) {
        while self.notes.findings.last().is_some_and(|finding| finding.numbers) {
            self.notes.findings.pop();
        }
    }

    /// Ends a clause: open subjects are settled; the sentence's subjects may be taken up again.
    pub(super) fn end_clause(&mut self, at: usize, hard: bool) {
        self.settle_open(at);
        if hard {
            self.close(at);
        }
    }

    pub(super) fn close(&mut self, at: usize) {
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
    pub(super) fn cut_off(&mut self, at: usize) {
        let Some(but) = self.clause_start.checked_sub(1).filter(|i| matches!(self.items[*i].tag, Tag::But | Tag::So))
        else {
            return;
        };
        let trails = self.items[but].roles.has(Role::Trails);
        let mut rest =
            self.items[self.clause_start.min(at)..].iter().take_while(|item| item.tag != Tag::Period).take(WINDOW);
        if !trails
            && rest.all(|item| matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Glue | Tag::Used | Tag::But | Tag::So))
        {
            self.notes.doubts.push(but);
        }
    }

    /// A subject with nothing said of it.
    pub(super) fn left_over(&mut self, subject: Subject, at: usize) {
        if self.supposing {
            return;
        }
        if self.asking && (subject.tag == Tag::Points || subject.tag.is_part()) {
            self.notes.doubts.push(subject.at);
        } else if subject.points & SIX == SIX && self.is_summed_up() {
            self.well(subject.at, subject.at, Reach::Named);
        } else if subject.tag == Tag::Points {
            let taken_back = self.items[subject.at..].iter().take(WINDOW).any(|item| item.tag == Tag::Retract);
            if self.tells_of_else(subject, at) && !taken_back && !self.adds_to_numbers(subject, at) {
                self.notes.doubts.push(subject.at);
            } else if self.all_bad && self.follows_but() {
                self.spare(subject, subject.at);
            } else {
                self.flag_subject(subject, at);
            }
        } else if matches!(subject.tag, Tag::Rest | Tag::Helmet) && self.is_so_too(at) {
            self.well(subject.at, subject.at, Reach::Whole);
        } else if subject.tag == Tag::All
            && (self.says_yes(subject)
                || self.is_the_last_word(subject)
                || (self.is_summed_up() && (self.notes.parts > 0 || self.notes.fine != 0)))
        {
            self.well(subject.at, subject.at, Reach::Named);
        } else if subject.tag.is_part() {
            let clause = &self.items[self.clause_start.min(at)..at];
            let too = clause.iter().any(|item| item.tag == Tag::Also) && !self.notes.findings.is_empty() && !self.story;
            let alone = subject.tag != Tag::Pad && self.only.is_some_and(|only| only < subject.at) && !self.story;
            if too || alone || self.is_excepted(at) {
                self.flag_subject(subject, at);
            } else {
                self.notes.bare.push((subject.at, subject.tag));
            }
        } else if subject.tag.is_body() || (matches!(subject.tag, Tag::Helmet | Tag::It) && self.follows_but()) {
            self.notes.doubts.push(subject.at);
        }
    }

    /// "Nothing loose but my mask": a part, and nothing more, after a denial and a "but".
    fn is_excepted(&self, at: usize) -> bool {
        let clause = &self.items[self.clause_start.min(at)..at];
        let quiet = |item: &Item| item.tag.is_part() || matches!(item.tag, Tag::Glue | Tag::Fill | Tag::And);
        // "Nothing to report but the strap".
        let denies = |good: &Good| matches!(self.items[good.from].opens, Some(Tag::Neg | Tag::None));
        self.follows_but()
            && (self.notes.denies || self.notes.goods.iter().any(denies))
            && clause.len() < WINDOW
            && clause.iter().all(quiet)
    }

    /// "Yes, all six", "checked, all 6": a yes and the count are an answer.
    fn says_yes(&self, subject: Subject) -> bool {
        let says = |item: &Item| matches!(item.tag, Tag::Affirm | Tag::Checked);
        let has = |tag: Tag| self.items.iter().take(WINDOW).any(|item| item.tag == tag);
        (self.reach_of(subject) == Reach::Named && self.items.iter().take(WINDOW).any(says))
            || (has(Tag::Affirm) && has(Tag::Checked))
    }

    /// "The paint job goes hard, all six": the count by itself at the end.
    fn is_the_last_word(&self, subject: Subject) -> bool {
        let apart = subject
            .at
            .checked_sub(1)
            .is_none_or(|before| matches!(self.items[before].tag, Tag::Comma | Tag::Period | Tag::But | Tag::Affirm));
        self.reach_of(subject) == Reach::Named
            && apart
            && self.notes.findings.is_empty()
            && self.items[subject.at + 1..].iter().all(trails)
    }

    /// "Pads are firm, all of em": said of some and then of all.
    fn is_summed_up(&self) -> bool {
        self.notes.praised && self.notes.findings.is_empty() && self.notes.doubts.is_empty()
    }

    /// "Strap good, the rest too".
    fn is_so_too(&self, at: usize) -> bool {
        let start = self.clause_start.min(at);
        let praised = self.notes.praised && self.notes.findings.is_empty();
        praised && self.items[start..at].iter().any(|item| item.tag == Tag::Also)
    }

    /// Whether a number in this clause may belong to a story: something else is told before it or right after it.
    fn tells_of_else(&self, subject: Subject, at: usize) -> bool {
        // "2 3 4 smh", "5 and 2 he says".
        let joins = |item: &&Item| matches!(item.tag, Tag::And | Tag::Comma | Tag::Used);
        if self.items[..subject.at].iter().rev().find(|item| !joins(item)).is_some_and(|item| item.tag == Tag::Points) {
            return false;
        }
        let start = self.clause_start.min(subject.at);
        let before = self.items[start..subject.at].iter().any(|item| support::tells_of_else(item.tag));
        let after = self.items[(subject.at + 1).min(at)..at].iter().find(|item| item.tag != Tag::Used);
        before || after.is_some_and(|item| support::tells_of_else(item.tag))
    }

    /// "5. hold on he says 6 also", "just 1, hold up add 4".
    fn adds_to_numbers(&self, subject: Subject, at: usize) -> bool {
        let clause = &self.items[self.clause_start.min(subject.at)..at];
        let also = clause.iter().take(WINDOW).any(|item| item.tag == Tag::Also);
        also && self.notes.findings.last().is_some_and(|finding| finding.numbers && finding.at < subject.at)
    }

    pub(super) fn follows_but(&self) -> bool {
        self.clause_start.checked_sub(1).is_some_and(|i| matches!(self.items[i].tag, Tag::But | Tag::So))
    }

    pub(super) fn end_sentence(&mut self, at: usize) {
        self.settle_open(at);
        if let Some(neg) = self.negation.take() {
            self.bare_denial(neg, None);
        }
        self.close(at);
        self.last.clear();
        if self.asking {
            self.notes.doubts.push(at.min(self.items.len().saturating_sub(1)));
        }
        let asked = self.notes.present.tags.has(Tag::Question);
        self.asking = asked && self.items.get(at + 1..).is_some_and(|_| asks(self.items, at + 1));
    }
}

/// What may trail off after what is said: a sign, a "lol".
pub(super) fn trails(item: &Item) -> bool {
    item.tag == Tag::Fill || (item.tag == Tag::Mild && !item.word.starts_with(char::is_alphanumeric))
}
