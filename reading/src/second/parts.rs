//! The parts of a longer reply, each looked at by itself: what is put before a story, into it or behind it is lost in the whole.

use super::super::Taken;
use super::super::fold;
use super::super::lex::Item;
use super::super::lexicon::Tag;
use super::buckets::words;
use super::{Model, Opinion};

/// A reply's parts.
pub(super) struct Parts<'a, 'b> {
    model: &'a Model,
    text: &'a str,
    taken: &'a Taken<'b>,
}

impl<'a, 'b> Parts<'a, 'b> {
    pub(super) const fn of(model: &'a Model, text: &'a str, taken: &'a Taken<'b>) -> Self {
        Self { model, text, taken }
    }

    /// How likely the clause that is likeliest to tell of a flag tells of one; certainly in a text too long to be looked at.
    pub(super) fn troubled_clause(&self) -> f32 {
        if self.taken.items.len() > LONGEST {
            return 1.0;
        }
        clauses(&self.taken.items, self.text.len())
            .map(|(from, to)| &self.text[from..to])
            .filter(|clause| clause.contains(char::is_alphanumeric))
            .map(|clause| self.opinion_of(clause).tells())
            .fold(0.0, f32::max)
    }

    /// The same of so many words in a row, wherever clauses end, each row beginning so many after the one before: what runs on has no seams.
    pub(super) fn troubled_stretch(&self, length: usize, step: usize) -> f32 {
        let spans = self.spans();
        stretches(&spans, length, step).map(|stretch| self.opinion_of_words(stretch).tells()).fold(0.0, f32::max)
    }

    /// The same of so many words at the beginning and at the end.
    pub(super) fn troubled_end(&self, length: usize) -> f32 {
        let spans = self.spans();
        let ends = [&spans[..length.min(spans.len())], &spans[spans.len().saturating_sub(length)..]];
        let tells = |end: &&[(usize, usize)]| self.opinion_of_words(end).tells();
        ends.iter().filter(|end| !end.is_empty()).map(tells).fold(0.0, f32::max)
    }

    fn spans(&self) -> Vec<(usize, usize)> {
        words(&self.taken.seen).map(|word| word.token.span).collect()
    }

    fn opinion_of_words(&self, words: &[(usize, usize)]) -> Opinion {
        self.opinion_of(&self.text[words[0].0..words[words.len() - 1].1])
    }

    fn opinion_of(&self, part: &str) -> Opinion {
        let folded = fold::fold(part);
        let taken = Taken::of(part, &folded);
        self.model.opinion(&taken, &taken.weigh().reading)
    }
}

/// Where the clauses of a text of so many bytes begin and end; a word that joins two belongs to the second.
fn clauses(items: &[Item<'_>], length: usize) -> impl Iterator<Item = (usize, usize)> {
    let joins =
        |tag: Tag| matches!(tag, Tag::And | Tag::But | Tag::So | Tag::Sub | Tag::Comma | Tag::Period | Tag::Question);
    let mut from = 0;
    let seams = items.iter().filter(move |item| joins(item.tag) || item.was.is_some_and(joins)).map(|item| item.span.0);
    seams.chain([length]).map(move |seam| (std::mem::replace(&mut from, seam), seam)).filter(|(from, to)| from < to)
}

/// Stretches of a reply's words of so many, each beginning so many after the one before.
fn stretches<T>(words: &[T], length: usize, step: usize) -> impl Iterator<Item = &[T]> {
    let starts =
        (0..words.len()).step_by(step).take_while(move |start| *start == 0 || start + length - step < words.len());
    starts.map(move |start| &words[start..words.len().min(start + length)])
}

/// Replies of more items are no answers: their parts are not looked at.
const LONGEST: usize = 300;
