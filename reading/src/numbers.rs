//! Settles what each numeral in a reply stands for: check points, a count, a time, a score.
//!
//! Invariant: a numeral whose part is not settled is left as doubt, never dropped.

use super::lex::Item;
use super::lexicon::{Lexicon, Tag, Tags};
use super::roles::Role;

/// The seventh: "you don't feel right".
pub(super) const UNWELL_POINT: u8 = 1 << 6;

/// The six check points of the helmet.
pub(super) const SIX: u8 = 0b011_1111;

/// Takes the question out of a reply that quotes it, as a phone's reactions do ("Liked “Helmet check: 1 brow 2 grip
/// ...”"): what is quoted was not said, and whether it was meant as an answer is in doubt.
pub(super) fn set_aside_the_question(items: &mut [Item], lexicon: &Lexicon) {
    let Some(from) = items.iter().position(Item::is_quote) else { return };
    let to = items.iter().rposition(Item::is_quote).filter(|to| *to > from).unwrap_or(items.len() - 1);
    let pairs =
        items[from..=to].windows(2).filter(|pair| value(&pair[0], lexicon).is_some_and(|n| own_part(n, pair[1].tag)));
    // A long one is cut short ("Laughed at “Helmet check: 1 brow ... 2 grip …”").
    let whole = from <= OPENING && to + 1 == items.len();
    if pairs.count() < if whole { 1 } else { 3 } {
        return;
    }
    for item in &mut items[from..=to] {
        item.tag = Tag::Used;
    }
    items[from].tag = Tag::Doubt;
}

/// A reaction says in so many words at most who did what, before it quotes.
const OPENING: usize = 5;

/// Whether the part is the one that the number stands for.
const fn own_part(number: u32, part: Tag) -> bool {
    matches!(
        (number, part),
        (1, Tag::Brow)
            | (2, Tag::Grip | Tag::Forehead)
            | (3, Tag::Crown)
            | (4, Tag::Cheeks)
            | (5, Tag::Strap)
            | (6, Tag::Hardware)
    )
}

/// "1. good 2. loose 3. good", "1. brow fine 2. grip fine": the points of a list, not ends of sentences.
fn open_list(items: &mut [Item], lexicon: &Lexicon) {
    let numbered = |items: &[Item], at: usize| {
        let digit = items[at].tag == Tag::Number && value(&items[at], lexicon).is_some_and(|n| (1..=7).contains(&n));
        let mark = items.get(at + 1).is_some_and(|item| matches!(item.word.as_str(), "." | ")" | ":" | "-"));
        let own = |part: Tag| value(&items[at], lexicon).is_some_and(|number| own_part(number, part));
        let said = |next: &Item| super::resolve::is_predicate(next.tag) || own(next.tag);
        digit && mark && items.get(at + 2).is_some_and(said)
    };
    let points: Vec<usize> = (0..items.len()).filter(|at| numbered(items, *at)).collect();
    if points.len() < 2 {
        return;
    }
    for at in points {
        items[at + 1].tag = Tag::Glue;
        items[at + 1].clear_word();
    }
}

/// "1. two of my fingers fit. 2. skin moves. 3. ...", "uno, caben dos dedos. dos, ...": all six in order, each before what is said of it,
/// which says it without its number. Where any of it may be trouble, the number tells which.
fn number_clauses(items: &mut [Item], lexicon: &Lexicon) {
    let value = |item: &Item| {
        let counts = item.tag == Tag::Glue && lexicon.numeral(&item.word) == Some(1);
        value(item, lexicon).or(counts.then_some(1))
    };
    // A rule may have taken the mark before it.
    let ends = |item: &Item| {
        matches!(item.tag, Tag::Period | Tag::Comma | Tag::Fill) || matches!(item.word.as_str(), "." | "," | ";")
    };
    let begins = |items: &[Item], at: usize| at.checked_sub(1).is_none_or(|before| ends(&items[before]));
    let marked = |items: &[Item], at: usize| {
        items.get(at + 1).is_some_and(|item| matches!(item.word.as_str(), "." | ")" | ":" | "-" | ","))
    };
    let labels: Vec<(usize, u32)> = (0..items.len())
        .filter(|at| begins(items, *at) && marked(items, *at))
        .filter_map(|at| value(&items[at]).map(|number| (at, number)))
        .collect();
    let six = [6, 7].contains(&labels.len()) && labels.iter().zip(1..).all(|((_, number), place)| *number == place);
    let next = |clause: usize| labels.get(clause + 1).map_or(items.len(), |(at, _)| *at);
    let is_said = |clause: usize| {
        let said = items.get(labels[clause].0 + 2..next(clause)).unwrap_or_default();
        let trouble = said.iter().any(|item| {
            super::resolve::is_trouble(item.tag) || super::resolve::outright(item.tag).is_some() || item.tag == Tag::But
        });
        let moves = said.iter().any(|item| item.tag == Tag::Forehead) && said.iter().any(|item| item.tag == Tag::Move);
        let denies = said.iter().any(|item| matches!(item.tag, Tag::Neg | Tag::None));
        let solid = |item: &&Item| !matches!(item.tag, Tag::Comma | Tag::Period);
        said.iter().find(solid).is_some() && (!trouble || moves != denies)
    };
    // "1. good 2. good" says it with its number.
    let bare = |(at, _): &(usize, u32)| items.get(at + 2).is_some_and(|next| super::resolve::is_predicate(next.tag));
    if six && !labels.iter().all(bare) && (0..labels.len()).all(is_said) {
        for (at, _) in labels {
            for item in &mut items[at..at + 2] {
                item.tag = Tag::Glue;
                item.clear_word();
            }
        }
    }
}

/// "👍👎👍👍👍👍", "y n y y y y": six or seven answers and nothing else are one to a point.
fn row_of_answers(items: &mut [Item]) {
    if !matches!(items.len(), 6 | 7) {
        return;
    }
    let answer = |item: &Item| match item.tag {
        _ if item.roles.has(Role::Yes) => Some(Tag::Yes),
        _ if item.roles.has(Role::No) => Some(Tag::Cross),
        _ if matches!(item.tag, Tag::Yes | Tag::Cross) => Some(item.tag),
        _ => None,
    };
    let answers: Vec<Tag> = items.iter().filter_map(answer).collect();
    if answers.len() == items.len() {
        for (item, tag) in items.iter_mut().zip(answers) {
            item.tag = tag;
        }
    }
}

/// "One and four": a word that mostly counts nothing names the first point at the head of a list.
fn ones_in_lists(items: &mut [Item], lexicon: &Lexicon) {
    let [one, join, next, ..] = items else { return };
    let counts = |item: &Item| matches!(item.tag, Tag::Number | Tag::Numeral);
    // "One and four", "one two three".
    let listed = (matches!(join.tag, Tag::And | Tag::Comma) || counts(join)) && counts(next);
    if one.tag == Tag::Glue && lexicon.numeral(&one.word) == Some(1) && listed {
        one.tag = Tag::Numeral;
    }
}

/// "1 y 2 y 3 n", "1 good 2 good 3 bad": a number and an answer, in turn, and nothing else.
fn numbered_answers(items: &mut [Item], lexicon: &Lexicon) {
    let number = |item: &Item| item.tag == Tag::Number && value(item, lexicon).is_some_and(|n| (1..=7).contains(&n));
    let answer = |item: &Item| item.roles.has(Role::Yes) || item.roles.has(Role::No);
    let pairs = items.len() / 2;
    if pairs < 3 || !items.len().is_multiple_of(2) || !items.chunks(2).all(|pair| number(&pair[0]) && answer(&pair[1]))
    {
        return;
    }
    // "1 n 2 good 6 bad": there the letter joins.
    let any = |such: fn(Tag) -> bool| items.chunks(2).any(|pair| such(pair[1].tag));
    if any(|tag| tag == Tag::And) && any(|tag| matches!(tag, Tag::Good | Tag::Ok | Tag::Bad)) {
        return;
    }
    for pair in items.chunks_mut(2) {
        let seventh = value(&pair[0], lexicon) == Some(7);
        // The seventh asks whether something is off: "no" is the good answer to it, "bad" is not.
        let asked = seventh && !matches!(pair[1].tag, Tag::Good | Tag::Ok | Tag::Bad);
        let well = pair[1].roles.has(Role::Yes) != asked;
        pair[1].tag = if well { Tag::Good } else { Tag::Bad };
    }
}

const NUMERALS: Tags = Tags::of(&[Tag::Number, Tag::Numeral, Tag::Ordinal]);

/// Retags every numeral; `present` are the tags among the items.
pub(super) fn settle(items: &mut [Item], lexicon: &Lexicon, present: Tags) {
    row_of_answers(items);
    short_row(items);
    if !present.meets(NUMERALS) {
        return;
    }
    ones_in_lists(items, lexicon);
    numbered_answers(items, lexicon);
    number_clauses(items, lexicon);
    open_list(items, lexicon);
    let plain = items.iter().all(|item| is_list_like(item.tag));
    let mut at = 0;
    while at < items.len() {
        at = match items[at].tag {
            Tag::Number | Tag::Numeral => settle_one(items, at, plain, lexicon),
            Tag::Ordinal => settle_ordinal(items, at, plain, lexicon),
            _ => at + 1,
        };
    }
    correct(items);
}

/// Four or five marks and nothing else: of the others nothing is said.
fn short_row(items: &mut [Item]) {
    if matches!(items.len(), 4 | 5) && items.iter().all(|item| item.tag == Tag::Yes) {
        items[0].tag = Tag::Doubt;
    }
}

/// "5, digo 6": a word that says what was meant, between two numbers.
fn correct(items: &mut [Item]) {
    for at in 1..items.len().saturating_sub(1) {
        let number = |item: &Item| item.tag == Tag::Points;
        let solid = |item: &&Item| !matches!(item.tag, Tag::Comma | Tag::Period | Tag::Used | Tag::Glue);
        if items[at].roles.has(Role::Corrects)
            && items[..at].iter().rev().find(solid).is_some_and(number)
            && items[at + 1..].iter().find(solid).is_some_and(number)
        {
            items[at].tag = Tag::Correct;
        }
    }
}

const fn is_list_like(tag: Tag) -> bool {
    matches!(
        tag,
        Tag::Number
            | Tag::Numeral
            | Tag::Ordinal
            | Tag::Except
            | Tag::All
            | Tag::Comma
            | Tag::Period
            | Tag::And
            | Tag::Joiner
            | Tag::Fill
            | Tag::Affirm
            | Tag::Bad
            | Tag::Good
            | Tag::Ok
            | Tag::Also
            | Tag::Only
            | Tag::But
            | Tag::So
            | Tag::Label
            | Tag::Used
    )
}

fn value(item: &Item, lexicon: &Lexicon) -> Option<u32> {
    match item.tag {
        Tag::Numeral => lexicon.numeral(&item.word),
        Tag::Number => item.word.parse().ok(),
        _ => None,
    }
}

/// Settles the numeral at `at` and returns where to go on.
fn settle_one(items: &mut [Item], at: usize, plain: bool, lexicon: &Lexicon) -> usize {
    if let Some(next) = clock_or_score(items, at, lexicon) {
        return next;
    }
    // "5s bad", but "6s all good".
    let off = |item: &Item| super::resolve::is_trouble(item.tag) || item.tag == Tag::Neg;
    if items.get(at + 1).is_some_and(|next| next.word == "s") && items.get(at + 2).is_some_and(off) {
        items[at + 1].tag = Tag::Glue;
    }
    let before = at.checked_sub(1).map(|i| items[i].tag);
    let after = items.get(at + 1).map(|item| item.tag);
    let Some(number) = value(&items[at], lexicon) else {
        items[at].tag = Tag::Doubt;
        return at + 1;
    };
    if let Some(next) = decimal(items, at) {
        return next;
    }
    let unit = after == Some(Tag::Unit) || items.get(at + 1).is_some_and(|item| item.roles.has(Role::Finger));
    if let Some(next) = long_score(items, at, number, lexicon) {
        return next;
    }
    if unit && number != 6 && items[at + 1].roles.has(Role::OfThem) {
        items[at].tag = Tag::Doubt;
        return at + 1;
    }
    if before == Some(Tag::AtTime) || unit {
        items[at].tag = Tag::Fill;
        return at + 1;
    }
    if let Some(next) = range(items, at, number, lexicon) {
        return next;
    }
    if stands_for_a_word(items, at, number) {
        items[at].tag = Tag::Glue;
        return at + 1;
    }
    let follows = |role: Role| at.checked_sub(1).is_some_and(|i| items[i].roles.has(role));
    // "Be there in 5", "lab until 4, so ill check after".
    let ends = |tags: &[Tag]| after.is_none_or(|tag| tags.contains(&tag));
    if (ends(&[Tag::Period]) && follows(Role::Within))
        || (ends(&[Tag::Period, Tag::Comma, Tag::So, Tag::But]) && follows(Role::Until))
    {
        items[at].tag = Tag::Doubt;
        return at + 1;
    }
    if let Some(mask) = counted(before, number) {
        return points(items, at, 1, mask);
    }
    if items[at].tag == Tag::Numeral && !is_point_word(items, at, number, lexicon) {
        items[at].tag = Tag::Glue;
        return at + 1;
    }
    if number == 0 {
        items[at].tag = Tag::None;
    } else if is_count_of(items, at, number, lexicon)
        || is_someone(items, at, lexicon)
        || counts_things(items, at, lexicon)
    {
        items[at].tag = Tag::Glue;
    } else if number == 7 && is_denied(items, at) {
        use_up(items, at, 2);
        items[at].tag = Tag::Fill;
        return at + 2;
    } else if (1..=7).contains(&number) {
        return points(items, at, 1, 1 << (number - 1));
    } else if let Some(mask) = run_together(&items[at].word).filter(|_| plain && before != Some(Tag::Label)) {
        return points(items, at, 1, mask);
    } else if is_of_something_else(items, at, number) {
        items[at].tag = Tag::Glue;
    } else if matches!(before, Some(Tag::Label | Tag::Helmet))
        || at.checked_sub(1).is_some_and(|i| items[i].roles.has(Role::Article))
    {
        items[at].tag = Tag::Fill;
    } else {
        items[at].tag = Tag::Doubt;
    }
    at + 1
}

/// "The 4th one", "2nd n 3rd", "all but the 6th": a point where nothing else is counted by it.
fn settle_ordinal(items: &mut [Item], at: usize, plain: bool, lexicon: &Lexicon) -> usize {
    let counted = items.get(at + 1).is_some_and(|item| item.roles.has(Role::Counted));
    let next = items.get(at + 1 + usize::from(counted)).map(|item| item.tag);
    let ends = next.is_none_or(|tag| {
        matches!(tag, Tag::Period | Tag::Comma | Tag::But | Tag::And | Tag::Neg) || super::resolve::is_trouble(tag)
    });
    let before = items[..at].iter().rev().map(|item| item.tag).find(|tag| *tag != Tag::Glue);
    let set_apart = matches!(before, Some(Tag::Except | Tag::Label | Tag::But));
    let number = lexicon.numeral(&items[at].word).filter(|number| (1..=7).contains(number));
    match number {
        Some(number) if counted || plain || (ends && set_apart) => {
            points(items, at, 1 + usize::from(counted), 1 << (number - 1))
        }
        _ => {
            let digits = items[at].word.starts_with(|c: char| c.is_ascii_digit());
            items[at].tag = if digits { Tag::Doubt } else { Tag::Story };
            at + 1
        }
    }
}

fn points(items: &mut [Item], at: usize, length: usize, mask: u8) -> usize {
    use_up(items, at, length);
    items[at].tag = Tag::Points;
    items[at].points = mask;
    at + length
}

fn use_up(items: &mut [Item], at: usize, length: usize) {
    items[at].reach_to(items[at + length - 1].span);
    for item in &mut items[at + 1..at + length] {
        item.tag = Tag::Used;
    }
}

/// "7:30", "6/6", "6 for 6", "5 outta 6", "10/10".
fn clock_or_score(items: &mut [Item], at: usize, lexicon: &Lexicon) -> Option<usize> {
    let [first, middle, last, ..] = items.get(at..)? else { return None };
    let (a, b) = (value(first, lexicon)?, value(last, lexicon)?);
    if middle.word == ":" {
        use_up(items, at, 3);
        items[at].tag = Tag::Fill;
        return Some(at + 3);
    }
    let score = middle.word == "/" || middle.roles.has(Role::OutOf);
    // "4/5 off".
    let two = middle.word == "/" && items.get(at + 3).is_some_and(|item| super::resolve::is_trouble(item.tag));
    // "2/5", "1/3/5".
    let counts = items.get(at + 3).is_some_and(|item| item.tag == Tag::Unit || item.roles.has(Role::OutOf));
    let slash = |item: Option<&Item>| item.is_some_and(|item| item.word == "/");
    let goes_on = slash(items.get(at + 3)) || slash(at.checked_sub(1).map(|before| &items[before]));
    // "Strap 3/4": of so many snaps.
    let of_part = at.checked_sub(1).is_some_and(|before| items[before].tag.is_part());
    let list = middle.word == "/" && a > 0 && (b < 6 || (goes_on && b == 6)) && !counts && !of_part;
    if !score || ((two || list) && a < b) {
        return None;
    }
    use_up(items, at, 3);
    items[at].tag = match (a, b) {
        (6 | 7 | 10 | 20 | 100, _) if a == b => Tag::Good,
        // "5/6 all good": one of the six is not.
        (_, 6) if a < b => Tag::Hedge,
        _ => Tag::Doubt,
    };
    Some(at + 3)
}

/// "42 to 7": the score of a game.
fn long_score(items: &mut [Item], at: usize, from: u32, lexicon: &Lexicon) -> Option<usize> {
    let joins = items.get(at + 1).is_some_and(|item| item.word == "-" || item.roles.has(Role::ScoreTo));
    let to = items.get(at + 2).and_then(|item| value(item, lexicon))?;
    if !joins || from <= 7 || items[at].tag != Tag::Number || to > 99 {
        return None;
    }
    use_up(items, at, 3);
    items[at].tag = Tag::Story;
    Some(at + 3)
}

/// "3 eggs", "2 movies": a count of things that are not the helmet's.
fn counts_things(items: &[Item], at: usize, lexicon: &Lexicon) -> bool {
    let thing = |word: &str| lexicon.single(word).is_some_and(|entry| matches!(entry.tag, Tag::Story | Tag::Other));
    let stem = |word: &str| lexicon.endings.plural.iter().any(|end| word.strip_suffix(end.as_str()).is_some_and(thing));
    items
        .get(at + 1)
        .is_some_and(|item| matches!(item.tag, Tag::Story | Tag::Other) && item.word.len() > 3 && stem(&item.word))
}

/// "7 no i feel fine": the seventh asks whether something does not feel right.
fn is_denied(items: &[Item], at: usize) -> bool {
    let says_no = items.get(at + 1).is_some_and(|item| item.roles.has(Role::Opens));
    says_no
        && items
            .get(at + 2)
            .is_none_or(|item| matches!(item.tag, Tag::Me | Tag::Comma | Tag::Period | Tag::Fill | Tag::Good))
}

/// "All good 4 me", "made 4 me", "good 2 skate".
fn stands_for_a_word(items: &[Item], at: usize, number: u32) -> bool {
    let well = |item: &Item| matches!(item.tag, Tag::Good | Tag::Ok | Tag::Praise | Tag::Fit);
    let before = at.checked_sub(1).map(|i| &items[i]);
    let after = items.get(at + 1);
    let ends =
        items.get(at + 2).is_none_or(|item| matches!(item.tag, Tag::Comma | Tag::Period | Tag::Fill | Tag::Good));
    match number {
        4 => {
            after.is_some_and(|item| item.roles.has(Role::Whom))
                && before.is_some_and(|item| well(item) || item.tag == Tag::Story)
        }
        2 => after.is_some_and(|item| item.tag == Tag::Story) && ends && before.is_some_and(well),
        _ => false,
    }
}

/// How far words may stand from a number that is told of with them.
const NEAR: usize = 20;

/// "On rt 35", "22 2 at half": a number over nine among words, that rates nothing, is none of the helmet's.
fn is_of_something_else(items: &[Item], at: usize, number: u32) -> bool {
    let near = &items[at.saturating_sub(NEAR)..items.len().min(at + NEAR)];
    let tells = |item: &&Item| matches!(item.tag, Tag::Story | Tag::Other | Tag::Person | Tag::Name);
    let words = near.iter().filter(tells).take(2).count();
    let rates = |item: &Item| matches!(item.tag, Tag::Unit | Tag::Hedge | Tag::Joiner) || item.word == "%";
    let before = at.checked_sub(1).map(|i| &items[i]);
    number > 9
        && words == 2
        && !before.is_some_and(|item| item.roles.has(Role::About) || item.tag == Tag::Hedge)
        && !items.get(at + 1).is_some_and(rates)
}

/// "101.5": a measure. Nothing may stand between the digits and the point.
fn decimal(items: &mut [Item], at: usize) -> Option<usize> {
    let [first, middle, last, ..] = items.get(at..)? else { return None };
    let tight = first.span.1 == middle.span.0 && middle.span.1 == last.span.0;
    let is_one = first.tag == Tag::Number && middle.word == "." && last.tag == Tag::Number && first.word.len() > 1;
    if !tight || !is_one {
        return None;
    }
    use_up(items, at, 3);
    items[at].tag = Tag::Fill;
    Some(at + 3)
}

/// "1-6", "4 thru 6", "del 1 al 3".
fn range(items: &mut [Item], at: usize, from: u32, lexicon: &Lexicon) -> Option<usize> {
    let joiner = items.get(at + 1)?;
    let to = value(items.get(at + 2)?, lexicon)?;
    let joins = joiner.word == "-" || joiner.tag == Tag::Thru || joiner.roles.has(Role::UpTo);
    // "2-5-6" is a list.
    let dashed = |at: usize| items.get(at).is_some_and(|item| item.word == "-");
    let goes_on =
        dashed(at + 1) && dashed(at + 3) && items.get(at + 4).is_some_and(|item| value(item, lexicon).is_some());
    let went_on = at >= 2 && dashed(at - 1) && dashed(at + 1) && items[at - 2].tag == Tag::Points;
    if !joins || goes_on || went_on || !(1..=7).contains(&from) || !(from..=7).contains(&to) || from == to {
        return None;
    }
    let mask = (from..=to).map(|n| 1 << (n - 1)).sum();
    Some(points(items, at, 3, mask))
}

/// "first 3", "last two".
fn counted(before: Option<Tag>, number: u32) -> Option<u8> {
    if !(1..=6).contains(&number) {
        return None;
    }
    let low = (1u8 << number) - 1;
    match before? {
        Tag::First => Some(low),
        Tag::Last => Some((low << (6 - number)) & SIX),
        _ => None,
    }
}

/// Whether a number in letters names a point: in a list, alone in its sentence, labelled, or said to be good or bad.
fn is_point_word(items: &[Item], at: usize, number: u32, lexicon: &Lexicon) -> bool {
    let tag = |i: Option<usize>| i.and_then(|i| items.get(i)).map(|item| item.tag);
    let article = |i: usize| items.get(i).is_some_and(|item| item.roles.has(Role::Article));
    // "El tres y el cinco".
    let back = 1 + usize::from(at.checked_sub(1).is_some_and(article));
    let on = 2 + usize::from(article(at + 2));
    let (before, after) = (tag(at.checked_sub(back)), tag(Some(at + 1)));
    let numeric = |t: Option<Tag>| matches!(t, Some(Tag::Number | Tag::Numeral | Tag::Points));
    let join = |t: Option<Tag>| matches!(t, Some(Tag::And | Tag::Comma | Tag::Joiner | Tag::Thru));
    let listed = numeric(after)
        || numeric(before)
        || (join(after) && numeric(tag(Some(at + on))))
        || (join(before) && numeric(tag(at.checked_sub(back + 1))));
    let end = |t: Option<Tag>| matches!(t, None | Some(Tag::Period));
    let said = number > 1
        && !matches!(before, Some(Tag::All))
        && matches!(after, Some(Tag::Bad | Tag::Good | Tag::Ok | Tag::Loose | Tag::Broken | Tag::Neg));
    // "Five, all good".
    let comma = |t: Option<Tag>| t == Some(Tag::Comma);
    let alone = number > 1 && (end(before) || comma(before)) && (end(after) || comma(after));
    // "Zero problems n el cinco", "all good and seven today coach"; "nothing wrong, six for real" counts them.
    let apart = number > 1 && number != 6 && is_a_clause(items, at, lexicon);
    let own = number == 7 && is_whose_seventh_it_is(items, at);
    listed || (end(before) && end(after)) || alone || apart || own || before == Some(Tag::Label) || said
}

/// Whether nothing else stands in its clause, between an "and", a "but" or a mark and the next.
fn is_a_clause(items: &[Item], at: usize, lexicon: &Lexicon) -> bool {
    // "Los dos" are both.
    let one = |item: &Item| item.roles.has(Role::Definite) && !lexicon.endings.is_plural(&item.word);
    let quiet = |item: &&Item| {
        matches!(item.tag, Tag::Fill | Tag::Affirm | Tag::Only) || item.roles.has(Role::Article) || one(item)
    };
    let seam = |tag: Tag| matches!(tag, Tag::Period | Tag::Comma | Tag::And | Tag::But | Tag::Also);
    let before = items[..at].iter().rev().find(|item| !quiet(item)).map(|item| item.tag);
    let after = items[at + 1..].iter().find(|item| !quiet(item)).map(|item| item.tag);
    before.is_none_or(seam) && after.is_none_or(seam)
}

/// "Me seven", "also the seven", "seven is a yes": the point that asks after whoever wears the helmet.
fn is_whose_seventh_it_is(items: &[Item], at: usize) -> bool {
    let quiet = |item: &&Item| {
        matches!(item.tag, Tag::Glue | Tag::Used) || item.roles.has(Role::Article) || item.roles.has(Role::Be)
    };
    let says = |item: &Item| matches!(item.tag, Tag::Me | Tag::Affirm | Tag::Also);
    let before = items[..at].iter().rev().take(4).find(|item| !quiet(item));
    let after = items[at + 1..].iter().take(4).find(|item| !quiet(item));
    before.is_some_and(says) || after.is_some_and(says)
}

/// "2 screws", "1 strap": a count, unless the part is the point itself ("5 strap").
fn is_count_of(items: &[Item], at: usize, number: u32, lexicon: &Lexicon) -> bool {
    let Some(mut next) = items.get(at + 1) else { return false };
    if super::resolve::is_trouble(next.tag) {
        // "2 loose screws": the plural tells.
        match items.get(at + 2) {
            Some(noun) if lexicon.endings.is_plural(&noun.word) => next = noun,
            _ => return false,
        }
    }
    let own = match number {
        1 => Tag::Brow,
        2 => Tag::Grip,
        3 => Tag::Crown,
        4 => Tag::Cheeks,
        5 => Tag::Strap,
        6 => Tag::Hardware,
        _ => return false,
    };
    next.tag.is_part() && next.tag != own && !matches!(next.tag, Tag::Grip | Tag::Brow | Tag::Crown | Tag::Forehead)
}

/// "me and number 6", "my number is 5", "period 3": a jersey, a lesson.
fn is_someone(items: &[Item], at: usize, lexicon: &Lexicon) -> bool {
    let back = |n: usize| at.checked_sub(n).map(|i| items[i].tag);
    let named = |tag: Option<Tag>| matches!(tag, Some(Tag::Me | Tag::Person | Tag::Helmet));
    let and_me = at.checked_sub(2).is_some_and(|i| items[i].roles.has(Role::AndMe));
    let is = |n: usize, role: Role| at.checked_sub(n).is_some_and(|i| items[i].roles.has(role));
    let jersey = items[at].tag == Tag::Number && value(&items[at], lexicon).is_some_and(|n| n > 7);
    // "24 here".
    if jersey && at == 0 && items.get(1).is_some_and(|item| item.roles.has(Role::Here)) {
        return true;
    }
    if jersey && matches!(back(1), Some(Tag::Me | Tag::It | Tag::Name)) && run_together(&items[at].word).is_none() {
        return true;
    }
    if is(1, Role::Lesson) || (is(1, Role::Is) && is(2, Role::OwnNumber)) {
        return true;
    }
    back(1) == Some(Tag::Label) && (named(back(2)) || and_me || (back(2) == Some(Tag::And) && named(back(3))))
}

/// "25" for 2 and 5: digits of points, rising.
fn run_together(word: &str) -> Option<u8> {
    let digits = word.as_bytes();
    let rising = digits.windows(2).all(|pair| pair[0] < pair[1]);
    let inside = digits.iter().all(|d| (b'1'..=b'7').contains(d));
    (digits.len() >= 2 && rising && inside).then(|| digits.iter().map(|d| 1 << (d - b'1')).sum())
}
