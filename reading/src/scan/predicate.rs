//! Which subjects a predicate belongs to, and what the two come to.
//!
//! The tables are in `resolve`; here is the grammar around them.

use super::super::lex::Item;
use super::super::lexicon::Tag;
use super::super::numbers::SIX;
use super::super::resolve::{self, Outcome, affirmed, denied, outright};
use super::super::roles::{Role, Roles};
use super::super::support::Reach;
use super::{Finding, Scan, Subject, bit_of, is_specific, point_flags};
use crate::flag::{Flag, Flags};

impl Scan<'_> {
    pub(super) fn predicate(&mut self, at: usize, tag: Tag) {
        if self.only_describes(at, tag) {
            return;
        }
        if self.inverts(at, tag) {
            return;
        }
        if self.cheers(at) {
            return;
        }
        if self.is_quoted(at) || self.is_part_of_six(at) {
            self.notes.denied_goods.push(at);
            self.notes.doubts.push(at);
        }
        // "No hay nada roto": denied twice is denied once.
        let negation =
            self.negation.take().filter(|neg| !self.denies_by_itself(at, tag) && !self.answers_first(*neg, at, tag));
        let negation = negation.filter(|neg| !self.names_anew(*neg, at));
        self.denier = negation;
        if negation.is_some() && self.items[at].guessed {
            self.notes.doubts.push(at);
        }
        let negated = negation.is_some() || (resolve::is_trouble(tag) && self.reached(at));
        let targets = self.targets(at, tag);
        self.open.clear();
        if self.supposing {
            // "If anything comes loose" supposes; "if something, my strap is broken" may not.
            let or = at.checked_sub(1).is_some_and(|before| self.items[before].tag == Tag::Or);
            let named = targets.iter().any(|s| !matches!(s.tag, Tag::It | Tag::All | Tag::Me));
            if resolve::is_trouble(tag) && (named || (self.supposed && !or)) {
                self.notes.doubts.push(at);
            }
            self.supposed = true;
            return;
        }
        if self.asking && !matches!(tag, Tag::Broken | Tag::Crack | Tag::Hurt | Tag::Gone | Tag::Flat) {
            self.notes.doubts.push(at);
            return;
        }
        if targets.is_empty() {
            self.outcome(at, tag, None, negated);
        }
        let fine_before = self.notes.fine;
        for &subject in &targets {
            self.outcome(at, tag, Some(subject), negated);
        }
        self.others_are_off(at, &targets, fine_before);
        self.chained = negated && resolve::is_trouble(tag);
        self.chained_at = self.skip_to.saturating_sub(1).max(at);
        if targets.iter().any(|s| s.tag.is_part() || s.tag == Tag::Points) {
            self.last = targets;
        }
    }

    /// "Cinco de six good": so many of six.
    fn is_part_of_six(&self, at: usize) -> bool {
        let before = at.checked_sub(1).map(|before| &self.items[before]);
        self.items[at].roles.has(Role::CountsSix) && before.is_some_and(|item| item.roles.has(Role::OutOf))
    }

    /// `its "good"`: a word in quotes is not meant.
    fn is_quoted(&self, at: usize) -> bool {
        let quote = |item: Option<&Item<'_>>| item.is_some_and(Item::is_quote);
        quote(at.checked_sub(1).and_then(|before| self.items.get(before))) && quote(self.items.get(at + 1))
    }

    /// "1-6 good, just 7 👍": a sign that says nothing of the number that "just" picks out.
    fn cheers(&mut self, at: usize) -> bool {
        let sign = !self.items[at].word.starts_with(char::is_alphanumeric);
        let picked = self.open.last().copied().filter(|last| last.tag == Tag::Points && last.at < at);
        let just = picked.filter(|last| self.only.is_some_and(|only| only < last.at && last.at - only <= 2));
        let Some(subject) = just.filter(|_| sign) else { return false };
        self.open.clear();
        self.flag_subject(subject, at);
        true
    }

    /// "A small crack", "a nasty cold": the adjective belongs to the trouble named next.
    pub(super) fn only_describes(&self, at: usize, tag: Tag) -> bool {
        let next = self.items.get(at + 1).map(|item| item.tag);
        let of_another = matches!(next, Some(Tag::Mild | Tag::Other | Tag::Head | Tag::Limb | Tag::Doubt));
        if self.items[at].roles.has(Role::Large) && of_another {
            return true;
        }
        self.negation.is_none()
            && matches!(tag, Tag::Bad | Tag::Loose | Tag::TooTight)
            && next.is_some_and(|next| {
                matches!(next, Tag::Crack | Tag::Vomit) || outright(next).is_some_and(Flag::is_body)
            })
    }

    /// "Everything but 1 and 2 is bad": the exception is what is fine.
    pub(super) fn inverts(&mut self, at: usize, tag: Tag) -> bool {
        let Some(except) = self.except.filter(|_| tag == Tag::Bad && self.negation.is_none()) else { return false };
        // "All good but 5 bad" says which is bad.
        let says_good = self.items[except]
            .word
            .split(' ')
            .any(|word| self.lexicon.single(word).is_some_and(|entry| resolve::is_reassuring(entry.tag)));
        if says_good || !self.items[except].roles.has(Role::Everything) || !self.open.is_empty() {
            return false;
        }
        let named = self.notes.findings.iter().filter(|f| f.at > except).fold(Flags::NONE, |all, f| all.union(f.flags));
        self.notes.findings.retain(|finding| finding.at < except);
        let flags = point_flags(SIX).minus(named);
        self.notes.findings.push(Finding { flags, at, red: false, numbers: true, either: false });
        true
    }

    /// The subjects a predicate belongs to.
    pub(super) fn targets(&mut self, at: usize, tag: Tag) -> Vec<Subject> {
        let roles = self.items[at].roles;
        let about_all = self.is_about_all(at) || roles.has(Role::CountsSix);
        let general = roles.has(Role::General) && self.open.iter().any(is_specific);
        let of_all = (about_all || general) && resolve::is_reassuring(tag);
        if of_all || self.is_score(at) || (self.open.is_empty() && self.denies_all()) {
            // "6, all good": a number is never dropped, unless all six stand there in a row.
            let all = self.counts_up_to(at);
            let lone = |s: &&Subject| s.tag == Tag::Points && !(all || s.points & SIX == SIX);
            let left: Vec<usize> =
                self.open.iter().filter(|s| lone(s) || self.is_told_of(s, at)).map(|s| s.at).collect();
            self.notes.doubts.extend(left);
            self.open.clear();
            return Vec::new();
        }
        self.let_numbers_stand(at, tag);
        let specific = is_specific;
        if self.open.iter().all(|s| s.tag == Tag::Other) && resolve::is_trouble(tag) {
            let found = self.after(at, tag);
            if !found.is_empty() {
                return found;
            }
        }
        // "Brow two fingers, skin moves".
        if tag == Tag::Move && self.open.iter().any(|s| s.tag == Tag::Forehead) {
            self.leave_the_others_bare(Tag::Forehead);
        }
        if self.open.iter().any(specific) {
            let mut open = std::mem::take(&mut self.open);
            // "7 all good", "brow and strap all good": said of what is named, not of everything.
            let named = |s: &Subject| (s.tag.is_part() && s.tag != Tag::Pad) || s.tag == Tag::Points;
            let mended =
                resolve::is_reassuring(tag) && self.notes.fixes.last().is_some_and(|fix| *fix >= self.clause_start);
            let everything = open.iter().any(|s| s.tag == Tag::All);
            if everything && open.iter().any(named) {
                let last = open.iter().filter(|s| named(s)).map(|s| s.at).max().unwrap_or(0);
                // "5 6 thx yup everything passed": the numbers stand by themselves.
                let apart = |item: &Item<'_>| matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Checked);
                let all: Vec<&Subject> = open.iter().filter(|s| named(s)).collect();
                let numbers = all.len() > 1 && all.iter().all(|s| s.tag == Tag::Points);
                if numbers && resolve::is_reassuring(tag) && self.items[last..at].iter().any(apart) {
                    self.notes.doubts.extend(all.iter().map(|s| s.at));
                    return Vec::new();
                }
                let anew = resolve::is_reassuring(tag)
                    && (self.items[last..at].iter().any(|item| item.tag == Tag::Anymore)
                        || open.iter().filter(|s| named(s)).count() > 2);
                open.retain(|s| if mended || anew { !named(s) } else { s.tag != Tag::All });
                if mended || anew {
                    return open;
                }
            }
            self.doubt_points_before_the_helmet(&open, tag);
            if open.iter().any(|s| matches!(s.tag, Tag::Points)) || !open.iter().any(|s| s.tag == Tag::Helmet) {
                return open;
            }
            // "Bus was late all good but the helmet is loose": not the bus; "helmet bag is ripped" is the bag.
            let other = open.iter().filter(|s| specific(s)).all(|s| s.tag == Tag::Other);
            let thing = open.iter().filter(|s| specific(s)).map(|s| s.at).max();
            let helmet = |s: &Subject| s.tag == Tag::Helmet && other && thing.is_some_and(|thing| thing < s.at);
            return open.into_iter().filter(|s| specific(s) || helmet(s)).collect();
        }
        let of_all =
            matches!(tag, Tag::Ok | Tag::Fit) && self.items[at + 1..].iter().take(2).any(|item| item.tag == Tag::All);
        if of_all || resolve::is_trouble(tag) || matches!(tag, Tag::Click | Tag::Hold | Tag::Good | Tag::Praise) {
            // "Helmet is cracked got my bike fixed": said of the helmet.
            let helmet = self.open.last().copied().filter(|s| s.tag == Tag::Helmet && self.is_said_of(s, at));
            let found = self.after(at, tag);
            match helmet {
                Some(helmet) if !found.is_empty() && found.iter().all(|s| s.tag == Tag::Other) => return vec![helmet],
                _ if !found.is_empty() => return found,
                _ => {}
            }
        }
        let open = std::mem::take(&mut self.open);
        let vague = open.iter().all(|s| s.tag == Tag::It);
        let own = tag == Tag::Ok || (tag == Tag::High && open.is_empty());
        if vague && !own && self.last.iter().any(specific) && !self.since_last_is_new(at) {
            return self.last.clone();
        }
        open
    }

    /// "7 hoy bro n ta bien": good news behind an "and" is not said of the numbers before it, unless they are all six.
    fn let_numbers_stand(&mut self, at: usize, tag: Tag) {
        let points = |s: &&Subject| s.tag == Tag::Points && s.at < at;
        let (places, named): (Vec<usize>, Vec<u8>) = self.open.iter().filter(points).map(|s| (s.at, s.points)).unzip();
        let named = named.into_iter().fold(0, |all, points| all | points);
        // "6 y 6 bien".
        let all = named & SIX == SIX || named == 1 << 5;
        let Some(last) = places.iter().copied().max().filter(|_| resolve::is_reassuring(tag) && !all) else { return };
        let between = &self.items[last + 1..at];
        let quiet = |item: &&Item<'_>| matches!(item.tag, Tag::Glue | Tag::Fill | Tag::Used | Tag::Affirm);
        // "Checked each 1 n theyre good" says of whom.
        let of_them = matches!(self.items[at].opens, Some(Tag::It | Tag::Me));
        let joined = !of_them && between.iter().rev().find(|item| !quiet(item)).is_some_and(|i| i.tag == Tag::And);
        // "3 through 5, brow passes".
        let parts = between.iter().find(|item| item.tag != Tag::Used);
        let apart = parts.is_some_and(|item| matches!(item.tag, Tag::Comma | Tag::And));
        let another = apart && self.open.iter().any(|s| s.at > last && bit_of(s.tag) & !named != 0);
        if joined || another {
            self.open.retain(|s| !points(&s));
            self.notes.doubts.extend(places);
        }
    }

    /// "Helmet is cracked", "my helmet feels loose": nothing but a verb stands between.
    fn is_said_of(&self, subject: &Subject, at: usize) -> bool {
        let quiet = |item: &Item<'_>| matches!(item.tag, Tag::Glue | Tag::Used | Tag::Feel | Tag::Fill);
        subject.at < at && self.items[subject.at + 1..at].iter().all(quiet)
    }

    /// "1 2 3 4 5 6 all good": every point is named, and nothing else stands between.
    fn counts_up_to(&self, at: usize) -> bool {
        let points = || self.open.iter().filter(|s| s.tag == Tag::Points);
        let beside = |item: &Item<'_>| matches!(item.tag, Tag::Points | Tag::And | Tag::Comma | Tag::Used);
        points().fold(0, |all, s| all | s.points) == SIX
            && points().map(|s| s.at).min().is_some_and(|first| self.items[first..at].iter().all(beside))
    }

    /// "Strap gave out, all good": something is said of the part or the helmet that is neither good nor bad.
    fn is_told_of(&self, subject: &Subject, at: usize) -> bool {
        let named = subject.tag.is_part() || matches!(subject.tag, Tag::Helmet | Tag::Pad);
        let says = |item: &Item<'_>| {
            matches!(item.tag, Tag::Story | Tag::Mild | Tag::Other) && item.word.starts_with(char::is_alphanumeric)
        };
        let goes_on = |item: &&Item<'_>| !matches!(item.tag, Tag::Comma | Tag::Period);
        // "Carrying the helmet by hand": there it is not what the clause is about.
        let start = self.clause_start.min(subject.at);
        let first = self.items[start..subject.at]
            .iter()
            .rev()
            .take_while(|item| goes_on(item))
            .all(|item| matches!(item.tag, Tag::Glue | Tag::Fill | Tag::Affirm | Tag::Used | Tag::And));
        let told = self.items[(subject.at + 1).min(at)..at].iter().take(8).take_while(goes_on).any(says);
        named && told && (subject.tag != Tag::Helmet || first)
    }

    /// Leaves what is named besides with nothing said of it.
    fn leave_the_others_bare(&mut self, tag: Tag) {
        let (kept, others) = std::mem::take(&mut self.open).into_iter().partition(|s| s.tag == tag);
        self.open = kept;
        let others: Vec<Subject> = others;
        self.notes.bare.extend(others.iter().filter(|s| s.tag.is_part()).map(|s| (s.at, s.tag)));
        self.notes.doubts.extend(others.iter().filter(|s| s.tag == Tag::Points).map(|s| s.at));
    }

    /// "5 my helmet is perfect": what is said of the helmet may not be said of the number before it.
    fn doubt_points_before_the_helmet(&mut self, open: &[Subject], tag: Tag) {
        let Some(helmet) = open.iter().find(|s| s.tag == Tag::Helmet) else { return };
        let before = || open.iter().filter(|s| s.tag == Tag::Points && s.at < helmet.at);
        let named = before().fold(0, |points, s| points | s.points);
        if resolve::is_reassuring(tag) && named & SIX != SIX {
            self.notes.doubts.extend(before().map(|s| s.at));
        }
    }

    /// Whether something other than "and it" stands between the last subject's predicate and this one.
    pub(super) fn since_last_is_new(&self, at: usize) -> bool {
        let Some(last) = self.last.last().filter(|last| at - last.at < 30) else { return true };
        self.items[last.at..at].iter().any(|item| matches!(item.tag, Tag::Fill | Tag::Story | Tag::Me | Tag::Helmet))
    }

    /// Subjects right after an attributive predicate: "loose strap", "missing a screw", "cracked my shell".
    pub(super) fn after(&mut self, at: usize, tag: Tag) -> Vec<Subject> {
        let items = self.items;
        let mut found = Vec::new();
        if matches!(tag, Tag::High | Tag::Flat) && items[at].several {
            // "Me tapa las cejas", "wont hold air": whole by themselves.
            return found;
        }
        // The last of a row of thumbs says nothing of the number after it.
        let sign = |at: usize| !items[at].word.starts_with(char::is_alphanumeric);
        if sign(at) && at.checked_sub(1).is_some_and(|before| sign(before) && items[before].tag == items[at].tag) {
            return found;
        }
        let mut next = at + 1;
        let mut skipped = 0;
        while let Some(item) = items.get(next) {
            let takes = item.tag.is_part()
                || item.tag.is_body()
                || item.tag == Tag::Points
                // "Too tight bus broke down": that is said of what stands before it, if anything does.
                || (item.tag == Tag::Other && tag != Tag::TooTight)
                || (found.is_empty() && item.tag == Tag::Helmet && resolve::is_trouble(tag))
                || (found.is_empty() && item.tag == Tag::All && resolve::is_reassuring(tag) && next <= at + 2);
            if takes {
                found.push(Subject { tag: item.tag, points: item.points, at: next });
                skipped = 0;
            } else if matches!(item.tag, Tag::Glue | Tag::Used | Tag::AtTime)
                || (item.tag == Tag::And && !found.is_empty())
                || self.parts_points(next)
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
        if found.is_empty() || (own && (resolve::is_reassuring(tag) || !self.open.is_empty() || self.denier.is_some()))
        {
            return Vec::new();
        }
        self.skip_to = found[found.len() - 1].at + 1;
        found
    }

    /// "Me salen mal 1, 4, 5": a comma between two numbers.
    fn parts_points(&self, at: usize) -> bool {
        let number = |item: Option<&Item<'_>>| item.is_some_and(|item| item.tag == Tag::Points);
        self.items[at].tag == Tag::Comma
            && number(at.checked_sub(1).and_then(|before| self.items.get(before)))
            && number(self.items.get(at + 1))
    }

    pub(super) fn outcome(&mut self, at: usize, tag: Tag, subject: Option<Subject>, negated: bool) {
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
        let a_sign = || matches!(affirmed(tag, name), Outcome::Off(flags) if flags.contains(Flag::Symptom));
        // "Not too bad" grants something, "not too tight" does not.
        let of_body =
            || tag == Tag::Bad || matches!(affirmed(tag, name), Outcome::Off(flags) if flags.iter().any(Flag::is_body));
        // "Doesn't move much": some of it is there.
        let lessened = negated && resolve::is_trouble(tag) && self.denies_a_degree(self.denier, at, of_body());
        let negated = negated && !lessened;
        let softly = negated && self.softened;
        let neither =
            negated && tag == Tag::Tight && self.not_loose && matches!(name, None | Some(Tag::It | Tag::Helmet));
        let result = if neither {
            Outcome::Good
        } else if negated {
            denied(tag, name)
        } else {
            affirmed(tag, name)
        };
        if negated && a_sign() {
            self.notes.denied_signs.push(at);
        }
        // "Its snapped": closed or broken, who knows.
        let either = self.items[at].roles.has(Role::Either) && tag == Tag::Broken;
        let vague = matches!(name, None | Some(Tag::It | Tag::Me | Tag::All));
        match result {
            Outcome::Off(_) if either && vague => self.notes.doubts.push(at),
            Outcome::Off(flags) => {
                self.notes.findings.push(Finding {
                    flags,
                    at,
                    red: name == Some(Tag::Neck) && flags.contains(Flag::Symptom),
                    numbers: false,
                    either: self.items[at].roles.has(Role::Either),
                });
            }
            Outcome::Good if softly => self.soft_denial(at, tag, name),
            Outcome::Good => self.good(at, tag, subject, negated),
            Outcome::Doubt => {
                self.all_bad |= self.says_that_all_is_bad(tag, subject, negated);
                if negated && resolve::is_reassuring(tag) {
                    self.notes.denied_goods.push(at);
                }
                self.notes.doubts.push(at);
            }
            Outcome::Nothing => {}
        }
    }

    /// "All bad", "everything didnt pass", "nothing passes"; "not everything passes" is not.
    fn says_that_all_is_bad(&self, tag: Tag, subject: Option<Subject>, negated: bool) -> bool {
        let all = subject.filter(|subject| subject.tag == Tag::All);
        let denied = self.denier.filter(|_| negated && resolve::is_reassuring(tag));
        let all_denied = denied.is_some_and(|neg| match subject {
            Some(_) => all.is_some_and(|all| all.at < neg),
            None => self.items[neg].tag == Tag::None,
        });
        (!negated && tag == Tag::Bad && all.is_some()) || all_denied
    }

    /// "Had a headache but it's gone": what is gone is the complaint, not the helmet.
    pub(super) fn follows_body(&self, name: Option<Tag>) -> bool {
        matches!(name, None | Some(Tag::It))
            && self.notes.findings.last().is_some_and(|finding| finding.flags.iter().any(Flag::is_body))
    }

    /// "Not really hurting": counts for the head, leaves a doubt elsewhere.
    pub(super) fn soft_denial(&mut self, at: usize, tag: Tag, name: Option<Tag>) {
        match affirmed(tag, name) {
            Outcome::Off(flags) if flags.contains(Flag::Symptom) => self.find(Flag::Symptom, at, false),
            _ => self.notes.doubts.push(at),
        }
    }

    pub(super) fn good(&mut self, at: usize, tag: Tag, subject: Option<Subject>, negated: bool) {
        self.notes.praised = true;
        self.notes.denies |= negated;
        let Some(subject) = subject else {
            if self.only.is_some_and(|only| only + 1 == at) {
                self.notes.doubts.push(at);
            }
            let checked = || self.items.iter().any(|item| item.tag == Tag::Checked);
            let weak = matches!(tag, Tag::Click | Tag::Hold)
                || (tag == Tag::Praise && self.notes.general.is_empty() && !checked());
            let nothing = if negated { self.denies_all() } else { tag != Tag::Ok && self.is_about_all(at) };
            let counts = self.is_score(at) || self.items[at].roles.has(Role::CountsSix);
            if !negated && (counts || self.names_it(at)) {
                self.well(at, at, Reach::Named);
            } else if nothing {
                // "Six cups arrived, none broken".
                let things = negated && self.first_thing < at && !self.names_gear;
                self.well(at, at, if things { Reach::Loose } else { Reach::Whole });
            } else if if negated { !self.denies_an_act(tag) } else { !weak } {
                let answers = !negated && tag == Tag::Good && self.is_the_very_answer(at, at);
                self.well(at, at, if answers { Reach::Whole } else { Reach::Loose });
            }
            return;
        };
        let bit = bit_of(subject.tag);
        match subject.tag {
            Tag::Other | Tag::Person => {}
            Tag::Me if negated && resolve::is_trouble(tag) && tag != Tag::Hurt => {}
            Tag::Me | Tag::It if !negated && matches!(tag, Tag::Click | Tag::Hold) => {}
            _ if bit == 0 && !subject.tag.is_part() && (negated || !subject.tag.is_body()) => {
                let answers = !negated
                    && subject.tag == Tag::It
                    && matches!(tag, Tag::Good | Tag::Fit)
                    && self.is_the_very_answer(subject.at.min(at), at);
                self.well(subject.at, at, if answers { Reach::Whole } else { self.reach_of(subject) });
            }
            tag => {
                self.fine(bit);
                self.notes.parts += u8::from(tag.is_part() && self.notes.parts < u8::MAX);
            }
        }
    }

    /// "Good, dont text back in class", "its good. who has my hoodie": the answer, before anything else is told.
    fn is_the_very_answer(&self, from: usize, at: usize) -> bool {
        let ends = |item: &Item<'_>| matches!(item.tag, Tag::Comma | Tag::Period | Tag::Joiner);
        self.is_first(from) && self.items.get(at + 1).is_none_or(ends)
    }

    /// "6/6".
    fn is_score(&self, at: usize) -> bool {
        self.items[at].word.starts_with(|c: char| c.is_ascii_digit())
            && self.items.get(at + 2).is_some_and(|item| item.tag == Tag::Used)
    }

    /// "Everything checks out", "no cracks": an entry that begins with everything or with nothing.
    fn is_about_all(&self, at: usize) -> bool {
        let Item { several, opens, .. } = self.items[at];
        several && matches!(opens, Some(Tag::All | Tag::None | Tag::Neg))
    }

    /// "Helmet good": an entry that names the helmet or a part.
    fn names_it(&self, at: usize) -> bool {
        self.items[at].names_gear
    }

    /// "Nada roto", "no cracks": good news that begins with a denial.
    fn denies_by_itself(&self, at: usize, tag: Tag) -> bool {
        tag == Tag::Good && matches!(self.items[at].opens, Some(Tag::None | Tag::Neg))
    }

    /// "Nah nothing everything good", "nothing its good": first the answer, then good news. "Nothing good" denies it.
    fn answers_first(&self, neg: usize, at: usize, tag: Tag) -> bool {
        let answer = matches!(self.items[neg].tag, Tag::None | Tag::Nah) && tag == Tag::Good;
        let it = || at == neg + 2 && self.items[neg + 1].tag == Tag::It && self.is_first(neg);
        answer && ((at == neg + 1 && self.is_about_all(at)) || it())
    }

    /// "No cracks no nada my head hurts", "nothing the mask is loose": what is named right after the denial has something said of it
    /// that nothing denies. "No la siento floja" denies.
    pub(super) fn names_anew(&self, neg: usize, at: usize) -> bool {
        let Item { tag, roles, .. } = self.items[neg];
        let next = &self.items[neg + 1];
        let first = next.word.split(' ').next().map_or(Roles::default(), |word| self.lexicon.roles(word));
        let mine = next.roles.and(first).has(Role::My);
        let whole = matches!(tag, Tag::None | Tag::Nah) || roles.has(Role::Opens);
        let there = tag == Tag::None && next.roles.has(Role::Definite) && neg + 2 < at;
        (mine && whole) || there
    }

    /// Whether nothing is said before it.
    fn is_first(&self, at: usize) -> bool {
        let quiet = |item: &Item<'_>| matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Nah | Tag::Neg | Tag::Comma);
        at < 6 && self.items[..at].iter().all(quiet)
    }

    /// "Nothing wrong", "no issues": denies trouble of whatever kind.
    fn denies_all(&self) -> bool {
        self.denier.is_some_and(|neg| self.items[neg].tag == Tag::None || self.items[neg].roles.has(Role::DeniesAll))
    }

    /// "I can't move on", "don't break it": what somebody does not do says nothing of a helmet.
    fn denies_an_act(&self, tag: Tag) -> bool {
        let act = self.denier.is_some_and(|neg| self.items[neg].roles.has(Role::DeniesAct));
        act && resolve::is_trouble(tag) && tag != Tag::Hurt
    }

    /// How surely what is said of the subject is about the helmet.
    pub(super) fn reach_of(&self, subject: Subject) -> Reach {
        match subject.tag {
            Tag::It | Tag::Me => Reach::Loose,
            Tag::All if !self.items[subject.at].roles.has(Role::CountsSix) => Reach::Whole,
            Tag::Rest => Reach::Whole,
            tag if tag.is_body() => Reach::Whole,
            _ => Reach::Named,
        }
    }

    /// "Only 5 and 6 are good": the others are not.
    fn others_are_off(&mut self, at: usize, targets: &[Subject], fine_before: u8) {
        let first = targets.first().map_or(0, |subject| subject.at);
        // "2 is the only one that passes".
        let one = |only: usize| first < only && only < at && at - only <= 3 && self.items[only].several;
        let alone = self.only.is_some_and(|only| (only < first && first - only <= 3) || one(only));
        let fine = self.notes.fine & !fine_before & SIX;
        if alone && fine != 0 {
            self.notes.findings.push(Finding {
                flags: point_flags(SIX & !fine),
                at,
                red: false,
                numbers: true,
                either: false,
            });
        }
    }

    fn fine(&mut self, bits: u8) {
        self.notes.fine |= bits;
    }

    pub(super) fn points_outcome(&mut self, at: usize, tag: Tag, subject: Subject, negated: bool) {
        if resolve::is_reassuring(tag) != negated {
            self.fine(subject.points);
        } else {
            self.flag_subject(subject, at);
        }
    }
}
