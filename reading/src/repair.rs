//! Spelling repair: the worrying word that an unknown one is a slip away from; and whether an unknown one is a known one that says nothing,
//! misspelt, or two of them run together.
//!
//! Invariant: only worrying words are here to be found.

use rustc_hash::FxHashMap;

use super::lexicon::{Lexicon, Meaning, Tag};
use super::resolve::is_trouble;
use super::roles::{Role, Roles};

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

/// "Snowbank", "countd", "evry", "tookk", "anythign": two words that say nothing run together, one with letters missing, held down or swapped. What
/// it says is still not known, but it is no stranger than a word that only the dictionary has. Nor is one that may as well be another,
/// unless that says something: "lst" is "last", or "lost".
pub(super) fn is_made_of_words(word: &str, lexicon: &Lexicon) -> bool {
    if !(SHORTEST_PART..=24).contains(&word.len()) || !word.bytes().all(|byte| byte.is_ascii_lowercase()) {
        return false;
    }
    if !word[1..].contains(VOWELS) {
        return lexicon.is_shorthand(word);
    }
    if word.len() < SHORTEST_SWAPPED {
        return false;
    }
    if word.len() < SHORTEST_MISSPELT {
        return is_misspelt(word, lexicon);
    }
    let says_nothing =
        |word: &str| lexicon.single(word).is_some_and(|meaning| says_nothing(meaning.tag, meaning.roles));
    let mut parts = (SHORTEST_PART..word.len().saturating_sub(SHORTEST_PART - 1)).map(|cut| word.split_at(cut));
    let is_glued = || {
        let (first, second) = word.split_at(2);
        lexicon.single(first).is_some_and(|meaning| meaning.tag == Tag::Glue) && says_nothing(second)
    };
    parts.any(|(first, second)| says_nothing(first) && says_nothing(second)) || is_glued() || is_misspelt(word, lexicon)
}

/// Whether the word is a slip away from words of little weight, and from no others. A letter left out, put in, doubled or swapped is likelier
/// than one that is quite another: what such a slip arrives at counts first.
fn is_misspelt(word: &str, lexicon: &Lexicon) -> bool {
    let (mut close, mut far) = (false, false);
    let is_heavy = |known: &mut bool, meaning: &Meaning| {
        let light = is_light(meaning.tag, meaning.roles);
        *known |= light;
        !light
    };
    !any_close_slip(word, lexicon, |meaning| is_heavy(&mut close, meaning))
        && (close
            || (word.len() > SHORTEST_SWAPPED
                && !any_change(word, lexicon, |meaning| is_heavy(&mut far, meaning))
                && far))
}

/// "Isues", "craked": whether a word that was taken for trouble is a slip away from nothing but trouble and words that say nothing. "Clik"
/// may be "click", and what is denied with it is not trouble.
pub(super) fn is_plainly_trouble(word: &str, lexicon: &Lexicon) -> bool {
    let may_be_well = |meaning: &Meaning| {
        // What breaks, comes off or sits high may be meant to: a strap that "wont unclip" is not well.
        let trouble = is_trouble(meaning.tag) && !matches!(meaning.tag, Tag::Broken | Tag::Gone | Tag::High);
        !(trouble || says_nothing(meaning.tag, meaning.roles)) || meaning.roles.has(Role::Either)
    };
    (SHORTEST_MISSPELT..=24).contains(&word.len())
        && word.bytes().all(|byte| byte.is_ascii_lowercase())
        && !any_close_slip(word, lexicon, may_be_well)
        && !any_change(word, lexicon, may_be_well)
}

/// Whether any word is such that the lower-case word is by letters left out, put in, doubled or swapped after the first, or written as it
/// sounds.
fn any_close_slip(word: &str, lexicon: &Lexicon, such: impl FnMut(&Meaning) -> bool) -> bool {
    let letters = word.as_bytes();
    let mut is_such = joined(word, lexicon, such);
    let mut once = word.to_owned();
    once.retain({
        let mut last = ' ';
        move |letter| std::mem::replace(&mut last, letter) != letter
    });
    if is_such([&once, "", ""]) {
        return true;
    }
    for (written, meant) in &lexicon.endings.sound_alike {
        if word.strip_prefix(written.as_str()).is_some_and(|rest| is_such([meant, rest, ""])) {
            return true;
        }
    }
    (1..=word.len()).any(|at| {
        let (before, after) = word.split_at(at);
        let swapped = after.len() > 1 && {
            let two = [letters[at + 1], letters[at]];
            str::from_utf8(&two).is_ok_and(|two| is_such([before, two, &after[2..]]))
        };
        let left_out = |letter: &str| is_such([before, letter, after]);
        swapped
            || LETTERS.split_inclusive(|_: char| true).any(left_out)
            || (!after.is_empty() && is_such([before, "", &after[1..]]))
    })
}

/// The same of one letter after the first that is another.
fn any_change(word: &str, lexicon: &Lexicon, such: impl FnMut(&Meaning) -> bool) -> bool {
    let mut is_such = joined(word, lexicon, such);
    (1..word.len()).any(|at| {
        let (before, after) = word.split_at(at);
        LETTERS.split_inclusive(|_: char| true).any(|letter| is_such([before, letter, &after[1..]]))
    })
}

/// Whether three parts together are a word that is such.
fn joined(word: &str, lexicon: &Lexicon, mut such: impl FnMut(&Meaning) -> bool) -> impl FnMut([&str; 3]) -> bool {
    let mut tried = String::with_capacity(word.len() + 2);
    move |parts| {
        tried.clear();
        parts.iter().for_each(|part| tried.push_str(part));
        lexicon.single(&tried).is_some_and(&mut such)
    }
}

/// The first letter and the consonants that follow: what is left of a word in a hurry ("chckd", "evry"). None of one that is written so
/// anyway, or of which too little is left.
pub(super) fn shorthand(word: &str) -> Option<String> {
    let mut letters = word.chars();
    let first = letters.next()?;
    let left: String = std::iter::once(first).chain(letters.filter(|letter| !VOWELS.contains(letter))).collect();
    (left.len() >= SHORTEST_PART && left.len() < word.len()).then_some(left)
}

/// Whether a word with this tag may be written in shorthand or misspelt without a loss: it is no denial, doubt, exception or trouble.
pub(super) fn is_light(tag: Tag, roles: Roles) -> bool {
    let good = matches!(
        tag,
        Tag::Good | Tag::Ok | Tag::Praise | Tag::Affirm | Tag::Checked | Tag::Plan | Tag::Also | Tag::Name
    );
    good || says_nothing(tag, roles)
}

fn says_nothing(tag: Tag, roles: Roles) -> bool {
    let quiet = matches!(
        tag,
        Tag::Story
            | Tag::Other
            | Tag::Glue
            | Tag::Fill
            | Tag::Person
            | Tag::You
            | Tag::Unit
            | Tag::AtTime
            | Tag::And
            | Tag::Ask
    );
    quiet || (tag == Tag::Unknown && roles.has(Role::Rare))
}

/// Parts of fewer letters are in too many words.
const SHORTEST_PART: usize = 3;
/// So are words of fewer letters slips of too many.
const SHORTEST_MISSPELT: usize = 5;
/// Words of so few letters may only have one too many or too few, or two swapped.
const SHORTEST_SWAPPED: usize = 4;
const VOWELS: [char; 5] = ['a', 'e', 'i', 'o', 'u'];
const LETTERS: &str = "abcdefghijklmnopqrstuvwxyz";

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

    #[test]
    fn trouble_that_may_be_good_news_is_not_plainly_trouble() {
        use super::super::{Kind, read};
        for text in ["no isues ovr here", "zero problmas, all good"] {
            assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
        }
        for text in ["doesnt clik", "wont unclip. all good", "no strp", "it dont fitt", "no headahce but dizy"] {
            assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
        }
    }

    #[test]
    fn a_word_with_two_letters_swapped_is_no_stranger_unless_it_is_one_of_weight() {
        let lexicon = super::super::languages::languages().lexicon_of(super::super::Lang::EN);
        for word in ["hvae", "truk", "kicthen"] {
            assert!(is_made_of_words(word, lexicon), "{word}");
        }
        for word in ["mabye", "crakc", "losoe", "xqzt"] {
            assert!(!is_made_of_words(word, lexicon), "{word}");
        }
    }
}
