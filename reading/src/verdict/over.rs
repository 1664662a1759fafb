//! What was found and is no trouble any more: mended, taken back, somebody else's, only supposed.
//!
//! Invariant: a sign of concussion is never over.

use super::super::lex::Item;
use super::super::lexicon::Tag;
use super::super::numbers::SIX;
use super::super::resolve::{outright, part_flag};
use super::super::roles::Role;
use super::super::scan::{Finding, Notes};
use super::super::support::{self, Reach};
use crate::flag::{Flag, Flags};

/// What was found, in the order of the text, when there is a repair that it may stand before or after.
pub(super) fn in_order(notes: &Notes) -> Vec<Finding> {
    let mut told = if notes.fixes.is_empty() { Vec::new() } else { notes.findings.clone() };
    told.sort_by_key(|finding| finding.at);
    told
}

/// Replies of more items are no answers: what takes a look at the whole of them is left out, so that the time does not grow
/// with the square of their length.
pub(super) const LONGEST: usize = 300;

/// Whether a helmet problem was repaired or taken back, and all is well after that. `told` is all that was found, in the
/// order of the text.
pub(super) fn is_over(finding: &Finding, items: &[Item<'_>], notes: &Notes, told: &[Finding]) -> bool {
    if items.len() <= LONGEST && is_none(finding, items, notes) {
        return true;
    }
    if finding.flags.iter().any(Flag::is_body) || notes.patched {
        return false;
    }
    let last_good = notes.general.last().copied().unwrap_or(0);
    let well_after = |at: usize| last_good > at || notes.fine & SIX == SIX;
    // "Everything checks out, i had a bad snap but they fixed it".
    let well_before = notes.general.first().is_some_and(|good| *good < finding.at);
    // The lists are in the order of the text.
    let clause = |at: usize| notes.ends.partition_point(|end| *end < at);
    let next = notes.fixes.partition_point(|fix| *fix <= finding.at);
    let before = next.checked_sub(1).map(|i| notes.fixes[i]);
    // One repair is of one thing: the one told of nearest to it, and the one it names, if it names one.
    let another = |from: usize, to: usize| {
        let is_another = |other: &Finding| other.at > from + 3 || other.flags != finding.flags;
        let after = &told[told.partition_point(|other| other.at <= from)..];
        after.iter().take_while(|other| other.at < to).any(is_another)
    };
    let of_this = |fix: usize| may_mend(fix, finding.flags, items);
    let mended_before = before.is_some_and(|fix| {
        // "Got new pads and now its too tight".
        let anew = |item: &Item<'_>| matches!(item.tag, Tag::Anymore | Tag::It);
        let goes_on =
            items[fix..finding.at].iter().any(anew) && items[fix..finding.at].iter().any(|item| item.tag == Tag::And);
        let near = finding.at - fix <= 6 && clause(fix) == clause(finding.at);
        let near = near && !goes_on && !is_of_the_new(fix, finding.at, items) && !is_done_badly(fix, finding.at, items);
        near && !another(fix, finding.at) && of_this(fix) && well_after(finding.at)
    });
    let mended_after = notes
        .fixes
        .get(next)
        .is_some_and(|fix| !another(finding.at, *fix) && of_this(*fix) && (well_after(*fix) || well_before));
    let repaired = mended_before || mended_after;
    let retracted = notes.retracts.last().is_some_and(|at| finding.at < *at)
        && notes.retracts.get(notes.retracts.partition_point(|at| *at <= finding.at)).is_some_and(|at| well_after(*at));
    repaired || retracted
}

/// Whether a repair may be of what has the flags: it names no part, or one that has to do with them; air mends no strap.
pub(super) fn may_mend(fix: usize, flags: Flags, items: &[Item<'_>]) -> bool {
    // "New jerseys".
    let besides = |item: &Item<'_>| matches!(item.tag, Tag::Story | Tag::Other) && !item.roles.has(Role::When);
    if items[fix].roles.has(Role::Fresh) && items.get(fix + 1).is_some_and(besides) {
        return false;
    }
    let named = parts_beside(fix, items);
    let fit = |flag: Flag| matches!(flag, Flag::Cheeks | Flag::Air) && flags.iter().all(mended_by_pads);
    if named.is_empty() {
        return !items[fix].roles.has(Role::Airs) || flags.iter().all(mended_by_pads);
    }
    named.iter().any(|flag| flags.contains(flag) || fit(flag))
}

/// "Strap got fixed wrong", "put in bad screws": how it was mended, and not what was taken out ("swapped out the bad pad").
pub(super) fn is_done_badly(fix: usize, at: usize, items: &[Item<'_>]) -> bool {
    let taken_out = items[fix].roles.has(Role::TakesOut) && is_of_a_thing(at, items);
    at == fix + 1 && items[at].tag == Tag::Bad && !taken_out
}

/// "New strap ripped": said of what was put in, not of what it was put in for ("a new strap for the ripped one").
pub(super) fn is_of_the_new(fix: usize, at: usize, items: &[Item<'_>]) -> bool {
    items[fix].roles.has(Role::Fresh) && !is_of_a_thing(at, items)
}

/// Whether a thing is named right after: "the ripped one".
fn is_of_a_thing(at: usize, items: &[Item<'_>]) -> bool {
    let next = items.get(at + 1..).and_then(|rest| rest.iter().find(|item| item.tag != Tag::Used));
    next.is_some_and(|item| item.roles.has(Role::Counted) || item.tag.is_part() || item.tag == Tag::Helmet)
}

/// Whether what was found is no trouble of this helmet, or of no one now.
fn is_none(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    if is_where_it_was_checked(finding, items, notes)
        || is_long_over(finding, items, notes)
        || is_good_after_all(finding, items, notes)
    {
        return true;
    }
    let of_helmet = !finding.flags.iter().any(Flag::is_body) && !notes.patched;
    of_helmet && (is_of_something_else(finding, items, notes) || is_contradicted(finding, items, notes))
}

/// "Helmet check in the car, all six good": no helmet left there.
fn is_where_it_was_checked(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    let left = |item: &Item<'_>| item.tag == Tag::Gone || item.roles.has(Role::Leaves);
    finding.flags == Flags::from_iter([Flag::Missing])
        && items[finding.at].was.is_some_and(|was| matches!(was, Tag::Helmet | Tag::It))
        && items.iter().any(|item| item.tag == Tag::Checked)
        && !items[..finding.at].iter().rev().take(6).any(left)
        && notes.goods.iter().any(|good| good.from > finding.at && good.reach != Reach::Loose)
}

/// "I was sick last week but im good": an illness or a hurt of long ago, and all is well now; never a sign of concussion.
fn is_long_over(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    let ill = |flag: Flag| matches!(flag, Flag::Illness | Flag::Injury | Flag::Unwell);
    let (from, to) = clause_of(finding.at, items, notes);
    finding.flags.iter().all(ill)
        && items[from..to].iter().any(|item| item.roles.has(Role::LongAgo))
        && notes.general.last().is_some_and(|good| *good > finding.at)
}

/// "Strap snapped, mask tight, all good": the word may say the one or the other, and everything is well.
fn is_good_after_all(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    let turns =
        |from: usize, to: usize| items[from.min(to)..to].iter().any(|item| matches!(item.tag, Tag::But | Tag::Except));
    let well = |good: &support::Good| {
        let apart = if good.at < finding.at { turns(good.at, finding.at) } else { turns(finding.at, good.from) };
        good.reach != Reach::Loose && !apart
    };
    let only = |flags: &[Flag]| finding.flags.iter().all(|flag| flags.contains(&flag));
    let listed = notes.parts > 1 && (notes.goods.iter().any(well) || notes.findings.iter().all(|other| other.either));
    let fit = only(&[Flag::Tight, Flag::Brow, Flag::Crown]) && notes.goods.iter().any(well);
    let mine = items[..finding.at].iter().rev().take(3).any(|item| item.roles.has(Role::My));
    // "All six good, its squeezing tho".
    let though = items.get(finding.at + 1).is_some_and(|next| matches!(next.tag, Tag::But | Tag::Only));
    // "Mad tight".
    let too = finding.at.checked_sub(1).is_some_and(|before| items[before].tag == Tag::Too);
    finding.either
        && !mine
        && !though
        && !too
        && (fit || (listed && only(&[Flag::Tight, Flag::Strap, Flag::Cheeks, Flag::Shell])))
}

/// "My dog ate my glove. all six good": what is told of somebody or something else in a clause that does not name the
/// helmet, where another says that everything is well.
fn is_of_something_else(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    let (from, to) = clause_of(finding.at, items, notes);
    let gear = |item: &Item<'_>| {
        item.tag.is_part() || item.tag.is_body() || matches!(item.tag, Tag::Helmet | Tag::It | Tag::Points | Tag::Pad)
    };
    let other = |item: &Item<'_>| item.tag == Tag::Other;
    let solid = |items: &[Item<'_>]| items.iter().filter(|item| item.tag != Tag::Used).take(3).any(other);
    // "My chair is missing a screw", but not "the dog chewed my strap" nor "the strap was chewed by the dog".
    let whole = finding.at + 1 + items[finding.at + 1..to].iter().take_while(|item| item.tag == Tag::Used).count();
    let thing = items[from..finding.at].iter().rposition(other).map(|at| from + at);
    let before = thing.is_some_and(|thing| !items[thing..whole].iter().any(|item| item.roles.has(Role::My)));
    let says_part = outright(items[finding.at].tag).is_some_and(|flag| !flag.is_body());
    let of_part = says_part && items[finding.at].was.is_some_and(Tag::is_part);
    // "Too tight bus broke down".
    let fit = items[finding.at].tag == Tag::TooTight;
    let named = !of_part && (before || (!says_part && !fit && solid(&items[finding.at + 1..to])));
    let well = |good: &support::Good| good.reach != Reach::Loose && !(from..to).contains(&good.at);
    named && !items[from..to].iter().any(gear) && notes.goods.iter().any(well)
}

/// The clause of an item: between commas and other ends.
pub(super) fn clause_of(at: usize, items: &[Item<'_>], notes: &Notes) -> (usize, usize) {
    let ends =
        |i: &usize| matches!(items[*i].tag, Tag::Comma | Tag::Period | Tag::Question | Tag::But | Tag::So | Tag::And);
    let end_before = notes.ends.iter().rev().find(|end| **end < at).map_or(0, |end| end + 1);
    let from = (0..at).rev().find(ends).map_or(0, |i| i + 1).max(end_before.min(at));
    let to = (at + 1..items.len()).find(ends).unwrap_or(items.len());
    (from, to)
}

/// "I thought it was loose but no, its snug", "he says its crooked, i checked, it aint. all good": what somebody took for so
/// or said, against what was found.
fn is_contradicted(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    let start = notes.ends.iter().rev().find(|end| **end < finding.at).map_or(0, |end| end + 1);
    let ahead = &items[start.min(finding.at)..finding.at];
    let thought = ahead.iter().any(|item| item.roles.has(Role::Supposed));
    let said = ahead.iter().any(|item| item.roles.has(Role::Reported));
    let well = notes.goods.iter().find(|good| good.from > finding.at);
    let Some(good) = well.filter(|_| thought || said) else { return false };
    let between = &items[finding.at + 1..good.from];
    let denies = |item: &Item<'_>| matches!(item.tag, Tag::Neg | Tag::Nah | Tag::Retract | Tag::Fix);
    let looked = |item: &Item<'_>| item.tag == Tag::Checked || denies(item);
    let turned = between.iter().any(|item| item.tag == Tag::But || looked(item));
    if said { between.iter().any(looked) } else { turned || good.reach != Reach::Loose }
}

/// What other pads, or air in them, put right.
const fn mended_by_pads(flag: Flag) -> bool {
    matches!(
        flag,
        Flag::Brow | Flag::Grip | Flag::Crown | Flag::Cheeks | Flag::Air | Flag::Loose | Flag::Tight | Flag::Pain
    )
}

/// The parts named in the same breath as a repair.
fn parts_beside(fix: usize, items: &[Item<'_>]) -> Flags {
    let ends = |item: &&Item<'_>| !matches!(item.tag, Tag::Period | Tag::Question | Tag::But | Tag::Comma | Tag::And);
    let after = items[fix + 1..].iter().take(6).take_while(ends);
    let before = items[..fix].iter().rev().take(4).take_while(ends);
    // "New screws in": a rule may have used up the part.
    let part = |item: &Item<'_>| match item.used.unwrap_or(item.tag) {
        Tag::Pad => Some(Flag::Cheeks),
        tag => part_flag(tag),
    };
    after.chain(before).filter_map(part).collect()
}
