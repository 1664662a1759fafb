//! Weighs what was noted: flags first, then controls, then whether it is all clear.
//!
//! Invariant: all clear needs somebody to have said so, no doubt, no unknown token and no flag.

mod over;

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::numbers::SIX;
use super::resolve::{is_reassuring, is_trouble, outright, part_flag};
use super::roles::Role;
use super::scan::{Finding, Notes};
use super::support::{self, Good, Reach};
use super::{Evidence, First, Kind, Lang, Reading, Standing, second};
use crate::trade::flag::{Control, Flag, Flags};
use over::{LONGEST, clause_of, in_order, is_done_badly, is_of_the_new, is_over, may_mend};

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
    let well = if flags.is_empty() {
        clear(items, &notes, lang)
    } else {
        (name_alone.is_empty() && may_be_excused(items, &notes, &findings, lang)).then_some(Standing::Excused)
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
    if likens(items) {
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
    let stands = support::stands(items, &notes.goods) || notes.fine & SIX == SIX || is_only_yes(items);
    if stands || mended {
        // "But ..." goes on with what was not said here.
        let goes_on = items.first().is_some_and(|item| item.tag == Tag::But);
        let aside = items.iter().any(|item| item.tag == Tag::Aside);
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

/// Every word is known, nothing is wrong, but what some of them do there is not clear, or nobody said that all is well in so
/// many words. The second reader has seen enough of two languages to be asked about that, and of no other.
fn hardly(items: &[Item], notes: &Notes, lang: Lang) -> Option<Standing> {
    if !may_be_asked(items, notes, lang) {
        return None;
    }
    let has = |tags: &[Tag]| items.iter().any(|item| tags.contains(&item.tag));
    let six = |item: &Item| item.tag == Tag::All && item.roles.has(Role::CountsSix);
    let names =
        has(&[Tag::Helmet, Tag::Points, Tag::Checked]) || items.iter().any(|item| item.tag.is_part() || six(item));
    let at_odds = likens(items)
        || notes.doubts.iter().any(|doubt| {
            items.get(*doubt).is_some_and(|item| {
                let said = item.tag.is_part() && says_something_of(*doubt, items, notes);
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
    if said && !partly && !at_odds && (names || ends || support::stands(items, &notes.goods)) {
        return Some(Standing::Hardly);
    }
    let well = said
        || names
        || notes.denies
        || !notes.fixes.is_empty()
        || has(&[Tag::Good, Tag::Ok])
        || (at_odds && has(&[Tag::None]));
    let unsaid = well || (has(&[Tag::Affirm]) && !has(&[Tag::Neg, Tag::None, Tag::Nah]));
    unsaid.then_some(if at_odds { Standing::AtOdds } else { Standing::Unsaid })
}

/// "1 2 3 4 5 y 6 bien", "ni 1 ni 2 ni 3 ni 4 ni 5 ni 6".
fn is_a_count(items: &[Item], notes: &Notes) -> bool {
    let counts = |tag: Tag| matches!(tag, Tag::Points | Tag::And | Tag::Comma | Tag::Period | Tag::Used);
    let all = |well: &[Tag]| items.iter().all(|item| counts(item.tag) || well.contains(&item.tag));
    notes.fine & SIX == SIX && items.len() < 20 && (all(&[Tag::Good, Tag::Ok, Tag::Affirm]) || all(&[Tag::Neg]))
}

/// Whether the second reader may be asked about what the grammar leaves open: it has learned the language, every word is known,
/// and no doubt is of a kind that has to be settled.
fn may_be_asked(items: &[Item], notes: &Notes, lang: Lang) -> bool {
    let stays = |doubt: &usize| {
        // Good news denied is bad news.
        notes.denied_goods.contains(doubt)
            || items.get(*doubt).is_some_and(|item| match item.tag {
                Tag::Unknown | Tag::Hedge | Tag::Admit | Tag::Fix | Tag::Checked => true,
                Tag::Points => !is_told_of_else(*doubt, items),
                Tag::Doubt if item.roles.has(Role::Odd) => names_gear(*doubt, items, notes),
                Tag::Symptom | Tag::RedFlag => true,
                tag => (is_trouble(tag) || outright(tag).is_some()) && !may_be_none(*doubt, Flags::NONE, items, notes),
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
    let known = |item: &Item| !item.guessed && item.tag != Tag::Unknown;
    second::has_learned(lang)
        && !items.is_empty()
        && items.len() <= LONGEST
        && items.iter().all(known)
        && !notes.doubts.iter().any(|doubt| stays(doubt) || trails(doubt))
}

/// Whether all that was found may be no trouble of this helmet though the grammar takes it for some: there is good news, and
/// what was found is denied, mended, supposed or told of something else. Never a sign of concussion.
fn may_be_excused(items: &[Item], notes: &Notes, findings: &[Finding], lang: Lang) -> bool {
    let good = |item: &Item| matches!(item.tag, Tag::Good | Tag::Ok | Tag::Praise);
    let said = !notes.goods.is_empty() || notes.fine != 0 || notes.denies || items.iter().any(good);
    let stays = |item: &Item| matches!(item.tag, Tag::Hedge | Tag::Except | Tag::Admit);
    said && !notes.patched
        && may_be_asked(items, notes, lang)
        && !items.iter().any(stays)
        && findings.iter().all(|finding| is_excusable(finding, items, notes))
}

fn is_excusable(finding: &Finding, items: &[Item], notes: &Notes) -> bool {
    if finding.red || finding.flags.contains(Flag::Symptom) || finding.flags.contains(Flag::Unwell) {
        return false;
    }
    if finding.numbers {
        return is_told_of_else(finding.at, items);
    }
    // "Cierra bien": a rule took good news for trouble.
    let was_good = items[finding.at].was.is_some_and(is_reassuring);
    was_good || may_be_none(finding.at, finding.flags, items, notes)
}

/// Whether trouble named there may be denied, mended later, taken back, supposed or told of something else.
fn may_be_none(at: usize, flags: Flags, items: &[Item], notes: &Notes) -> bool {
    let of_body = flags.iter().any(Flag::is_body);
    let elsewhere = |item: &Item| {
        let has = |roles: &[Role]| roles.iter().any(|role| item.roles.has(*role));
        let aside = item.tag == Tag::Aside && item.was.is_some_and(support::tells_of_else);
        // "Loose yesterday", "no se mueve tanto": when and how much, not what.
        let quiet = has(&[Role::Degree, Role::Amount, Role::Persists, Role::LongAgo, Role::When]);
        let of_another =
            if of_body { matches!(item.tag, Tag::Other | Tag::Person) } else { support::tells_of_else(item.tag) };
        aside || (!quiet && of_another) || has(&[Role::Supposed, Role::Reported])
    };
    let (from, to) = clause_of(at, items, notes);
    let from = from.min(at);
    // What a rule takes for trouble of the helmet names it.
    let named = outright(items[at].tag).is_some_and(|flag| !flag.is_body()) || items[at].word.contains(' ');
    let of_gear = named || items[from..to].iter().any(is_gear);
    let mends = |fix: &usize| {
        let here = (from.max(at.saturating_sub(NEAR))..at).contains(fix)
            && !is_of_the_new(*fix, at, items)
            && !is_done_badly(*fix, at, items);
        (*fix > at || here) && may_mend(*fix, flags, items)
    };
    notes.fixes.iter().any(mends)
        || notes.retracts.iter().any(|retract| *retract > at)
        || notes.supposed.iter().any(|(from, to)| (*from..*to).contains(&at))
        || (!of_gear && is_beside(&items[from..to], at - from, elsewhere))
        || is_denied_there(at, items)
        || is_denied_after(at, items)
}

/// Whether such an item stands right before the trouble, with nobody else's name between, or right after it.
fn is_beside(clause: &[Item], place: usize, such: impl Fn(&Item) -> bool) -> bool {
    let (before, after) = clause.split_at(place);
    let own = |item: &&Item| !matches!(item.tag, Tag::Me | Tag::It | Tag::Good | Tag::Ok | Tag::Checked);
    before.iter().rev().take(NEAR).take_while(own).any(&such) || after.iter().take(NEAR - 1).take_while(own).any(such)
}

/// "Tugged the mask, nothing", "i thought it was loose but no": a denial by itself.
fn is_denied_after(at: usize, items: &[Item]) -> bool {
    let seam = |item: &&Item| matches!(item.tag, Tag::Comma | Tag::Question | Tag::But | Tag::Fill);
    let mut rest = items[at + 1..].iter().take(NEAR).skip_while(seam);
    let denies = rest.next().is_some_and(|item| matches!(item.tag, Tag::Neg | Tag::None | Tag::Nah));
    denies && rest.next().is_none_or(|item| matches!(item.tag, Tag::Comma | Tag::Period))
}

/// "My strap is ruined": something is said of the part, in a word that the lexicon knows for nothing good.
fn says_something_of(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (_, to) = clause_of(at, items, notes);
    let says = |item: &Item| matches!(item.tag, Tag::Story | Tag::Mild | Tag::Other | Tag::Unit | Tag::Aside);
    items[at + 1..to.max(at + 1)].iter().any(says)
}

/// "My helmet is soup": the helmet or a part is said to be something that is neither good nor bad.
fn likens(items: &[Item]) -> bool {
    let quiet = |item: &&Item| matches!(item.tag, Tag::Glue | Tag::Too | Tag::Soft | Tag::Fill | Tag::Used);
    let other = |item: &Item| {
        matches!(item.tag, Tag::Story | Tag::Mild | Tag::Other | Tag::Unit)
            && item.word.starts_with(char::is_alphanumeric)
    };
    items.windows(3).enumerate().any(|(at, three)| {
        is_gear(&three[0])
            && three[1].roles.has(Role::Be)
            && items[at + 2..].iter().take(NEAR).find(|item| !quiet(item)).is_some_and(other)
    })
}

/// Whether the helmet or a part is named in the same clause.
fn names_gear(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = clause_of(at, items, notes);
    items[from.min(at)..to].iter().any(|item| is_gear(item) || matches!(item.tag, Tag::Points | Tag::It))
}

fn is_gear(item: &Item) -> bool {
    let gear = |tag: Tag| tag.is_part() || matches!(tag, Tag::Helmet | Tag::Pad);
    gear(item.tag) || item.was.is_some_and(gear)
}

/// "Bus 7 is late", "my brother wears 5": the number may be something else's.
fn is_told_of_else(at: usize, items: &[Item]) -> bool {
    let beside =
        |item: &Item| support::tells_of_else(item.tag) || matches!(item.tag, Tag::Limb | Tag::Mild | Tag::AtTime);
    let word = |item: &&Item| !matches!(item.tag, Tag::Glue | Tag::Used);
    let before = items[..at].iter().rev().take(NEAR).find(word);
    let after = items[at + 1..].iter().take(NEAR).find(word);
    before.is_some_and(beside) || after.is_some_and(|item| beside(item) || item.tag == Tag::Unit)
}

/// "Not one single thing on it bad": a denial stands before the trouble, and nothing that ends its reach.
fn is_denied_there(at: usize, items: &[Item]) -> bool {
    let mut before = items[..at].iter().rev().take(NEAR).take_while(|item| !ends_denial(item));
    // "No se mueve tanto": some of it is there.
    let lessens = |item: &Item| item.roles.has(Role::Amount) || item.roles.has(Role::Degree);
    let lessened = items[at + 1..].iter().take(NEAR / 2).any(lessens);
    !lessened && before.any(|item| matches!(item.tag, Tag::Neg | Tag::None))
}

fn ends_denial(item: &Item) -> bool {
    let part =
        matches!(item.tag, Tag::Comma | Tag::Period | Tag::Question | Tag::But | Tag::So | Tag::Sub | Tag::Except);
    // The first trouble is what it denies.
    let reached = is_trouble(item.tag) || outright(item.tag).is_some();
    part || reached
        || matches!(item.tag, Tag::Only | Tag::Aside | Tag::And)
        || item.roles.has(Role::Degree)
        || item.roles.has(Role::Excess)
}

/// How far from a word to look for what it belongs to.
const NEAR: usize = 5;

/// "I couldnt feel it so i did it again, everything passes": what was told on the way is settled by a later clause that says
/// that everything is well. A hedge, an exception and an unknown word are not.
fn is_settled(doubt: usize, items: &[Item], notes: &Notes) -> bool {
    // "Not good, all good".
    let denied = notes.denied_goods.contains(&doubt);
    let stays = items.get(doubt).is_none_or(|item| match item.tag {
        Tag::Doubt => !item.word.bytes().all(|byte| byte.is_ascii_digit()),
        // "5, all good".
        Tag::Points => !is_told_of_else(doubt, items),
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
