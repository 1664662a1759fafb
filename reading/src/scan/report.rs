//! Flags said outright, repairs, marks and signs of illness: what needs no predicate.
//!
//! Invariant: a sign of concussion is noted whether it is there now, went away or is granted while denied.

use super::super::lex::Item;
use super::super::lexicon::Tag;
use super::super::resolve::{outright, part_flag};
use super::super::roles::Role;
use super::super::support::Reach;
use super::{Finding, Scan, Subject, is_boundary, point_flags};
use crate::flag::Flag;

/// What a sentence may be about.
const fn is_subject(tag: Tag) -> bool {
    tag.is_part()
        || tag.is_body()
        || matches!(
            tag,
            Tag::Helmet | Tag::It | Tag::Me | Tag::Other | Tag::All | Tag::Person | Tag::Name | Tag::Points
        )
}

impl Scan<'_> {
    pub(super) fn fixed(&mut self, at: usize) {
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
    pub(super) fn patch(&mut self, at: usize) {
        self.notes.patched = true;
        self.negation = None;
        self.notes.doubts.push(at);
        for subject in self.targets(at, Tag::Broken) {
            self.flag_subject(subject, at);
        }
        self.open.clear();
    }

    /// ✅ and ❌ by position when there are six or seven of them; else they speak for what stands before them.
    pub(super) fn mark(&mut self, at: usize, tag: Tag) {
        let is_mark = |item: &&Item| matches!(item.tag, Tag::Cross | Tag::Yes);
        let row = self.items[at..].iter().take(8).take_while(is_mark).count();
        if at > 0 && is_mark(&&self.items[at - 1]) && self.skip_to > at {
            return;
        }
        if row == 6 || row == 7 {
            let off: u8 = (0..row).filter(|n| self.items[at + n].tag == Tag::Cross).map(|n| 1 << n).sum();
            self.skip_to = at + row;
            if off == 0 {
                self.well(at, at, Reach::Named);
            } else {
                self.flag_subject(Subject { tag: Tag::Points, points: off, at }, at);
            }
            return;
        }
        let as_said = if tag == Tag::Yes { Tag::Good } else { Tag::Bad };
        self.predicate(at, as_said);
    }

    pub(super) fn said_outright(&mut self, at: usize, tag: Tag) {
        let Some(flag) = outright(tag) else { return };
        let own = self.items[at].roles.has(Role::Denies);
        // "No, my head hurts": what has a subject of its own is not what the word before denies.
        let answers = self.negation.is_none_or(|neg| self.items[neg].roles.has(Role::Opens));
        let inflected = self.items[at].roles.has(Role::Inflected);
        let whole = answers && !inflected && self.items[at].was.is_some_and(is_subject);
        // "No cracks ni nada veo todo borroso".
        let closed = |neg: usize| {
            let neither = self.items[neg].opens == Some(Tag::Neg)
                || neg.checked_sub(1).is_some_and(|before| self.items[before].tag == Tag::Neg);
            flag.is_body() && self.items[neg].tag == Tag::None && neither && !self.notes.goods.is_empty()
        };
        let anew = self.negation.is_some_and(|neg| neg < at && (self.names_anew(neg, at) || closed(neg)));
        let denied = (self.negation.is_some() || self.reached(at)) && !own && !whole && !anew;
        let body = flag.is_body();
        let mut clause = self.items[at..].iter().take(6).take_while(|item| !is_boundary(item.tag));
        let resolved =
            self.soft_before(at) || clause.any(|item| item.tag == Tag::Anymore || item.roles.has(Role::NoLonger));
        let degree = denied && self.denies_a_degree(self.negation, at, body);
        let still_counts = degree || (flag == Flag::Symptom && resolved);
        if denied && self.items[at].guessed {
            self.notes.doubts.push(at);
        }
        if denied && !still_counts {
            self.notes.denies = true;
            if flag == Flag::Symptom {
                self.notes.denied_signs.push(at);
            }
            if resolved && flag != Flag::Symptom && self.softened {
                self.notes.doubts.push(at);
            } else {
                self.well(at, at, Reach::Whole);
            }
            self.negation = None;
            self.chained = true;
            self.chained_at = at;
            return;
        }
        self.negation = None;
        let gear = |s: &Subject| s.tag == Tag::Helmet || s.tag.is_part() || s.tag == Tag::Pad;
        if flag == Flag::Unwell && self.open.iter().any(|s| s.tag == Tag::Points) {
            // "2 and 3 feel off".
            for subject in std::mem::take(&mut self.open) {
                self.flag_subject(subject, at);
            }
            return;
        }
        if flag == Flag::Unwell && self.open.iter().any(gear) {
            // "My helmet feels weird".
            self.notes.doubts.push(at);
            self.open.clear();
            return;
        }
        if body {
            let (points, others) = std::mem::take(&mut self.open).into_iter().partition(|s| s.tag == Tag::Points);
            let points: Vec<Subject> = points;
            self.open = others;
            for subject in points {
                self.left_over(subject, at);
            }
        }
        if self.supposing && !body {
            self.notes.doubts.push(at);
            return;
        }
        if self.asking && !body && matches!(tag, Tag::LooseOff | Tag::TightOff | Tag::Pain) {
            self.notes.doubts.push(at);
            return;
        }
        let flag = if flag == Flag::Unwell && self.struck { Flag::Symptom } else { flag };
        self.find(flag, at, tag == Tag::RedFlag);
        self.last = std::mem::take(&mut self.open);
    }

    /// "My head doesn't hurt. Ok it does a little."
    pub(super) fn admit(&mut self, at: usize) {
        if self.items[at].roles.has(Role::WasSo) && self.notes.denied_signs.is_empty() {
            return;
        }
        self.notes.doubts.push(at);
        if !self.notes.denied_signs.is_empty() {
            self.find(Flag::Symptom, at, false);
        }
    }

    /// Vomiting is an illness; after a blow it is a sign of concussion, again and again a red flag.
    pub(super) fn vomit(&mut self, at: usize) {
        if self.negation.take().is_some() {
            self.well(at, at, Reach::Whole);
            return;
        }
        let (struck, repeated) = (self.struck, self.repeated);
        self.find(Flag::Illness, at, false);
        if struck || repeated {
            self.find(Flag::Symptom, at, repeated);
        }
    }

    /// Whether the negation is "not really", "ya no", "wouldn't call it": a denial that grants something.
    pub(super) fn soft_before(&self, at: usize) -> bool {
        let from = self.negation.unwrap_or(at);
        self.softened
            || self.items[from..=at].iter().any(|item| item.tag == Tag::Soft)
            || self.items[from].roles.has(Role::NoLonger)
    }

    /// Whether the denial says how much: "not that dizzy", "my head doesn't hurt much"; of a sign, and of how somebody is,
    /// "not too" counts as well.
    pub(super) fn denies_a_degree(&self, neg: Option<usize>, at: usize, body: bool) -> bool {
        let from = neg.unwrap_or(at);
        let degree = |item: &Item| item.roles.has(Role::Degree) || (body && item.roles.has(Role::Excess));
        // What a rule took stands behind its first word.
        let near = &self.items[at + 1..self.items.len().min(at + 5)];
        let whole = at + 1 + near.iter().rposition(|item| item.tag == Tag::Used).map_or(0, |last| last + 1);
        let length = self.items[whole..].iter().take(3).take_while(|item| !is_boundary(item.tag)).count();
        let after = &self.items[whole..whole + length];
        // "Not cracked too bad".
        let too_bad = after.windows(2).any(|two| two[0].roles.has(Role::Excess) && two[1].tag == Tag::Bad);
        self.items[from..whole].iter().any(degree)
            || self.items[at].roles.has(Role::Amount)
            || after.iter().any(|item| item.roles.has(Role::Amount))
            || too_bad
    }

    pub(super) fn find(&mut self, flag: Flag, at: usize, red: bool) {
        let flags = [flag].into_iter().collect();
        // A rule keeps the first word of what it takes; the others are used up.
        let rest = self.items[at + 1..].iter().take_while(|item| item.tag == Tag::Used);
        let said = outright(self.items[at].tag).is_some_and(|flag| !flag.is_body());
        let either = self.items[at].roles.has(Role::Either)
            || (!said && rest.into_iter().any(|item| item.roles.has(Role::Either)));
        self.notes.findings.push(Finding { flags, at, red, numbers: false, either });
    }

    pub(super) fn flag_subject(&mut self, subject: Subject, at: usize) {
        if subject.tag == Tag::Points {
            let flags = point_flags(subject.points);
            self.notes.findings.push(Finding { flags, at: subject.at, red: false, numbers: true, either: false });
        } else if let Some(flag) = part_flag(subject.tag) {
            self.find(flag, subject.at, false);
        } else if subject.tag == Tag::Pad {
            self.find(Flag::Cheeks, subject.at, false);
        } else {
            self.notes.doubts.push(at);
        }
    }
}
