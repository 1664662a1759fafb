//! Whether good news is about the helmet.
//!
//! "All good" answers the question; "had a good time" and "u look good" do not. Good news that names the helmet, a
//! part or a number stands by itself. "Everything", "no issues" stand where the words beside them tell of nothing
//! else. "It's fine", "ok", "im good" stand only in a reply that tells of nothing else at all, or that says the check
//! was made.

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::resolve::{is_predicate, outright};
use super::roles::Role;

/// How surely good news is about the helmet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Reach {
    /// Said of it, of me, of nothing named.
    Loose,
    /// Said of everything, or "nothing wrong".
    Whole,
    /// Said of the helmet, a part, a number.
    Named,
}

/// One piece of good news.
#[derive(Debug, Clone, Copy)]
pub(super) struct Good {
    /// Where its subject stands, or itself.
    pub(super) from: usize,
    pub(super) at: usize,
    pub(super) reach: Reach,
}

/// How far from the good news to look for what it may be about.
const WINDOW: usize = 12;

/// Whether any of the good news answers the question; `present` are the tags among the items.
pub(super) fn stands(items: &[Item], present: Tags, goods: &[Good]) -> bool {
    let elsewhere = present.meets(OF_ELSE);
    let says_part = |item: &Item| outright(item.tag).is_some_and(|flag| !flag.is_body());
    let checked = present.meets(OF_HELMET) || (!goods.is_empty() && items.iter().any(says_part));
    let plans = present.has(Tag::Plan);
    goods.iter().any(|good| match good.reach {
        Reach::Named => true,
        Reach::Whole => (!elsewhere && !items[good.at].word.ends_with(" with")) || stands_apart(items, good, checked),
        Reach::Loose => (!elsewhere && !plans) || (checked && stands_apart(items, good, checked)),
    })
}

/// Words that tell of something besides the helmet.
pub(super) const fn tells_of_else(tag: Tag) -> bool {
    OF_ELSE.has(tag)
}

const OF_ELSE: Tags = Tags::of(&[Tag::Story, Tag::Person, Tag::You, Tag::Other, Tag::Unknown]);
/// The helmet, or that it was checked or mended.
const OF_HELMET: Tags = Tags::PARTS.and(Tags::of(&[Tag::Helmet, Tag::Checked, Tag::Fix]));

/// Whether the good news stands in a clause of its own: nothing before it or after it draws it to something else.
fn stands_apart(items: &[Item], good: &Good, checked: bool) -> bool {
    let between = &items[good.from..good.at];
    if between.len() < WINDOW && between.iter().any(|item| tells_of_else(item.tag) || item.tag == Tag::Unit) {
        return false;
    }
    // "Nothing wrong with dancing".
    let with = items[good.at].word.ends_with(" with");
    let of_another = |item: &Item| is_predicate(item.tag) || tells_of_else(item.tag);
    if with && items.get(good.at + 1).is_some_and(of_another) {
        return false;
    }
    let last = items[good.at + 1..].iter().all(|item| is_seam(item.tag) || item.tag == Tag::Used);
    let mut behind = items[..=good.from].iter().rev().take(WINDOW).peekable();
    let mut before = None;
    while let Some(item) = behind.next() {
        let opens = (checked || last)
            && (item.tag == Tag::All || (checked && item.tag == Tag::It))
            && behind.peek().is_some_and(|next| matches!(next.tag, Tag::Story | Tag::Other));
        before = match item.tag {
            _ if opens => Some(true),
            tag if tells_of_else(tag) => Some(false),
            tag if is_seam(tag) => Some(true),
            _ => continue,
        };
        break;
    }
    let ahead = items[good.at + 1..].windows(2).map(|pair| (&pair[0], Some(pair[1].tag)));
    let ahead = ahead.chain(items[good.at + 1..].last().map(|item| (item, None)));
    let after = ahead.take(WINDOW).find_map(|(item, next)| match item.tag {
        // "With his helmet".
        Tag::You if next.is_some_and(|next| next == Tag::Helmet || next.is_part()) => Some(true),
        Tag::Person if next.is_some_and(|next| next == Tag::Fix) => Some(true),
        tag if tells_of_else(tag) => Some(false),
        Tag::Me | Tag::Plan | Tag::Fix => Some(true),
        tag if is_seam(tag) => Some(true),
        _ if item.roles.has(Role::My) => Some(true),
        _ => None,
    });
    before.unwrap_or(true) && after.unwrap_or(true)
}

/// Where one matter ends and another may begin.
const fn is_seam(tag: Tag) -> bool {
    matches!(
        tag,
        Tag::Fill
            | Tag::Affirm
            | Tag::Checked
            | Tag::And
            | Tag::But
            | Tag::So
            | Tag::Comma
            | Tag::Period
            | Tag::Question
            | Tag::Joiner
    )
}
