//! What the second reader may be asked about: what the grammar leaves open, and trouble that may be none.
//!
//! Invariant: every word is in some list or in the dictionary, or made of such, or guessed to be trouble and taken for it; and good news is
//! said. What may be asked about or excused has no hedge either, no good news denied, no repair or check that was not made; what may be
//! outweighed names no part, no body and no point in its trouble; what is told of the helmet in a longer reply is told where no clause and no
//! few words tell of trouble by themselves. A sign of concussion is never excused, outweighed nor rambled past.

use super::super::lex::{Item, Present};
use super::super::lexicon::{Tag, Tags};
use super::super::numbers::SIX;
use super::super::resolve::{is_reassuring, is_trouble, outright};
use super::super::roles::Role;
use super::super::scan::{Finding, Notes};
use super::super::{Lang, second, support};
use super::over::{LONGEST, clause_of, is_done_badly, is_of_the_new, may_mend};
use crate::flag::{Flag, Flags};

/// Whether the second reader may be asked about what the grammar leaves open: it has learned the language, every word is known,
/// and no doubt is of a kind that has to be settled.
pub(super) fn may_be_asked(items: &[Item], notes: &Notes, lang: Lang) -> bool {
    let stays = |doubt: &usize| {
        // Good news denied is bad news.
        notes.denied_goods.contains(doubt)
            || items.get(*doubt).is_some_and(|item| match item.tag {
                Tag::Points => !is_told_of_else(*doubt, items),
                Tag::Doubt if is_sign(item) => !is_of_else(*doubt, items, notes),
                Tag::Doubt if item.roles.has(Role::Odd) => names_gear(*doubt, items, notes),
                Tag::Unknown | Tag::Hedge | Tag::Admit | Tag::Fix | Tag::Checked => true,
                Tag::Symptom | Tag::RedFlag => true,
                // "No cracks except one".
                Tag::Except => notes.denies,
                // "The bus came, my helmet didnt".
                Tag::Neg | Tag::Nah => denies_gear_alone(*doubt, items),
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
    second::has_learned(lang)
        && !notes.patched
        && !items.is_empty()
        && items.len() <= LONGEST
        && items.iter().all(is_known)
        && !notes.doubts.iter().any(|doubt| stays(doubt) || trails(doubt))
}

/// An emoji: the second reader does not see what it says.
fn is_sign(item: &Item) -> bool {
    !item.word.starts_with(char::is_alphanumeric)
}

/// "My phone was dead all night 💀 helmet is good": a sign behind what is told of something else, before the good news.
fn is_of_else(at: usize, items: &[Item], notes: &Notes) -> bool {
    let elsewhere = |item: &Item| support::tells_of_else(item.tag) || item.tag == Tag::Aside;
    let otherwise = |item: &Item| is_gear(item) || is_reassuring(item.tag);
    items[..at].iter().any(elsewhere)
        && !items[..at].iter().any(otherwise)
        && notes.goods.iter().any(|good| good.from > at && good.reach != support::Reach::Loose)
}

/// Whether the word is in some list, or in the dictionary; what is guessed is not.
fn is_known(item: &Item) -> bool {
    !item.guessed && (item.tag != Tag::Unknown || item.roles.has(Role::Rare))
}

/// Whether all that was found may be no trouble of this helmet though the grammar takes it for some: there is good news, and
/// what was found is denied, mended, supposed or told of something else. Never a sign of concussion.
pub(super) fn may_be_excused(items: &[Item], notes: &Notes, findings: &[Finding], lang: Lang) -> bool {
    let stays = |item: &Item| matches!(item.tag, Tag::Hedge | Tag::Except | Tag::Admit);
    is_good_news_said(items, notes)
        && is_of_the_helmet(items, notes)
        && !notes.patched
        && may_be_asked(items, notes, lang)
        && !items.iter().any(stays)
        && findings.iter().all(|finding| is_excusable(finding, items, notes))
}

/// Whether whatever was found or doubted may be none of this helmet's or its wearer's trouble, for all that the grammar knows: every
/// word is known, good news is said besides, and there is no sign of concussion, no point named by number, no repair of one's own and
/// no good news denied.
pub(super) fn may_be_outweighed(items: &[Item], notes: &Notes, findings: &[Finding], lang: Lang) -> bool {
    let trouble = |item: &Item| is_trouble(item.tag) || outright(item.tag).is_some() || item.tag == Tag::Unknown;
    let own = |doubt: &usize| {
        items.get(*doubt).is_some_and(trouble)
            && (is_the_helmets(*doubt, items, notes) || is_the_wearers(*doubt, items, notes))
    };
    let body = |finding: &Finding| finding.flags.iter().any(Flag::is_body);
    is_open(items, notes, lang)
        && !likens(items, notes)
        && items.iter().all(is_known)
        && findings.iter().all(|finding| is_unnamed(finding, items) && !body(finding))
        && is_of_the_helmet(items, notes)
        && !findings.iter().any(|finding| is_the_helmets(finding.at, items, notes))
        && !notes.doubts.iter().any(own)
}

/// The same of a longer reply, whatever is told in it: no clause of it and no few words may tell of trouble by themselves. What was guessed
/// is taken for the trouble it may be.
pub(super) fn may_be_rambling(items: &[Item], notes: &Notes, findings: &[Finding], lang: Lang) -> bool {
    // "A mess but my uncle says its fine", "my helmet is crooked but ...": it can be said of nothing else.
    let alone = |doubt: &usize| {
        items.get(*doubt).is_some_and(|item| is_trouble(item.tag)) && !is_among_else(*doubt, items, notes)
    };
    // "Faltan but my uncle says its fine": so can this.
    let whole = |finding: &Finding| {
        let (from, to) = clause_of(finding.at, items, notes);
        items[from.min(finding.at)..to.max(finding.at)].iter().filter(|item| !says_nothing(item)).count() == 1
    };
    is_open(items, notes, lang)
        && !likens(items, notes)
        && items.iter().all(|item| item.guessed || is_known(item))
        && findings.iter().all(|finding| is_no_sign(finding, items) && !whole(finding))
        && !notes.doubts.iter().any(alone)
}

/// The same of a story: trouble may be all that a clause of it tells, or what something is likened to.
pub(super) fn may_be_straying(items: &[Item], notes: &Notes, findings: &[Finding], lang: Lang) -> bool {
    items.len() >= LONG
        && is_open(items, notes, lang)
        && items.iter().all(|item| item.guessed || is_known(item))
        && findings.iter().all(|finding| is_no_sign(finding, items))
}

/// Whether it is no sign of concussion, no red flag, nothing unnamed and no point named by number.
fn is_no_sign(finding: &Finding, items: &[Item]) -> bool {
    let sign = finding.flags.contains(Flag::Symptom) || finding.flags.contains(Flag::Unwell);
    is_unnamed(finding, items) && !sign
}

/// Whether good news is said, and no doubt stays, whatever else is said.
fn is_open(items: &[Item], notes: &Notes, lang: Lang) -> bool {
    // "#2 #4 #5 n ok": of the others nothing is said.
    let numbers = items.iter().filter(|item| item.tag == Tag::Points && item.points & SIX != SIX).count();
    let partly = numbers > 1
        && notes.parts == 0
        && notes.fine & SIX != SIX
        && notes.goods.iter().all(|good| good.reach == support::Reach::Loose);
    items.len() <= LONGEST
        && !partly
        && second::has_learned(lang)
        && is_good_news_said(items, notes)
        && !notes.patched
        && !notes.doubts.iter().any(|doubt| stays(*doubt, items, notes))
}

/// Whether it is no red flag, and no point named by number.
fn is_unnamed(finding: &Finding, items: &[Item]) -> bool {
    !finding.red && (!finding.numbers || is_told_of_else(finding.at, items))
}

/// Whether a reply in which nothing was found to be off may be well, though the grammar cannot place some word of it: the word is in the
/// dictionary and is not denied ("not grippin" may be trouble), and everything else is as for what may be outweighed.
pub(super) fn may_be_doubted(items: &[Item], notes: &Notes, lang: Lang) -> bool {
    let trouble = |doubt: &usize| {
        items.get(*doubt).is_some_and(|item| is_trouble(item.tag) || outright(item.tag).is_some())
            && is_the_helmets(*doubt, items, notes)
    };
    let denied = |two: &[Item]| matches!(two[0].tag, Tag::Neg | Tag::None) && two[1].tag == Tag::Unknown;
    is_open(items, notes, lang)
        && !likens(items, notes)
        && items.iter().all(is_known)
        && !notes.doubts.iter().any(trouble)
        && !items.windows(2).any(denied)
}

/// Replies of so many items may be stories.
const LONG: usize = 14;

/// Whether anything is said to be well, or denied to be amiss.
fn is_good_news_said(items: &[Item], notes: &Notes) -> bool {
    let good = |item: &Item| matches!(item.tag, Tag::Good | Tag::Ok | Tag::Praise) || was_good(item);
    let said = !notes.goods.is_empty() || notes.fine != 0 || notes.denies || !notes.fixes.is_empty();
    said || items.iter().any(good) || says_none(items)
}

/// "Nada, see you at practice", "no, none of them": a clause says no more than that there is nothing.
fn says_none(items: &[Item]) -> bool {
    let seam = |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::Question);
    let no_more = |item: &Item| {
        says_nothing(item) || matches!(item.tag, Tag::None | Tag::Nah | Tag::Neg | Tag::Affirm | Tag::Unit)
    };
    let says = |clause: &[Item]| {
        clause.iter().any(|item| item.tag == Tag::None) && clause.iter().all(|item| no_more(item) && !item.is_quote())
    };
    items.split(seam).any(says)
}

/// "All good at our house", "it was good when i checked": good news that a rule makes doubtful.
pub(super) fn was_good(item: &Item) -> bool {
    item.tag == Tag::Doubt && matches!(item.was, Some(Tag::Good | Tag::Ok | Tag::Praise))
}

/// A doubt that nothing outweighs.
fn stays(doubt: usize, items: &[Item], notes: &Notes) -> bool {
    notes.denied_goods.contains(&doubt)
        || items.get(doubt).is_some_and(|item| match item.tag {
            Tag::Points => !is_told_of_else(doubt, items),
            Tag::Symptom | Tag::RedFlag | Tag::Fix | Tag::Checked => true,
            Tag::Hedge => item.roles.has(Role::Stays) || item.word.starts_with(|c: char| c.is_ascii_digit()),
            Tag::Doubt => is_sign(item) && !is_of_else(doubt, items, notes),
            Tag::Neg | Tag::Nah => denies_gear_alone(doubt, items),
            _ => false,
        })
}

/// Whether anything is said of the helmet, of the check or of everything: "it had fresh jokes and no twists" is about something else.
fn is_of_the_helmet(items: &[Item], notes: &Notes) -> bool {
    let gear = |item: &Item| {
        is_gear(item) || matches!(item.tag, Tag::Checked | Tag::Points) || item.roles.has(Role::Contrasts)
    };
    notes.goods.iter().any(|good| good.reach != support::Reach::Loose) || items.iter().any(gear)
}

/// Whether trouble named there can be nobody's but the helmet's: it or a part is named, or nothing else.
fn is_the_helmets(at: usize, items: &[Item], notes: &Notes) -> bool {
    let names_a_part = outright(items[at].tag).is_some_and(|flag| !flag.is_body()) || items[at].several;
    names_a_part || names_gear(at, items, notes) || !is_among_else(at, items, notes) || follows_a_rule(at, items)
}

/// "I capsized, all good": nobody knows what became of whoever writes.
fn is_the_wearers(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = clause_of(at, items, notes);
    items[at].tag == Tag::Unknown && items[from.min(at)..to].iter().any(|item| item.tag == Tag::Me)
}

fn is_excusable(finding: &Finding, items: &[Item], notes: &Notes) -> bool {
    if finding.red || finding.flags.contains(Flag::Symptom) || finding.flags.contains(Flag::Unwell) {
        return false;
    }
    if finding.numbers {
        return is_told_of_else(finding.at, items);
    }
    // "Cierra bien": a rule took good news for trouble.
    let was_good = outright(items[finding.at].tag).is_none() && items[finding.at].was.is_some_and(is_reassuring);
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
    let named = outright(items[at].tag).is_some_and(|flag| !flag.is_body()) || items[at].several;
    let of_gear = named || items[from..to].iter().any(is_gear);
    let mends = |fix: &usize| {
        let here = (from.max(at.saturating_sub(NEAR))..at).contains(fix)
            && !is_of_the_new(*fix, at, items)
            && !is_done_badly(*fix, at, items);
        (*fix > at || here)
            && may_mend(*fix, flags, items)
            && !(*fix > at && is_passed_over(at, *fix, flags, items, notes))
    };
    notes.fixes.iter().any(mends)
        || notes.retracts.iter().any(|retract| *retract > at)
        || notes.supposed.iter().any(|(from, to)| (*from..*to).contains(&at))
        || (!of_gear && is_beside(&items[from..to], at - from, elsewhere))
        // "Strap isnt ok", "mask no": there the denial is the trouble.
        || (!is_reassuring(items[at].tag)
            && !items[at].tag.is_part()
            && (is_denied_there(at, items) || is_denied_after(at, items)))
        || is_contrasted(at, from, items)
        || is_set_against_else(at, items)
        || was_supposed(at, from, !notes.fixes.is_empty(), items)
}

/// "The mask is loose, one snap was gone but they put a new one in": other trouble is told between it and the repair, and it is
/// not told of as over.
fn is_passed_over(at: usize, fix: usize, flags: Flags, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = clause_of(at, items, notes);
    let past = |item: &Item| item.roles.has(Role::Past) || item.roles.has(Role::LongAgo) || item.roles.has(Role::When);
    // "The squeaky screw is gone".
    let gone = Flags::from_iter([Flag::Missing]);
    let another =
        |other: &Finding| (at + 1..fix).contains(&other.at) && !other.flags.minus(flags).minus(gone).is_empty();
    notes.findings.iter().any(another) && !items[from.min(at)..to].iter().any(past)
}

/// "My stick is cracked, not my helmet", "the truck is missing a screw, my helmet aint": said of something else, and denied of the
/// helmet. Also the denial itself, where it was taken for another's helmet.
fn is_contrasted(at: usize, from: usize, items: &[Item]) -> bool {
    if items[at].roles.has(Role::Contrasts) {
        let own = at
            .checked_sub(1)
            .is_none_or(|before| matches!(items[before].tag, Tag::It | Tag::Me) || items[before].roles.has(Role::Be));
        return !own && items[from..at].iter().any(|item| is_trouble(item.tag));
    }
    if items[from..=at].iter().any(is_gear) {
        return false;
    }
    let ends = |place: usize| items.get(place).is_none_or(|item| matches!(item.tag, Tag::Comma | Tag::Period));
    let neg = |item: &Item| matches!(item.tag, Tag::Neg | Tag::Nah);
    let quiet = |item: &Item| matches!(item.tag, Tag::Glue | Tag::Used | Tag::Fill | Tag::Comma);
    for place in at + 1..items.len().min(at + 2 * NEAR) {
        let item = &items[place];
        if item.roles.has(Role::Contrasts) {
            return true;
        }
        if item.tag == Tag::Helmet {
            let denied_before = items[at + 1..place].iter().rev().find(|item| !quiet(item)).is_some_and(neg);
            let glue = |item: &Item| matches!(item.tag, Tag::Glue | Tag::Used);
            let after = items[place + 1..].iter().position(|item| !glue(item)).map(|skip| place + 1 + skip);
            let denied_after = after.is_some_and(|after| neg(&items[after]) && ends(after + 1));
            return (denied_before && ends(place + 1)) || denied_after;
        }
        if is_gear(item) {
            return false;
        }
    }
    false
}

/// "The bike chain fell off, mask bolts didnt", "lost my homework, not my helmet": denied of the helmet or a part right after trouble of
/// something else, of which nothing good is told.
fn is_set_against_else(at: usize, items: &[Item]) -> bool {
    let Some((first, last)) = denial_of_gear(at, items) else { return false };
    let seam = |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::But | Tag::And);
    let next = items[last + 1..].iter().find(|item| !says_nothing(item));
    if next.is_some_and(|item| !seam(item) && !is_reassuring(item.tag)) {
        return false;
    }
    let told = items[..first].iter().rev().skip_while(|item| says_nothing(item) || seam(item));
    let told: Vec<&Item> = told.take(2 * NEAR).take_while(|item| item.tag != Tag::Period).collect();
    let elsewhere = |item: &&Item| support::tells_of_else(item.tag) || item.tag == Tag::Aside;
    let otherwise = |item: &&Item| {
        is_gear(item)
            || is_reassuring(item.tag)
            || matches!(item.tag, Tag::Points | Tag::It | Tag::Fix | Tag::Checked | Tag::Neg)
    };
    told.iter().any(elsewhere) && told.iter().any(|item| may_be_trouble(item)) && !told.iter().any(otherwise)
}

/// "My helmet no": the helmet or a part and a denial are the whole clause, and it is not set against anything.
pub(super) fn denies_gear_alone(denial: usize, items: &[Item]) -> bool {
    let ends = |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period);
    let gear = (0..denial).rev().find(|place| !says_nothing(&items[*place])).filter(|before| is_gear(&items[*before]));
    let whole = items[denial + 1..].iter().find(|item| !says_nothing(item)).is_none_or(ends);
    whole && gear.is_some_and(|gear| !is_set_against_else(gear, items))
}

/// Where a denial of the helmet or a part begins and ends: "mask bolts didnt", "not the strap".
fn denial_of_gear(at: usize, items: &[Item]) -> Option<(usize, usize)> {
    let item = &items[at];
    let denies = |tag: Tag| matches!(tag, Tag::Neg | Tag::Nah);
    // Where a rule or a list has it as one.
    let whole = item.opens.is_some_and(denies) || item.was == Some(Tag::Neg);
    if whole && outright(item.tag).is_some_and(|flag| !flag.is_body()) {
        return Some((at, at));
    }
    let after =
        (at + 1..items.len()).find(|place| !says_nothing(&items[*place])).filter(|after| denies(items[*after].tag));
    let before = (0..at).rev().find(|place| !says_nothing(&items[*place])).filter(|before| denies(items[*before].tag));
    let gear = is_gear(item).then_some(());
    gear.and(after.map(|after| (at, after)).or_else(|| before.map(|before| (before, at))))
}

/// "Used to slide", "i thought it was loose", "le faltaba un tornillo" and a repair: so it was, or was taken for.
fn was_supposed(at: usize, from: usize, fixed: bool, items: &[Item]) -> bool {
    let supposed = |item: &Item| item.roles.has(Role::Supposed);
    (fixed && items[at].roles.has(Role::Past)) || items[from.max(at.saturating_sub(NEAR))..at].iter().any(supposed)
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
pub(super) fn says_something_of(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (_, to) = clause_of(at, items, notes);
    let says = |item: &Item| matches!(item.tag, Tag::Story | Tag::Mild | Tag::Other | Tag::Unit | Tag::Aside);
    items[at + 1..to.max(at + 1)].iter().any(says)
}

/// "My helmet is soup": the helmet or a part is said to be something that is neither good nor bad. "My helmet is dry and solid" and
/// "more solid than my grades" say the good as well; "it was riding low" is not said of today.
pub(super) fn likens(items: &[Item], notes: &Notes) -> bool {
    let Present { tags, roles } = notes.present;
    if !roles.has(Role::Be) || !tags.meets(GEAR) {
        return false;
    }
    let quiet = |item: &Item| matches!(item.tag, Tag::Glue | Tag::Too | Tag::Soft | Tag::Fill | Tag::Used);
    let other = |item: &Item| {
        matches!(item.tag, Tag::Story | Tag::Mild | Tag::Other | Tag::Unit)
            && item.word.starts_with(char::is_alphanumeric)
    };
    let praised = |named: usize| {
        let mut said = items[named + 1..].iter().filter(|item| !quiet(item)).map(|item| item.tag);
        let next = said.next();
        let then = if next == Some(Tag::And) && items[named].tag == Tag::Mild { said.next() } else { next };
        matches!(then, Some(Tag::Good | Tag::Praise | Tag::Ok))
    };
    items.windows(3).enumerate().any(|(at, three)| {
        let named = items[at + 2..].iter().take(NEAR).position(|item| !quiet(item)).map(|skip| at + 2 + skip);
        GEAR.has(three[0].tag)
            && three[1].roles.has(Role::Be)
            && !three[1].roles.has(Role::Past)
            && named.is_some_and(|named| other(&items[named]) && !praised(named))
    })
}

/// "My phone is cracked and my helmet too", "the dog ate my homework and my strap": the helmet or a part is named after trouble of
/// something else, with nothing said of it, so that what was said before may be said of it as well.
pub(super) fn shares_the_trouble(items: &[Item], notes: &Notes) -> bool {
    let joins = Tags::of(&[Tag::Also, Tag::And, Tag::So]);
    if !notes.present.tags.meets(GEAR) || !notes.present.tags.meets(joins) {
        return false;
    }
    let ends = |item: &Item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::But);
    let told = |at: usize| {
        let clause = items[..at].iter().rev().take_while(|item| !is_reassuring(item.tag) && item.tag != Tag::Period);
        let clause: Vec<&Item> = clause.take(3 * NEAR).collect();
        let settled = |item: &&Item| matches!(item.tag, Tag::Neg | Tag::None | Tag::Nah | Tag::Fix | Tag::Checked);
        !clause.iter().any(settled) && clause.iter().any(|item| may_be_trouble(item))
    };
    let well = |at: usize| {
        items[..at].iter().rev().take_while(|item| item.tag != Tag::Period).any(|item| is_reassuring(item.tag))
    };
    (1..items.len().min(LONGEST)).filter(|at| GEAR.has(items[*at].tag)).any(|at| {
        let before = items[..at].iter().rev().find(|item| !says_nothing(item)).map(|item| item.tag);
        let after = items[at + 1..].iter().find(|item| !says_nothing(item));
        let too = after.is_some_and(|item| item.tag == Tag::Also);
        let alone = after.is_none_or(ends);
        (too && !well(at)) || (alone && matches!(before, Some(Tag::And | Tag::So | Tag::Also)) && told(at))
    })
}

/// Between what says something.
const fn says_nothing(item: &Item) -> bool {
    matches!(item.tag, Tag::Glue | Tag::Used | Tag::Fill)
}

/// Trouble of whatever it is told, also where it was set aside.
fn may_be_trouble(item: &Item) -> bool {
    is_trouble(item.tag)
        || outright(item.tag).is_some()
        || item.tag == Tag::Hit
        || item.was.is_some_and(is_trouble)
        || item.roles.has(Role::Odd)
        || item.roles.has(Role::Leaves)
}

/// Whether the clause tells of something besides the helmet: "crooked, all good" does not.
pub(super) fn is_among_else(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = clause_of(at, items, notes);
    let elsewhere = |item: &Item| {
        support::tells_of_else(item.tag) || (item.tag == Tag::Aside && item.was.is_some_and(support::tells_of_else))
    };
    let other = |(place, item): (usize, &Item)| place != at && elsewhere(item);
    (from.min(at)..to).map(|place| (place, &items[place])).any(other)
}

/// "Nothing loose crown is bad": a rule took the words before it for something.
fn follows_a_rule(at: usize, items: &[Item]) -> bool {
    items[..at].iter().rev().find(|item| item.tag != Tag::Glue).is_some_and(|item| item.tag == Tag::Used)
}

/// Whether the helmet or a part is named in the same clause.
pub(super) fn names_gear(at: usize, items: &[Item], notes: &Notes) -> bool {
    let (from, to) = clause_of(at, items, notes);
    items[from.min(at)..to].iter().any(|item| is_gear(item) || matches!(item.tag, Tag::Points | Tag::It))
}

fn is_gear(item: &Item) -> bool {
    GEAR.has(item.tag) || item.was.is_some_and(|was| GEAR.has(was))
}

const GEAR: Tags = Tags::PARTS.and(Tags::of(&[Tag::Helmet]));

/// "Bus 7 is late", "my brother wears 5": the number may be something else's.
pub(super) fn is_told_of_else(at: usize, items: &[Item]) -> bool {
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
        || matches!(item.tag, Tag::Only | Tag::Aside | Tag::And | Tag::Good | Tag::Ok | Tag::Praise)
        || item.roles.has(Role::Degree)
        || item.roles.has(Role::Excess)
}

/// How far from a word to look for what it belongs to.
pub(super) const NEAR: usize = 5;
