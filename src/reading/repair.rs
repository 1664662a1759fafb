//! Spelling repair: the worrying word that an unknown one is a slip away from; and whether an unknown one is a known one that says nothing,
//! misspelt, or two of them run together.
//!
//! Invariant: only worrying words are here to be found.

use rustc_hash::FxHashMap;

use super::lexicon::{Lexicon, Tag};
use super::roles::Role;

/// The words that repair may arrive at, by first letter and length.
#[derive(Debug, Default)]
pub(super) struct Nearby {
    shelves: FxHashMap<(char, usize), Vec<Shelved>>,
}

#[derive(Debug)]
struct Shelved {
    letters: Box<[char]>,
    kinds: u32,
    /// Place in the order of preference.
    place: usize,
}

impl Nearby {
    /// Shelves the words, which are in the order of preference.
    pub(super) fn of<'a>(words: impl Iterator<Item = &'a str>) -> Self {
        let mut nearby = Self::default();
        for (place, word) in words.enumerate() {
            let letters: Box<[char]> = word.chars().collect();
            let Some(first) = letters.first() else { continue };
            let shelf = nearby.shelves.entry((*first, letters.len())).or_default();
            shelf.push(Shelved { kinds: kinds(&letters), letters, place });
        }
        nearby
    }

    /// The place of the first word in the order of preference that is one slip away.
    pub(super) fn of_word(&self, word: &str) -> Option<usize> {
        let length = word.chars().take(25).count();
        if !(4..=24).contains(&length) {
            return None;
        }
        let mut letters = ['\0'; 24];
        for (letter, slot) in word.chars().zip(&mut letters) {
            *slot = letter;
        }
        let letters = &letters[..length];
        let kinds = kinds(letters);
        let shelves = (length - 1..=length + 1).filter_map(|length| self.shelves.get(&(letters[0], length)));
        // One slip changes one letter for another at most, so two kinds of letters are in one word and not in both.
        let close = shelves.flatten().filter(|shelved| (shelved.kinds ^ kinds).count_ones() <= 2);
        close.filter(|shelved| one_slip(letters, &shelved.letters)).map(|shelved| shelved.place).min()
    }
}

/// Which letters occur, a bit each; letters that share a bit only make the sieve coarser.
fn kinds(letters: &[char]) -> u32 {
    letters.iter().fold(0, |kinds, letter| kinds | 1 << (*letter as u32 & 31))
}

/// Whether the words differ by one letter put in, left out, changed or swapped with its neighbour, after the first.
fn one_slip(a: &[char], b: &[char]) -> bool {
    let (long, short) = if a.len() >= b.len() { (a, b) } else { (b, a) };
    if long.len() - short.len() > 1 || long.first() != short.first() {
        return false;
    }
    let same = long.iter().zip(short).take_while(|(x, y)| x == y).count();
    if long.len() > short.len() {
        return long[same + 1..] == short[same..];
    }
    if same == long.len() {
        return false;
    }
    let swapped = same + 1 < long.len()
        && long[same] == short[same + 1]
        && long[same + 1] == short[same]
        && long[same + 2..] == short[same + 2..];
    swapped || (long.len() > 4 && long[same + 1..] == short[same + 1..])
}

/// "Snowbank", "countd": two words that say nothing run together, or one with a vowel left out. What it says is still not known, but it is
/// no stranger than a word that only the dictionary has.
pub(super) fn is_made_of_words(word: &str, lexicon: &Lexicon) -> bool {
    if !(5..=24).contains(&word.len()) || !word.bytes().all(|byte| byte.is_ascii_lowercase()) {
        return false;
    }
    let says_nothing = |word: &str| {
        lexicon.single(word).is_some_and(|meaning| {
            matches!(
                meaning.tag,
                Tag::Story | Tag::Other | Tag::Glue | Tag::Fill | Tag::Person | Tag::Unit | Tag::AtTime
            ) || (meaning.tag == Tag::Unknown && meaning.roles.has(Role::Rare))
        })
    };
    let mut parts = (SHORTEST_PART..word.len().saturating_sub(SHORTEST_PART - 1)).map(|cut| word.split_at(cut));
    let mut tried = String::with_capacity(word.len() + 1);
    parts.any(|(first, second)| says_nothing(first) && says_nothing(second))
        || word.contains(VOWELS)
            && (1..=word.len()).flat_map(|at| VOWELS.map(|vowel| (at, vowel))).any(|(at, vowel)| {
                tried.clear();
                tried.push_str(word);
                tried.insert(at, vowel);
                says_nothing(&tried)
            })
}

/// Parts of fewer letters are in too many words.
const SHORTEST_PART: usize = 3;
const VOWELS: [char; 5] = ['a', 'e', 'i', 'o', 'u'];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_word_one_slip_away_is_found() {
        let nearby = Nearby::of(["strap", "traps", "loose", "broken", "scrap"].into_iter());
        for (word, place) in [("strp", 0), ("straap", 0), ("starp", 0), ("strip", 0), ("losse", 2), ("brokne", 3)] {
            assert_eq!(nearby.of_word(word), Some(place), "{word}");
        }
        for word in ["wrap", "str", "xtrap", "stra-ps", "lo", "bbrokkenn", &"o".repeat(40)] {
            assert_eq!(nearby.of_word(word), None, "{word}");
        }
    }
}
