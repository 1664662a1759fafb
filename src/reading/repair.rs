//! Spelling repair: the worrying word that an unknown one is a slip away from.
//!
//! Invariant: only worrying words are here to be found.

use rustc_hash::FxHashMap;

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
