//! What the second reader sees of a reply: pieces of words, words and pairs of words, each hashed to a bucket.

use super::super::fold::{self, Folded};

/// Buckets that features are hashed into.
pub(super) const BUCKETS: usize = 1 << 15;

/// The words and numerals of a reply: marks and emoji say too little here, and must not tip the scales.
pub(super) fn words(folded: &Folded) -> impl Iterator<Item = fold::Token<'_>> {
    folded.whole_tokens().filter(|token| matches!(token.shape, fold::Shape::Word | fold::Shape::Number))
}

/// The buckets of a reply, in order, each once.
pub(super) fn features(folded: &Folded) -> Vec<usize> {
    let mut found = Vec::new();
    each_bucket(folded, |at| found.push(at));
    found.sort_unstable();
    found.dedup();
    found
}

/// Finds the buckets of a reply, some more than once: words, pairs of neighbours, and three or four letters of each word
/// with its ends marked.
pub(super) fn each_bucket(folded: &Folded, mut found: impl FnMut(usize)) {
    let mut before = PAIR.and(b' ');
    for token in words(folded) {
        let (mut word, mut pair, mut opens_pair) = (WORD, before, PAIR);
        let mut runs = Runs::new();
        let mut last = ' ';
        for letter in token.text.chars() {
            // A letter held down is one letter.
            if std::mem::replace(&mut last, letter) == letter && !letter.is_ascii_digit() {
                continue;
            }
            [word, pair, opens_pair] = [word, pair, opens_pair].map(|hash| hash.and_letter(letter));
            runs.add(letter, &mut found);
        }
        runs.add(MARK, &mut found);
        found(word.bucket());
        found(pair.bucket());
        before = opens_pair.and(b' ');
    }
}

/// What marks the ends of a word.
const MARK: char = '_';

/// A hash as far as it has come: FNV-1a (Fowler, Noll and Vo), folded to a bucket. It has to stay the same for as long
/// as the weights do.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Fnv(u64);

const START: Fnv = Fnv(0xcbf2_9ce4_8422_2325);
const WORD: Fnv = START.and(b'w');
const PAIR: Fnv = START.and(b'p');
const LETTERS: Fnv = START.and(b'l');

impl Fnv {
    const fn and(self, byte: u8) -> Self {
        Self((self.0 ^ byte as u64).wrapping_mul(0x0100_0000_01b3))
    }

    fn and_letter(self, letter: char) -> Self {
        if letter.is_ascii() {
            return self.and(letter as u8);
        }
        letter.encode_utf8(&mut [0; 4]).bytes().fold(self, Self::and)
    }

    const fn bucket(self) -> usize {
        ((self.0 ^ (self.0 >> 32)) as usize) & (BUCKETS - 1)
    }
}

/// Hashes of the last one to four letters of a word, or of all that there are so far.
struct Runs([Fnv; 4]);

impl Runs {
    fn new() -> Self {
        Self([LETTERS.and_letter(MARK); 4])
    }

    fn add(&mut self, letter: char, mut found: impl FnMut(usize)) {
        let [one, two, three, _] = self.0;
        self.0 = [LETTERS, one, two, three].map(|run| run.and_letter(letter));
        self.0[2..].iter().for_each(|run| found(run.bucket()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        assert_eq!("foobar".bytes().fold(START, Fnv::and), Fnv(0x8594_4171_f739_67e8));
    }
}
