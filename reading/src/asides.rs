//! Sets aside what a reply tells of besides the helmet: "the bus broke down so i checked it on the way. all good".
//!
//! A stretch between two seams is an aside when all of it is known and none of it is about the helmet, the body or how
//! somebody feels. What is broken in an aside is the thing that it names. An aside says nothing: neither good nor bad.
//!
//! Invariant: no unknown word, no part, no sign of anything is ever set aside.

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::resolve::is_trouble;
use super::roles::Role;

/// How far to look back for good news.
const WINDOW: usize = 8;

/// How far before a thing it may be said that something is like it: "as a big shopping cart".
const LIKENED: usize = 3;

/// Without any of these nothing is told besides; a name may turn out to be somebody, a number something else's.
pub(super) const TOLD: Tags = Tags::of(&[
    Tag::Story,
    Tag::Other,
    Tag::Person,
    Tag::You,
    Tag::Mild,
    Tag::Name,
    Tag::Number,
    Tag::Numeral,
    Tag::Ordinal,
]);

/// Retags every aside.
pub(super) fn set_aside(items: &mut [Item]) {
    let (mut from, mut gear, mut thing) = (0, false, false);
    while from < items.len() {
        let to = end_of(items, from);
        let inside = &items[from..to];
        let names = inside.iter().any(|item| item.tag == Tag::Other);
        if is_aside(inside, thing && !gear) {
            for item in &mut items[from..to] {
                // What is planned is not what is: whether the good news stands beside it is weighed later.
                if item.tag != Tag::Plan {
                    item.was = Some(item.tag);
                    item.tag = Tag::Aside;
                }
            }
        } else {
            gear |= inside.iter().any(|item| is_gear(item.tag));
        }
        thing |= names;
        from = to.max(from + 1);
        while items.get(from).is_some_and(|item| is_seam(item.tag)) {
            from += 1;
        }
    }
}

/// Where the stretch from `from` on ends: at a seam, or where a question or a new matter begins after good news.
fn end_of(items: &[Item], from: usize) -> usize {
    let asking = asks(items, from);
    let begins =
        |at: usize| is_seam(items[at].tag) || (at > from && ((!asking && asks(items, at)) || turns(items, at)));
    (from..items.len()).find(|at| begins(*at)).unwrap_or(items.len())
}

/// What parts one matter from the next.
const fn is_seam(tag: Tag) -> bool {
    matches!(tag, Tag::Period | Tag::Question | Tag::Comma | Tag::But | Tag::So)
}

/// "All good did u see", "all good whats for dinner".
fn asks(items: &[Item], at: usize) -> bool {
    let whom = |item: &Item| matches!(item.tag, Tag::You | Tag::Person | Tag::Me) || item.roles.has(Role::Inverted);
    items[at].tag == Tag::Ask || (items[at].roles.has(Role::Inverts) && items.get(at + 1).is_some_and(whom))
}

/// "All good they put", "yes its good haha u text": somebody else comes up right after the good news.
fn turns(items: &[Item], at: usize) -> bool {
    let before = items[..at].iter().rev().take(WINDOW).find(|item| !matches!(item.tag, Tag::Fill | Tag::Used));
    let well = before.is_some_and(|item| matches!(item.tag, Tag::Good | Tag::Ok | Tag::Affirm));
    let all = at >= 2 && items[at - 1].tag == Tag::Good && items[at - 2].tag == Tag::All;
    (well && matches!(items[at].tag, Tag::Person | Tag::You | Tag::Other | Tag::And))
        || (all && matches!(items[at].tag, Tag::Story | Tag::Mild))
}

const fn is_gear(tag: Tag) -> bool {
    tag.is_part() || matches!(tag, Tag::Helmet | Tag::Points | Tag::Pad)
}

/// Whether the stretch tells of something else and of nothing but that; `named` is whether "it" may be a thing named before.
fn is_aside(items: &[Item], named: bool) -> bool {
    let elsewhere = |item: &Item| matches!(item.tag, Tag::Story | Tag::Other | Tag::Person | Tag::You | Tag::Mild);
    // "Wobbly as a shopping cart" is not said of a cart.
    let likened = |at: usize| items[at.saturating_sub(LIKENED)..at].iter().any(|item| item.roles.has(Role::Likens));
    let thing = items.iter().enumerate().any(|(at, item)| item.tag == Tag::Other && !likened(at));
    !comes_back(items) && items.iter().any(elsewhere) && items.iter().all(|item| says_nothing(item, thing, named))
}

/// "My bike broke and it slides around", "it slides around and my bike broke": how it fits is said of the helmet, whatever is told
/// before or after it.
fn comes_back(items: &[Item]) -> bool {
    let fits = |item: &Item| matches!(item.tag, Tag::Move | Tag::Wobble | Tag::Loose | Tag::High);
    let word = |item: &&Item| !matches!(item.tag, Tag::Glue | Tag::Fill | Tag::Used);
    let begins =
        |at: usize| items[at].tag == Tag::It && items[..at].iter().rfind(word).is_some_and(|item| item.tag == Tag::And);
    begins_with_it(items) || items.iter().rposition(fits).is_some_and(|last| (1..last).any(begins))
}

/// "Its got a dent and the dog barked", "all good also its cracked": trouble of an "it" that opens the stretch or follows an "also", before any
/// thing is named that it might be.
fn begins_with_it(items: &[Item]) -> bool {
    let (mut it, mut before) = (false, None);
    for item in items {
        if it && is_trouble(item.tag) {
            return true;
        }
        let opens = item.tag == Tag::It && before.is_none_or(|tag| tag == Tag::Also);
        it = (it || opens) && item.tag != Tag::Other;
        if !matches!(item.tag, Tag::Glue | Tag::Fill | Tag::Used) {
            before = Some(item.tag);
        }
    }
    false
}

fn says_nothing(item: &Item, thing: bool, named: bool) -> bool {
    match item.tag {
        Tag::Story | Tag::Other | Tag::Person | Tag::You | Tag::Me | Tag::Mild | Tag::Name => true,
        Tag::Glue | Tag::Fill | Tag::Ask | Tag::Plan | Tag::Also | Tag::And | Tag::Or | Tag::AtTime => true,
        Tag::Unit | Tag::Affirm | Tag::Sub | Tag::Used | Tag::Thru | Tag::Label | Tag::Need | Tag::Only => true,
        Tag::Doubt => item.word.bytes().all(|b| b.is_ascii_digit()),
        Tag::It => thing || named,
        Tag::Neg | Tag::Fix => thing,
        Tag::Hurt | Tag::Press | Tag::TooTight => false,
        tag if is_trouble(tag) => thing,
        _ => false,
    }
}
