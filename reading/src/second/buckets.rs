//! What the second reader sees of a reply: its words, with their neighbours and their first letters, the tags that the
//! lexicon gave them, with their neighbours, and what each clause is about, each hashed to a bucket.

use super::super::fold::{Shape, Token};
use super::super::lex::{Item, Seen};
use super::super::lexicon::Tag;
use super::super::resolve::{is_trouble, outright};
use super::parts::Part;

/// Buckets that features are hashed into: so many that few features share one.
pub(super) const BUCKETS: usize = 1 << 20;

/// The words and numerals of a reply: marks and emoji say too little here, and must not tip the scales.
pub(super) fn words<'a, 'b>(seen: &'a [Seen<'b>]) -> impl Iterator<Item = &'a Seen<'b>> {
    seen.iter().filter(|seen| matches!(seen.token.shape, Shape::Word | Shape::Number))
}

/// What puts texts into an order that has nothing to do with what they say.
pub(super) fn shuffle_key(text: &str) -> u64 {
    text.bytes().fold(Fnv::START, Fnv::and_byte).0
}

/// The buckets of a reply or a part of one, in order, each once.
pub(super) fn features(part: Part<'_, '_>) -> Vec<u32> {
    let mut found = Vec::new();
    each_bucket(part, |at| found.push(at));
    found.sort_unstable();
    found.dedup();
    found
}

/// Finds the buckets of a reply or a part of one, some more than once.
pub(super) fn each_bucket(part: Part<'_, '_>, mut found: impl FnMut(u32)) {
    of_words(part.seen, part.items, &mut found);
    of_tags(part.items, &mut found);
    of_bones(part.items, &mut found);
    of_clauses(part.items, &mut found);
}

/// Words, pairs of neighbours, pairs with one word between, first letters; three letters of each word that the lexicon does
/// not have, with its ends marked.
fn of_words(seen: &[Seen<'_>], items: &[Item<'_>], found: &mut impl FnMut(u32)) {
    let mut known = Known::of(items);
    let [mut before, mut one_before] = [Fnv::START.and(MARK), Fnv::START];
    for Seen { token, spelling, .. } in words(seen) {
        let Spelling { word, opening } = *spelling;
        if known.lacks(token) {
            of_letters(token.text, found);
        }
        found(word.bucket(Kind::Word));
        found(opening.bucket(Kind::Opening));
        found(before.then(word).bucket(Kind::Pair));
        if one_before != Fnv::START {
            found(one_before.then(word).bucket(Kind::Skip));
        }
        (one_before, before) = (before, word);
    }
}

/// A word and its first letters, as far as they are hashed.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spelling {
    word: Fnv,
    opening: Fnv,
}

impl Spelling {
    pub(crate) fn of(text: &str) -> Self {
        // Most words need no decoding.
        if text.is_ascii() { Self::of_letters(text.bytes().map(char::from)) } else { Self::of_letters(text.chars()) }
    }

    fn of_letters(letters: impl Iterator<Item = char>) -> Self {
        let (mut word, mut opening, mut length) = (Fnv::START, Fnv::START, 0);
        for letter in once_each(letters) {
            word = word.and(letter);
            length += 1;
            if length <= OPENING {
                opening = word;
            }
        }
        Self { word, opening }
    }
}

/// A letter held down is one letter.
fn once_each(letters: impl Iterator<Item = char>) -> impl Iterator<Item = char> {
    let mut last = ' ';
    letters.filter(move |letter| std::mem::replace(&mut last, *letter) != *letter || letter.is_ascii_digit())
}

/// Three letters each, the ends marked.
fn of_letters(text: &str, found: &mut impl FnMut(u32)) {
    let mut runs = Runs::new();
    for letter in once_each(text.chars()).chain([MARK]) {
        found(runs.next(letter));
    }
}

/// Tags of what says something, in ones and twos, and pairs with one between; words with the tags of their neighbours.
fn of_tags(items: &[Item<'_>], found: &mut impl FnMut(u32)) {
    let face = |item: &Item<'_>| item.tag == Tag::Mild && !item.word.starts_with(char::is_alphanumeric);
    let says = |item: &&Item<'_>| !matches!(item.tag, Tag::Glue | Tag::Used | Tag::Fill) && !face(item);
    let edge = Fnv::START.and(MARK);
    let (mut before, mut word) = ([edge; 2], edge);
    // A line break before or after says nothing.
    let is_break = |item: &Item<'_>| item.tag == Tag::Period;
    let from = items.iter().take_while(|item| is_break(item)).count();
    let to = items.len() - items[from..].iter().rev().take_while(|item| is_break(item)).count();
    for item in items[from..to].iter().filter(says) {
        let this = tag(item);
        let [one, two] = before;
        found(this.bucket(Kind::Tag));
        found(one.then(this).bucket(Kind::TagPair));
        if two != edge {
            found(two.then(this).bucket(Kind::TagSkip));
        }
        if one != edge {
            found(one.then(item.spelling.word).bucket(Kind::TagWord));
            found(word.then(this).bucket(Kind::WordTag));
        }
        (before, word) = ([this, one], item.spelling.word);
    }
    if before[0] != edge {
        found(before[0].then(edge).bucket(Kind::TagPair));
    }
}

/// What the clauses are about, in twos, and what the whole reply is.
fn of_clauses(items: &[Item<'_>], found: &mut impl FnMut(u32)) {
    let ends =
        |item: &Item<'_>| matches!(item.tag, Tag::Comma | Tag::Period | Tag::But | Tag::So | Tag::And | Tag::Question);
    let (mut before, mut whole) = (Matters::EDGE, Matters::default());
    for clause in items.split(ends) {
        let about = clause.iter().fold(Matters::default(), |about, item| about.and(Matters::of(item.tag)));
        if about != Matters::default() {
            found(before.hash().then(about.hash()).bucket(Kind::Clauses));
            (before, whole) = (about, whole.and(about));
        }
    }
    found(before.hash().then(Matters::EDGE.hash()).bucket(Kind::Clauses));
    found(whole.hash().bucket(Kind::Whole));
}

/// What is spoken of, in broad terms: a bit for each.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Matters(u16);

impl Matters {
    /// Before the first clause and after the last.
    const EDGE: Self = Self(1 << 15);

    const fn of(tag: Tag) -> Self {
        Self(match tag {
            Tag::Neg | Tag::None | Tag::Nah => 1,
            Tag::Good | Tag::Ok | Tag::Praise | Tag::Affirm | Tag::Yes => 1 << 1,
            Tag::Pad | Tag::Helmet => 1 << 2,
            Tag::Fix | Tag::Checked => 1 << 3,
            Tag::Story | Tag::Other | Tag::Person | Tag::Name | Tag::Aside => 1 << 4,
            Tag::Hedge | Tag::Soft | Tag::If | Tag::Would | Tag::Admit | Tag::Doubt | Tag::Need => 1 << 5,
            Tag::Points => 1 << 6,
            Tag::All | Tag::Rest | Tag::Only | Tag::Except => 1 << 7,
            Tag::Me => 1 << 8,
            Tag::Hit | Tag::Vomit | Tag::Unknown => 1 << 9,
            _ if is_trouble(tag) || outright(tag).is_some() => 1 << 9,
            _ if tag.is_part() => 1 << 2,
            _ if tag.is_body() => 1 << 10,
            _ => 0,
        })
    }

    const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    const fn hash(self) -> Fnv {
        let [low, high] = self.0.to_le_bytes();
        Fnv::START.and_byte(low).and_byte(high)
    }
}

/// Tags of what is said of the helmet and of whoever wears it, in twos, however much is told between.
fn of_bones(items: &[Item<'_>], found: &mut impl FnMut(u32)) {
    let edge = Fnv::START.and(MARK);
    let mut before = [edge; 2];
    for item in items.iter().filter(|item| is_bone(item.tag)) {
        let this = tag(item);
        let [one, two] = before;
        found(one.then(this).bucket(Kind::Bone));
        if two != edge {
            found(two.then(this).bucket(Kind::BoneSkip));
        }
        before = [this, one];
    }
    if before[0] != edge {
        found(before[0].then(edge).bucket(Kind::Bone));
    }
}

const fn is_bone(tag: Tag) -> bool {
    let quiet = matches!(tag, Tag::Glue | Tag::Used | Tag::Fill | Tag::Affirm | Tag::Mild | Tag::Aside | Tag::Name);
    let who = matches!(tag, Tag::Story | Tag::Person | Tag::You | Tag::Other | Tag::It | Tag::Me);
    !quiet
        && !who
        && !matches!(tag, Tag::Comma | Tag::Period | Tag::And | Tag::Also | Tag::Plan | Tag::AtTime | Tag::Unit)
}

/// A tag; set aside or not, and how many points a numeral names, are part of it.
fn tag(item: &Item<'_>) -> Fnv {
    let (tag, aside) = match item.was {
        Some(was) if item.tag == Tag::Aside => (was, 1),
        _ => (item.tag, 0),
    };
    let points = if tag == Tag::Points { item.points.count_ones() as u8 } else { 0 };
    Fnv::START.and_byte(tag as u8).and_byte(aside).and_byte(points)
}

/// Walks the items beside the tokens.
struct Known<'a, 'b> {
    rest: &'a [Item<'b>],
}

impl<'a, 'b> Known<'a, 'b> {
    const fn of(items: &'a [Item<'b>]) -> Self {
        Self { rest: items }
    }

    /// Whether the lexicon does not have the word as it is typed.
    fn lacks(&mut self, token: &Token<'_>) -> bool {
        while self.rest.first().is_some_and(|item| item.span.1 <= token.span.0) {
            self.rest = &self.rest[1..];
        }
        self.rest.first().is_some_and(|item| item.tag == Tag::Unknown || item.guessed)
    }
}

/// What marks the ends of a word and of a reply.
const MARK: char = '_';
/// First letters of a word that are much of what it means.
const OPENING: usize = 4;

/// Kinds of features: the same word has a bucket for each.
#[derive(Debug, Clone, Copy)]
enum Kind {
    Word,
    Opening,
    Pair,
    Skip,
    Letters,
    Tag,
    TagPair,
    TagSkip,
    TagWord,
    WordTag,
    Bone,
    BoneSkip,
    Clauses,
    Whole,
}

/// A hash as far as it has come: FNV-1a (Fowler, Noll and Vo), folded to a bucket. It has to stay the same for as long
/// as the weights do.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
struct Fnv(u64);

impl Fnv {
    const START: Self = Self(0xcbf2_9ce4_8422_2325);
    const PRIME: u64 = 0x0100_0000_01b3;

    const fn and_byte(self, byte: u8) -> Self {
        Self((self.0 ^ byte as u64).wrapping_mul(Self::PRIME))
    }

    fn and(self, letter: char) -> Self {
        if letter.is_ascii() {
            return self.and_byte(letter as u8);
        }
        letter.encode_utf8(&mut [0; 4]).bytes().fold(self, Self::and_byte)
    }

    /// One after the other.
    const fn then(self, next: Self) -> Self {
        Self((self.0.rotate_left(23) ^ next.0).wrapping_mul(Self::PRIME))
    }

    const fn bucket(self, kind: Kind) -> u32 {
        let whole = self.and_byte(kind as u8).0;
        (whole ^ (whole >> 32)) as u32 & (BUCKETS as u32 - 1)
    }
}

/// The last two letters of a word.
struct Runs([char; 2]);

impl Runs {
    const fn new() -> Self {
        Self([MARK; 2])
    }

    /// The bucket of these and the next.
    fn next(&mut self, letter: char) -> u32 {
        let [one, two] = self.0;
        self.0 = [two, letter];
        Fnv::START.and(one).and(two).and(letter).bucket(Kind::Letters)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        assert_eq!("foobar".bytes().fold(Fnv::START, Fnv::and_byte), Fnv(0x8594_4171_f739_67e8));
    }
}
