//! Weighs what was noted: flags first, then controls, then whether it is all clear.
//!
//! Invariant: all clear needs somebody to have said so, no doubt, no unknown token and no flag.

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::numbers::SIX;
use super::resolve::part_flag;
use super::roles::Role;
use super::scan::{Finding, Notes};
use super::support::{self, Reach};
use super::{Evidence, First, Kind, Lang, Reading, Standing};
use crate::trade::flag::{Control, Flag, Flags};

/// The reading of a reply.
pub(super) fn weigh(lang: Lang, items: &[Item], mut notes: Notes) -> First {
    let name_alone = bare_parts(items, &mut notes);
    let findings: Vec<Finding> =
        notes.findings.iter().copied().filter(|finding| !is_over(finding, items, &notes)).collect();
    let flags = findings.iter().fold(name_alone, |flags, finding| flags.union(finding.flags));
    let flags = tidy(flags);
    let control = control(items).filter(|control| *control != Control::Later || !is_only_a_time(items, &notes));
    let well = clear(items, &notes);
    let (kind, control) = if !flags.is_empty() {
        (Kind::Flagged, None)
    } else if control.is_some() {
        (Kind::Control, control)
    } else if well.is_some() {
        (Kind::AllClear, None)
    } else {
        (Kind::Unclear, None)
    };
    if kind != Kind::AllClear {
        notes.doubts.append(&mut notes.mild);
    }
    let red_flag = findings.iter().any(|finding| finding.red);
    let evidence = evidence(items, &notes, &findings, control);
    let numbered =
        findings.iter().filter(|finding| finding.numbers).fold(Flags::NONE, |all, finding| all.union(finding.flags));
    let denies_a_sign = !notes.denied_signs.is_empty();
    First {
        reading: Reading { lang, kind, flags, control, evidence, red_flag },
        standing: well,
        denies_a_sign,
        numbered,
    }
}

/// A part named with nothing said of it in the whole reply is a report of it ("strap"); else it is a doubt.
fn bare_parts(items: &[Item], notes: &mut Notes) -> Flags {
    let alone = notes.general.is_empty()
        && notes.fine == 0
        && items.iter().all(|item| {
            item.tag.is_part()
                || matches!(
                    item.tag,
                    Tag::Glue
                        | Tag::Fill
                        | Tag::Affirm
                        | Tag::And
                        | Tag::Comma
                        | Tag::Period
                        | Tag::Used
                        | Tag::Points
                        | Tag::Also
                        | Tag::Only
                        | Tag::It
                )
        });
    let guessed = notes.bare.iter().any(|(at, _)| items[*at].guessed);
    let flags: Flags = notes.bare.iter().filter_map(|(_, tag)| part_flag(*tag)).collect();
    if alone && !guessed && flags.len() < 5 && notes.findings.iter().all(|finding| finding.numbers) {
        return flags;
    }
    let fixed = !notes.fixes.is_empty();
    let settled = |at: &usize| fixed || is_listed(*at, items, notes);
    let loose_ends: Vec<usize> = notes.bare.iter().map(|(at, _)| *at).filter(|at| !settled(at)).collect();
    notes.doubts.extend(loose_ends);
    Flags::NONE
}

/// "Brow, skin, top, cheeks, strap, mask. All good": parts that were gone through one by one and called good together.
fn is_listed(at: usize, items: &[Item], notes: &Notes) -> bool {
    let Some(good) = notes.goods.iter().find(|good| good.from > at && good.reach != Reach::Loose) else { return false };
    let parts = notes.bare.iter().filter(|(other, _)| *other < good.from).count();
    let turns = items[at..good.from].iter().any(|item| matches!(item.tag, Tag::But | Tag::Except | Tag::Rest));
    parts >= 3 && !turns && items[good.from].tag != Tag::Rest
}

/// Whether a helmet problem was repaired or taken back, and all is well after that.
fn is_over(finding: &Finding, items: &[Item<'_>], notes: &Notes) -> bool {
    // "Helmet check in the car, all six good": where it was made.
    let here = finding.flags == Flags::from_iter([Flag::Missing])
        && items[finding.at].was.is_some_and(|was| matches!(was, Tag::Helmet | Tag::It))
        && items.iter().any(|item| item.tag == Tag::Checked)
        && !items[..finding.at].iter().rev().take(6).any(|item| item.tag == Tag::Gone || item.roles.has(Role::Leaves))
        && notes.goods.iter().any(|good| good.from > finding.at && good.reach != Reach::Loose);
    if here || is_long_over(finding, items, notes) || is_good_after_all(finding, items, notes) {
        return true;
    }
    if finding.flags.iter().any(Flag::is_body) || notes.patched {
        return false;
    }
    if is_of_something_else(finding, items, notes) || is_contradicted(finding, items, notes) {
        return true;
    }
    let last_good = notes.general.last().copied().unwrap_or(0);
    let well_after = |at: usize| last_good > at || notes.fine & SIX == SIX;
    // "Everything checks out, i had a bad snap but they fixed it".
    let well_before = notes.general.first().is_some_and(|good| *good < finding.at);
    // All three lists are in the order of the text.
    let clause = |at: usize| notes.ends.partition_point(|end| *end < at);
    let next = notes.fixes.partition_point(|fix| *fix <= finding.at);
    let before = next.checked_sub(1).map(|i| notes.fixes[i]);
    // One repair is of one thing: the one told of nearest to it, and the one it names, if it names one.
    let another = |from: usize, to: usize| {
        let told = |other: &Finding| other.at > from + 3 || other.flags != finding.flags;
        notes.findings.iter().any(|other| (from + 1..to).contains(&other.at) && told(other))
    };
    let of_this = |fix: usize| {
        let named = parts_beside(fix, items);
        let fit = |flag: Flag| matches!(flag, Flag::Cheeks | Flag::Air) && finding.flags.iter().all(mended_by_pads);
        named.is_empty() || named.iter().any(|flag| finding.flags.contains(flag) || fit(flag))
    };
    let mended_before = before.is_some_and(|fix| {
        let near = finding.at - fix <= 6 && clause(fix) == clause(finding.at);
        near && !another(fix, finding.at) && of_this(fix) && well_after(finding.at)
    });
    let mended_after = notes
        .fixes
        .get(next)
        .is_some_and(|fix| !another(finding.at, *fix) && of_this(*fix) && (well_after(*fix) || well_before));
    let repaired = mended_before || mended_after;
    let retracted = notes.retracts.last().is_some_and(|at| finding.at < *at)
        && notes.retracts.iter().find(|at| finding.at < **at).is_some_and(|at| well_after(*at));
    repaired || retracted
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
    let mine = items[..finding.at].iter().rev().take(2).any(|item| item.roles.has(Role::My));
    finding.either && !mine && (fit || (listed && only(&[Flag::Tight, Flag::Strap, Flag::Cheeks, Flag::Shell])))
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
    let named = items[from..finding.at].iter().any(other) || solid(&items[finding.at + 1..to]);
    let well = |good: &support::Good| good.reach != Reach::Loose && !(from..to).contains(&good.at);
    named && !items[from..to].iter().any(gear) && notes.goods.iter().any(well)
}

/// The clause of an item: between commas and other ends.
fn clause_of(at: usize, items: &[Item<'_>], notes: &Notes) -> (usize, usize) {
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
    let part = |item: &Item<'_>| if item.tag == Tag::Pad { Some(Flag::Cheeks) } else { part_flag(item.tag) };
    after.chain(before).filter_map(part).collect()
}

/// A named point makes "wrong overall" and "7" redundant where they say the same.
fn tidy(flags: Flags) -> Flags {
    let mut flags = flags;
    if flags.contains(Flag::Symptom) {
        flags.remove(Flag::Unwell);
    }
    flags
}

/// Whether it is all clear, and if so, how surely the good news is about the helmet.
fn clear(items: &[Item], notes: &Notes) -> Option<Standing> {
    let surely = notes.fine & SIX == SIX || notes.goods.iter().any(|good| good.reach != Reach::Loose);
    let settled = notes.doubts.iter().all(|doubt| is_settled(*doubt, items, notes));
    if !settled || !(notes.mild.is_empty() || surely) {
        return None;
    }
    let six = notes.fine == 1 << 5 && items.iter().all(|item| !item.tag.is_part());
    // Gone through one by one: whoever names four says how it is.
    let named = notes.parts + u8::from(!notes.goods.is_empty()) >= 4;
    if support::stands(items, &notes.goods) || notes.fine & SIX == SIX || is_only_yes(items) {
        let besides =
            !notes.mild.is_empty() || !notes.doubts.is_empty() || items.iter().any(|item| item.tag == Tag::Aside);
        Some(match (besides, notes.denies) {
            (true, _) if !surely => Standing::Barely,
            (true, _) => Standing::Loosely,
            (false, true) if surely => Standing::Denying,
            (false, _) => Standing::Surely,
        })
    } else {
        (six || named).then_some(Standing::Loosely)
    }
}

/// "I couldnt feel it so i did it again, everything passes": what was told on the way is settled by a later clause that says
/// that everything is well. A hedge, an exception and an unknown word are not.
fn is_settled(doubt: usize, items: &[Item], notes: &Notes) -> bool {
    let stays = items.get(doubt).is_none_or(|item| match item.tag {
        Tag::Doubt => !item.word.bytes().all(|byte| byte.is_ascii_digit()),
        tag => matches!(tag, Tag::Unknown | Tag::Hedge | Tag::Would | Tag::Except),
    });
    let last = notes.goods.iter().filter(|good| good.reach != Reach::Loose).map(|good| good.from).max().unwrap_or(0);
    let ends =
        |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::Question | Tag::But | Tag::So | Tag::And);
    !stays && items.get(doubt + 1..last).is_some_and(|between| between.iter().any(ends))
}

/// "Todo bien, nos vemos al rato": a time beside an answer puts nothing off.
fn is_only_a_time(items: &[Item], notes: &Notes) -> bool {
    let mut times = items.iter().filter(|item| item.tag == Tag::Later);
    let surely = notes.goods.iter().any(|good| good.reach != Reach::Loose);
    let puts_off = items.windows(4).any(|four| {
        let has = |tag: Tag| four.iter().any(|item| item.tag == tag);
        has(Tag::Later) && (has(Tag::Plan) || has(Tag::Checked))
    });
    surely && times.all(|item| item.roles.has(Role::When)) && !puts_off
}

/// The control a reply without flags asks for.
fn control(items: &[Item]) -> Option<Control> {
    let tags: Tags = items.iter().map(|item| item.tag).collect();
    let has = |tag: Tag| tags.has(tag);
    let whole = |tag: Tag| {
        has(tag)
            && items.iter().all(|item| {
                item.tag == tag
                    || matches!(
                        item.tag,
                        Tag::Fill
                            | Tag::Affirm
                            | Tag::Period
                            | Tag::Comma
                            | Tag::Glue
                            | Tag::Used
                            | Tag::It
                            | Tag::Me
                            | Tag::Need
                    )
            })
    };
    if has(Tag::StopAny) || whole(Tag::StopWord) || opens_with_stop(items) {
        Some(Control::Stop)
    } else if has(Tag::StartAny) || whole(Tag::StartWord) {
        Some(Control::Start)
    } else if has(Tag::WrongNumber) {
        Some(Control::WrongNumber)
    } else if has(Tag::HelpAny) || whole(Tag::HelpWord) {
        Some(Control::Help)
    } else if has(Tag::Absent) && !whole(Tag::Later) {
        Some(Control::Absent)
    } else if has(Tag::Later) {
        Some(Control::Later)
    } else {
        None
    }
}

/// "Stop. I quit": the word by itself before anything else is an opt-out, whatever reason follows (47 CFR 64.1200(a)(10):
/// any reasonable means); "stop sliding" is none.
fn opens_with_stop(items: &[Item]) -> bool {
    let polite = |item: &&Item| matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Comma);
    let mut rest = items.iter().skip_while(polite);
    let first = rest.next().is_some_and(|item| item.tag == Tag::StopWord);
    first && rest.next().is_none_or(|next| matches!(next.tag, Tag::Me | Tag::Period | Tag::Comma | Tag::Fill))
}

/// A reply of nothing but yes: to "reply OK or what is off" that is an OK.
fn is_only_yes(items: &[Item]) -> bool {
    let yes = items.iter().filter(|item| item.tag == Tag::Affirm).count();
    let rest = |item: &Item| matches!(item.tag, Tag::Affirm | Tag::Fill | Tag::Period | Tag::Comma);
    yes > 0 && items.len() <= 4 && items.iter().all(rest)
}

fn evidence(items: &[Item], notes: &Notes, findings: &[Finding], control: Option<Control>) -> Vec<Evidence> {
    let mut out: Vec<Evidence> = Vec::new();
    let mut say = |at: usize, says: &'static str| {
        if let Some(item) = items.get(at) {
            out.push(Evidence { span: item.span, says: says.into() });
        }
    };
    for finding in findings {
        for flag in finding.flags.iter() {
            say(finding.at, flag.name());
        }
    }
    for at in &notes.general {
        say(*at, "good");
    }
    for at in &notes.doubts {
        let unknown = items.get(*at).is_some_and(|item| item.tag == Tag::Unknown);
        say(*at, if unknown { "unknown" } else { "doubt" });
    }
    if let Some(control) = control {
        for (at, item) in items.iter().enumerate() {
            if speaks_for(item.tag, control) {
                say(at, control.name());
            }
        }
    }
    out.sort_by(|a, b| a.span.cmp(&b.span).then_with(|| a.says.cmp(&b.says)));
    out.dedup();
    out
}

const fn speaks_for(tag: Tag, control: Control) -> bool {
    match control {
        Control::Stop => matches!(tag, Tag::StopAny | Tag::StopWord),
        Control::Start => matches!(tag, Tag::StartAny | Tag::StartWord),
        Control::Help => matches!(tag, Tag::HelpAny | Tag::HelpWord),
        Control::WrongNumber => matches!(tag, Tag::WrongNumber),
        Control::Later => matches!(tag, Tag::Later),
        Control::Absent => matches!(tag, Tag::Absent),
    }
}
