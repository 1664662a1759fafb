//! The parts of a reply, each looked at by itself: what is put before a story, into it or behind it is lost in the whole.

use super::super::Taken;
use super::super::fold::{self, Shape};
use super::super::lex::{Item, Seen};
use super::super::lexicon::Tag;
use super::buckets::words;
use super::model::Model;

/// A reply, or a part of one.
#[derive(Clone, Copy)]
pub(super) struct Part<'a, 'b> {
    pub(super) seen: &'a [Seen<'b>],
    pub(super) items: &'a [Item<'b>],
}

impl<'a, 'b> Part<'a, 'b> {
    pub(super) fn whole(taken: &'a Taken<'b>) -> Self {
        Self { seen: &taken.seen, items: &taken.items }
    }

    /// Its clauses that have words, if it is more than one clause; a word that joins two belongs to the second.
    pub(super) fn clauses(self) -> impl Iterator<Item = Self> {
        let Self { mut seen, mut items } = self;
        let one = !items.iter().skip(1).any(joins);
        std::iter::from_fn(move || {
            let next = items.iter().skip(1).position(joins).map_or(items.len(), |skip| skip + 1);
            let (clause, rest) = items.split_at_checked(next).filter(|(clause, _)| !clause.is_empty())?;
            let until = rest.first().map_or(usize::MAX, |item| item.span.0);
            let (of_it, after) = seen.split_at(seen.partition_point(|seen| seen.token.span.0 < until));
            (seen, items) = (after, rest);
            Some(Self { seen: of_it, items: clause })
        })
        .filter(move |clause| !one && clause.seen.iter().any(is_word))
    }

    /// Whether it is no answer by its length alone.
    pub(super) const fn is_endless(self) -> bool {
        self.items.len() > LONGEST
    }
}

fn joins(item: &Item<'_>) -> bool {
    let joins =
        |tag: Tag| matches!(tag, Tag::And | Tag::But | Tag::So | Tag::Sub | Tag::Comma | Tag::Period | Tag::Question);
    joins(item.tag) || item.was.is_some_and(joins)
}

const fn is_word(seen: &Seen<'_>) -> bool {
    matches!(seen.token.shape, Shape::Word | Shape::Number)
}

/// The beginning and the end of a reply, each read anew, as if it were all.
pub(super) struct Ends<'a> {
    model: &'a Model,
    text: &'a str,
    words: Vec<(usize, usize)>,
}

impl<'a> Ends<'a> {
    pub(super) fn of(model: &'a Model, text: &'a str, taken: &Taken<'_>) -> Self {
        Self { model, text, words: words(&taken.seen).map(|word| word.token.span).collect() }
    }

    /// How likely so many words at the beginning, or as many at the end, tell of a flag: the likelier of the two.
    pub(super) fn troubled(&self, length: usize) -> f32 {
        let last = self.words.len().saturating_sub(length);
        self.tells(&self.words[..length.min(self.words.len())]).max(self.tells(&self.words[last..]))
    }

    fn tells(&self, words: &[(usize, usize)]) -> f32 {
        let [first, .., last] = words else { return 0.0 };
        let end = &self.text[first.0..last.1];
        let folded = fold::fold(end);
        let taken = Taken::of(end, &folded);
        self.model.opinion(&taken, &taken.weigh().reading).tells()
    }
}

/// Replies of more items are no answers: their parts are not looked at.
const LONGEST: usize = 300;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fold;

    fn clauses(text: &str) -> Vec<String> {
        let folded = fold::fold(text);
        let taken = Taken::of(text, &folded);
        let of = |clause: Part<'_, '_>| clause.seen.iter().map(|seen| seen.token.text).collect::<Vec<_>>().join(" ");
        Part::whole(&taken).clauses().map(of).collect()
    }

    #[test]
    fn a_reply_is_parted_where_clauses_begin() {
        assert_eq!(clauses("all good, and the bus is late. see you"), ["all good", "and the bus is late", ". see you"]);
        assert_eq!(clauses("all good"), [] as [&str; 0]);
        assert_eq!(clauses(""), [] as [&str; 0]);
    }
}
