//! Weighs what was noted: flags first, then controls, then whether it is all clear.
//!
//! Invariant: all clear needs somebody to have said so, no doubt, no unknown token and no flag.

mod over;

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::numbers::SIX;
use super::resolve::{is_trouble, outright, part_flag};
use super::roles::Role;
use super::scan::{Finding, Notes};
use super::support::{self, Reach};
use super::{Evidence, First, Kind, Lang, Reading, Standing, second};
use crate::trade::flag::{Control, Flag, Flags};
use over::{LONGEST, in_order, is_over};

/// The reading of a reply.
pub(super) fn weigh(lang: Lang, items: &[Item], mut notes: Notes) -> First {
    let name_alone = bare_parts(items, &mut notes);
    let told = in_order(&notes);
    let findings: Vec<Finding> =
        notes.findings.iter().copied().filter(|finding| !is_over(finding, items, &notes, &told)).collect();
    let flags = findings.iter().fold(name_alone, |flags, finding| flags.union(finding.flags));
    let flags = tidy(flags);
    let control = control(items, &notes).filter(|control| *control != Control::Later || !is_only_a_time(items, &notes));
    let well = clear(items, &notes, lang);
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

/// A named point makes "wrong overall" and "7" redundant where they say the same.
fn tidy(flags: Flags) -> Flags {
    let mut flags = flags;
    if flags.contains(Flag::Symptom) {
        flags.remove(Flag::Unwell);
    }
    flags
}

/// Whether it is all clear, and if so, how surely the good news is about the helmet.
fn clear(items: &[Item], notes: &Notes, lang: Lang) -> Option<Standing> {
    let surely = notes.fine & SIX == SIX || notes.goods.iter().any(|good| good.reach != Reach::Loose);
    let answer = items.len() <= LONGEST;
    let settled =
        notes.doubts.is_empty() || (answer && notes.doubts.iter().all(|doubt| is_settled(*doubt, items, notes)));
    if !settled || !(notes.mild.is_empty() || surely) {
        return hardly(items, notes, lang);
    }
    let six = notes.fine == 1 << 5 && items.iter().all(|item| !item.tag.is_part());
    // Gone through one by one: whoever names four says how it is.
    let named = notes.parts + u8::from(!notes.goods.is_empty()) >= 4;
    // "Fixed the strap yesterday all good now".
    let mended = !notes.fixes.is_empty() && !notes.denies && notes.goods.iter().any(|good| good.reach != Reach::Loose);
    let stands = support::stands(items, &notes.goods) || notes.fine & SIX == SIX || is_only_yes(items);
    if stands || mended {
        // "But ..." goes on with what was not said here.
        let goes_on = items.first().is_some_and(|item| item.tag == Tag::But);
        let aside = items.iter().any(|item| item.tag == Tag::Aside);
        let besides = !stands || goes_on || aside || !notes.mild.is_empty() || !notes.doubts.is_empty();
        Some(match (besides, notes.denies) {
            (true, _) if !surely => Standing::Barely,
            (true, _) => Standing::Loosely,
            (false, true) if surely => Standing::Denying,
            (false, _) => Standing::Surely,
        })
    } else {
        if six || named { Some(Standing::Loosely) } else { hardly(items, notes, lang) }
    }
}

/// Every word is known, nothing is wrong, but what some of them do there is not clear, or nobody said that all is well in so
/// many words. The second reader has seen enough of two languages to be asked about that, and of no other.
fn hardly(items: &[Item], notes: &Notes, lang: Lang) -> Option<Standing> {
    let at_odds = |doubt: &usize| {
        // Good news denied is bad news; trouble, and a number, have to be settled.
        notes.denied_goods.contains(doubt)
            || items.get(*doubt).is_some_and(|item| {
                matches!(item.tag, Tag::Unknown | Tag::Hedge | Tag::Points)
                    || is_trouble(item.tag)
                    || outright(item.tag).is_some()
            })
    };
    // "All good... not".
    let trails = |doubt: &usize| {
        let denies = |item: &Item| matches!(item.tag, Tag::Neg | Tag::Nah);
        items.get(*doubt).is_some_and(denies)
            && items[doubt + 1..]
                .iter()
                .all(|item| matches!(item.tag, Tag::Fill | Tag::Used | Tag::Period | Tag::Comma))
    };
    // What is guessed is not known.
    let guessed = items.iter().any(|item| item.guessed);
    if !second::has_learned(lang)
        || guessed
        || items.is_empty()
        || items.len() > LONGEST
        || notes.doubts.iter().any(|doubt| at_odds(doubt) || trails(doubt))
    {
        return None;
    }
    let has = |tags: &[Tag]| items.iter().any(|item| tags.contains(&item.tag));
    let six = |item: &Item| item.tag == Tag::All && item.roles.has(Role::CountsSix);
    let names =
        has(&[Tag::Helmet, Tag::Points, Tag::Checked]) || items.iter().any(|item| item.tag.is_part() || six(item));
    // "1 good 2 good": of the others nothing is said. "New strap, closes perfect" tells what was mended.
    let some = notes.fine & SIX != SIX && (notes.fine != 0 || (1..4).contains(&notes.parts));
    if some && notes.goods.is_empty() && notes.fixes.is_empty() {
        return None;
    }
    let said = !notes.goods.is_empty() || notes.fine != 0 || notes.parts > 0;
    if said && (names || support::stands(items, &notes.goods)) {
        return Some(Standing::Hardly);
    }
    let well = said || names || has(&[Tag::Good, Tag::Ok]);
    (well || (has(&[Tag::Affirm]) && !has(&[Tag::Neg, Tag::None, Tag::Nah]))).then_some(Standing::Unsaid)
}

/// "I couldnt feel it so i did it again, everything passes": what was told on the way is settled by a later clause that says
/// that everything is well. A hedge, an exception and an unknown word are not.
fn is_settled(doubt: usize, items: &[Item], notes: &Notes) -> bool {
    let stays = items.get(doubt).is_none_or(|item| match item.tag {
        Tag::Doubt => !item.word.bytes().all(|byte| byte.is_ascii_digit()),
        // "5, helmet is perfect".
        Tag::Points => items[..doubt].iter().all(|before| matches!(before.tag, Tag::Fill | Tag::Affirm | Tag::Glue)),
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
fn control(items: &[Item], notes: &Notes) -> Option<Control> {
    // "If it comes loose ill let you know" puts nothing off.
    let mut supposed = vec![false; if notes.supposed.is_empty() { 0 } else { items.len() }];
    for (from, to) in &notes.supposed {
        supposed[*from..*to].fill(true);
    }
    let is_so = |at: usize| !supposed.get(at).is_some_and(|supposed| *supposed);
    let tags: Tags = items.iter().enumerate().filter(|(at, _)| is_so(*at)).map(|(_, item)| item.tag).collect();
    let has = |tag: Tag| tags.has(tag);
    let whole = |tag: Tag| {
        has(tag)
            && items.iter().all(|item| {
                item.tag == tag
                    // "Help?" asks for it, "stop?" does not.
                    || (tag == Tag::HelpWord && item.tag == Tag::Question)
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
