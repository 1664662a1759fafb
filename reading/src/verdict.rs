//! Weighs what was noted: flags first, then controls, then whether it is all clear.
//!
//! Invariant: all clear needs somebody to have said so, no doubt, no unknown token and no flag.

mod asked;
mod over;

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::numbers::SIX;
use super::resolve::{is_trouble, outright, part_flag};
use super::roles::Role;
use super::scan::{Finding, Notes};
use super::support::{self, Good, Reach};
use super::{Evidence, First, Kind, Lang, Reading, Standing};
use crate::flag::{Control, Flag, Flags};
use asked::{
    NEAR, denies_gear_alone, is_among_else, is_told_of_else, likens, may_be_asked, may_be_doubted, may_be_excused,
    may_be_outweighed, may_be_rambling, may_be_straying, names_gear, says_something_of, shares_the_trouble, was_good,
};
use over::{LONGEST, in_order, is_over};

/// The reading of a reply.
pub(super) fn weigh(lang: Lang, items: &[Item], mut notes: Notes) -> First {
    let name_alone = bare_parts(items, &mut notes);
    let told = in_order(&notes);
    let findings: Vec<Finding> =
        notes.findings.iter().copied().filter(|finding| !is_over(finding, items, &notes, &told)).collect();
    let flags = findings.iter().fold(name_alone, |flags, finding| flags.union(finding.flags));
    let flags = tidy(flags);
    let put_off = |control: &Control| {
        *control != Control::Later || !(is_only_a_time(items, &notes) || is_answered(items, &notes))
    };
    let control = control(items, &notes).filter(put_off);
    let open = || name_alone.is_empty() && !shares_the_trouble(items, &notes) && !is_all_quoted(items);
    let well = if flags.is_empty() {
        clear(items, &notes, lang).filter(|_| !shares_the_trouble(items, &notes))
    } else {
        (may_be_excused(items, &notes, &findings, lang) && open()).then_some(Standing::Excused)
    };
    let outweighed = || (may_be_outweighed(items, &notes, &findings, lang) && open()).then_some(Standing::Outweighed);
    let doubted = || {
        let whole = flags.is_empty() && control.is_none();
        (whole && may_be_doubted(items, &notes, lang) && open()).then_some(Standing::Doubted)
    };
    let (kind, control) = if !flags.is_empty() {
        (Kind::Flagged, None)
    } else if control.is_some() {
        (Kind::Control, control)
    } else if well.is_some() {
        (Kind::AllClear, None)
    } else {
        (Kind::Unclear, None)
    };
    let rambling = || (may_be_rambling(items, &notes, &findings, lang) && open()).then_some(Standing::Rambling);
    let straying = || (may_be_straying(items, &notes, &findings, lang) && open()).then_some(Standing::Straying);
    let well = well.or_else(outweighed).or_else(doubted).or_else(rambling).or_else(straying);
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

/// Parts, and what says nothing beside them.
const BESIDE_PARTS: Tags = Tags::PARTS.and(Tags::of(&[
    Tag::Glue,
    Tag::Fill,
    Tag::Affirm,
    Tag::And,
    Tag::Comma,
    Tag::Period,
    Tag::Used,
    Tag::Points,
    Tag::Also,
    Tag::Only,
    Tag::It,
]));

/// A part named with nothing said of it in the whole reply is a report of it ("strap"); else it is a doubt.
fn bare_parts(items: &[Item], notes: &mut Notes) -> Flags {
    if notes.bare.is_empty() {
        return Flags::NONE;
    }
    let alone = notes.general.is_empty() && notes.fine == 0 && notes.present.tags.within(BESIDE_PARTS);
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
    if likens(items, notes) || is_all_quoted(items) {
        return None;
    }
    if !settled || !(notes.mild.is_empty() || surely) {
        return hardly(items, notes, lang);
    }
    let six = notes.fine == 1 << 5 && items.iter().all(|item| !item.tag.is_part());
    // Gone through one by one: whoever names four says how it is.
    let named = notes.parts + u8::from(!notes.goods.is_empty()) >= 4;
    // "Fixed the strap yesterday all good now".
    let mended = !notes.fixes.is_empty() && !notes.denies && notes.goods.iter().any(|good| good.reach != Reach::Loose);
    let stands = support::stands(items, notes.present.tags, &notes.goods)
        || notes.fine & SIX == SIX
        || is_only_yes(items, notes.present.tags)
        || is_only_praise(items);
    if stands || mended {
        // "But ..." goes on with what was not said here.
        let goes_on = items.first().is_some_and(|item| item.tag == Tag::But);
        let aside = notes.present.tags.has(Tag::Aside);
        // "I cant get up, all good": what is denied on the way, or said and then passed over.
        let denied = notes.mild.iter().any(|mild| items.get(*mild).is_some_and(|item| item.tag == Tag::Neg));
        let besides = !stands || goes_on || aside || !notes.mild.is_empty();
        Some(match (besides, notes.denies) {
            _ if !notes.doubts.is_empty() || denied => {
                if surely {
                    Standing::Hardly
                } else {
                    Standing::Barely
                }
            }
            // "Fixed the strap yesterday all good now".
            (true, false) if mended && !goes_on && !aside && notes.mild.is_empty() => Standing::Surely,
            (true, _) if !surely => Standing::Barely,
            (true, _) => Standing::Loosely,
            (false, true) if surely => Standing::Denying,
            _ if is_a_count(items, notes) => Standing::Counted,
            (false, _) => Standing::Surely,
        })
    } else {
        if six || named { Some(Standing::Loosely) } else { hardly(items, notes, lang) }
    }
}

/// The helmet, a part, a number, the check.
const NAMED: Tags = Tags::PARTS.and(Tags::of(&[Tag::Helmet, Tag::Points, Tag::Checked]));

/// What stands in quotes from its first word to its last is somebody's words, or not meant.
fn is_all_quoted(items: &[Item]) -> bool {
    let quote = |item: Option<&Item>| item.is_some_and(Item::is_quote);
    items.len() > 1 && quote(items.first()) && quote(items.iter().rev().find(|item| item.tag != Tag::Period))
}

/// Every word is known, nothing is wrong, but what some of them do there is not clear, or nobody said that all is well in so
/// many words. The second reader has seen enough of two languages to be asked about that, and of no other.
fn hardly(items: &[Item], notes: &Notes, lang: Lang) -> Option<Standing> {
    if !may_be_asked(items, notes, lang) {
        return None;
    }
    let has = |tags: &[Tag]| notes.present.tags.meets(Tags::of(tags));
    let six = |item: &Item| item.tag == Tag::All && item.roles.has(Role::CountsSix);
    let names = notes.present.tags.meets(NAMED) || (has(&[Tag::All]) && items.iter().any(six));
    let at_odds = notes.doubts.iter().any(|doubt| {
        items.get(*doubt).is_some_and(|item| {
            let said = (item.tag.is_part() || item.tag == Tag::Helmet) && says_something_of(*doubt, items, notes);
            let odd = item.tag == Tag::Points || item.roles.has(Role::Odd);
            said || odd || is_trouble(item.tag) || outright(item.tag).is_some()
        })
    });
    // "1 good 2 good": of the others nothing is said. "New strap, closes perfect" tells what was mended.
    let some = notes.fine & SIX != SIX && (notes.fine != 0 || (1..4).contains(&notes.parts));
    let partly = some && notes.goods.is_empty() && notes.fixes.is_empty();
    let checked = items.iter().filter(|item| item.tag == Tag::Checked).count();
    if partly && usize::from(notes.parts) + checked < 2 {
        return None;
    }
    let said = !notes.goods.is_empty() || notes.fine != 0 || notes.parts > 0;
    // "Third day in a row all good": the last word on it.
    let last = items.iter().rposition(|item| !matches!(item.tag, Tag::Fill | Tag::Used | Tag::Period | Tag::Mild));
    let ends = notes.goods.iter().any(|good| good.reach != Reach::Loose && last == Some(good.at));
    // "They pumped it, good now".
    let mended = |fix: &&usize| !items[**fix].roles.has(Role::Fresh);
    let since = notes
        .fixes
        .iter()
        .rfind(mended)
        .is_some_and(|fix| notes.goods.iter().any(|good| good.from > *fix && good.from - *fix <= NEAR));
    let ends = ends || since;
    if said && !partly && !at_odds && (names || ends) {
        return Some(Standing::Hardly);
    }
    // "Dont worry about being perfect".
    if said && !partly && !at_odds && support::stands(items, notes.present.tags, &notes.goods) {
        return Some(Standing::Unsaid);
    }
    let well = said
        || notes.denies
        || !notes.fixes.is_empty()
        || has(&[Tag::Good, Tag::Ok])
        || items.iter().any(was_good)
        || (at_odds && has(&[Tag::None]));
    let unsaid = well || names || (has(&[Tag::Affirm]) && !has(&[Tag::Neg, Tag::None, Tag::Nah]));
    // "Slow reply, my phone was dead. good".
    let seam = |at: usize| matches!(items[at].tag, Tag::Comma | Tag::Period);
    let alone = notes.goods.iter().any(|good| last == Some(good.at) && good.from.checked_sub(1).is_some_and(seam));
    let named = (well && names) || alone || notes.goods.iter().any(|good| good.reach != Reach::Loose);
    unsaid.then_some(match (named, at_odds) {
        (false, _) => Standing::Unnamed,
        (true, true) => Standing::AtOdds,
        (true, false) => Standing::Unsaid,
    })
}

/// "1 2 3 4 5 y 6 bien", "1 2 3 4 5 6 all good", "ni 1 ni 2 ni 3 ni 4 ni 5 ni 6".
fn is_a_count(items: &[Item], notes: &Notes) -> bool {
    let counts =
        |tag: Tag| tag.is_part() || matches!(tag, Tag::Points | Tag::And | Tag::Comma | Tag::Period | Tag::Used);
    let all = |well: &[Tag]| items.iter().all(|item| counts(item.tag) || well.contains(&item.tag));
    let named = items.iter().fold(0, |named, item| named | item.points);
    let well = || all(&[Tag::Good, Tag::Ok, Tag::Affirm]);
    items.len() < 20 && ((notes.fine & SIX == SIX && all(&[Tag::Neg])) || ((notes.fine | named) & SIX == SIX && well()))
}

/// "I couldnt feel it so i did it again, everything passes": what was told on the way is settled by a later clause that says
/// that everything is well. A hedge, an exception and an unknown word are not.
fn is_settled(doubt: usize, items: &[Item], notes: &Notes) -> bool {
    // "Not good, all good".
    let denied = notes.denied_goods.contains(&doubt);
    let stays = items.get(doubt).is_none_or(|item| match item.tag {
        Tag::Doubt => !item.word.bytes().all(|byte| byte.is_ascii_digit()),
        // "5, all good".
        Tag::Points => !is_told_of_else(doubt, items),
        // "The bus came, my helmet didnt. all good".
        Tag::Neg | Tag::Nah => denies_gear_alone(doubt, items),
        // "Helmet crooked, all good".
        tag if is_trouble(tag) || outright(tag).is_some() => {
            names_gear(doubt, items, notes) || !is_among_else(doubt, items, notes)
        }
        // "Strap gave out, all good".
        tag if tag.is_part() || matches!(tag, Tag::Helmet | Tag::Pad) => {
            says_something_of(doubt, items, notes) && !is_of_the_check(doubt, items, notes)
        }
        tag => {
            matches!(tag, Tag::Unknown | Tag::Hedge | Tag::Would | Tag::Except | Tag::Fix | Tag::Checked | Tag::Admit)
                || item.roles.has(Role::Odd)
        }
    });
    let last = notes.goods.iter().filter(|good| good.reach != Reach::Loose).map(|good| good.from).max().unwrap_or(0);
    let ends =
        |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::Question | Tag::But | Tag::So | Tag::And);
    !stays && !denied && items.get(doubt + 1..last).is_some_and(|between| between.iter().any(ends))
}

/// "I checked the strap in the truck": what was done with the part, not how it is.
fn is_of_the_check(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = over::clause_of(at, items, notes);
    items[from.min(at)..to].iter().any(|item| matches!(item.tag, Tag::Checked | Tag::Fix))
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

/// "Cant talk in class but all good": what is not put off after all.
fn is_answered(items: &[Item], notes: &Notes) -> bool {
    let Some(last) = items.iter().rposition(|item| item.tag == Tag::Later) else { return false };
    let answers = |good: &Good| {
        let but = items.get(last..good.from).is_some_and(|between| between.iter().any(|item| item.tag == Tag::But));
        good.reach != Reach::Loose && but
    };
    let plans = items.iter().any(|item| matches!(item.tag, Tag::Plan | Tag::Hedge | Tag::Neg | Tag::Checked));
    notes.goods.iter().any(answers) && !plans
}

const CONTROLS: Tags = Tags::of(&[
    Tag::StopWord,
    Tag::StopAny,
    Tag::StartWord,
    Tag::StartAny,
    Tag::HelpWord,
    Tag::HelpAny,
    Tag::WrongNumber,
    Tag::Absent,
    Tag::Later,
]);

/// The control a reply without flags asks for.
fn control(items: &[Item], notes: &Notes) -> Option<Control> {
    if !notes.present.tags.meets(CONTROLS) {
        return None;
    }
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
fn is_only_yes(items: &[Item], present: Tags) -> bool {
    let rest = Tags::of(&[Tag::Affirm, Tag::Fill, Tag::Period, Tag::Comma]);
    items.len() <= 4 && present.has(Tag::Affirm) && present.within(rest)
}

/// "Great", "excellent coach": praise and nothing else, to the question how the helmet is.
fn is_only_praise(items: &[Item]) -> bool {
    let praise = |item: &Item| item.tag == Tag::Praise && !item.roles.has(Role::Applauds);
    let rest = |item: &Item| matches!(item.tag, Tag::Affirm | Tag::Fill | Tag::Period | Tag::Comma);
    if items.len() > 4 {
        return false;
    }
    // "Alberta's great" is not said of a helmet.
    let first = items.iter().find(|item| item.tag != Tag::Affirm).is_some_and(praise);
    first && items.iter().all(|item| praise(item) || rest(item))
}

fn evidence(items: &[Item], notes: &Notes, findings: &[Finding], control: Option<Control>) -> Vec<Evidence> {
    let mut out: Vec<Evidence> = Vec::with_capacity(findings.len() + notes.general.len() + notes.doubts.len());
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
