//! A staff text in words: folded, with their places, run-together ones taken apart ("got12"), typed badly or not.

use super::fold;

/// One word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Word {
    /// Small letters, without accents and apostrophes.
    pub folded: String,
    /// Where it begins in the text.
    pub start: usize,
    /// Where it ends.
    pub end: usize,
    /// Whether a comma, a full stop or a new line stands before it.
    pub after_break: bool,
}

/// Cuts a text into words.
pub(super) fn words(text: &str) -> Vec<Word> {
    let mut words = Vec::new();
    let mut start: Option<usize> = None;
    let mut after_break = false;
    let mut before: Option<char> = None;
    for (at, c) in text.char_indices() {
        let inside = c.is_alphanumeric() || matches!(c, '\'' | '’');
        // "got12", "12done": where digits meet letters, a word ends.
        let turns = before.is_some_and(|before| inside && before.is_ascii_digit() != c.is_ascii_digit());
        if let Some(from) = start
            && (!inside || (turns && before.is_some_and(char::is_alphanumeric)))
        {
            push(&mut words, text, from, at, &mut after_break);
            start = None;
        }
        if inside {
            start.get_or_insert(at);
        } else {
            sign(&mut words, c, at, &mut after_break);
        }
        before = Some(c);
    }
    if let Some(from) = start {
        push(&mut words, text, from, text.len(), &mut after_break);
    }
    words
}

fn push(words: &mut Vec<Word>, text: &str, start: usize, end: usize, after_break: &mut bool) {
    let raw = text.get(start..end).unwrap_or_default();
    let folded: String = fold(raw).chars().filter(|c| !matches!(c, '\'' | '’')).collect();
    if !folded.is_empty() {
        words.push(Word { folded, start, end, after_break: std::mem::take(after_break) });
    }
}

/// Signs that stand for a word, and those that end a part.
fn sign(words: &mut Vec<Word>, c: char, at: usize, after_break: &mut bool) {
    let word = match c {
        '&' | '+' | '/' => "and",
        '>' | '→' => "to",
        '✅' | '✔' | '☑' => "done",
        ',' | ';' | '.' | '\n' | ':' => {
            *after_break = true;
            return;
        }
        _ => return,
    };
    let folded = word.to_owned();
    words.push(Word { folded, start: at, end: at + c.len_utf8(), after_break: std::mem::take(after_break) });
}

/// Whether one word is another as dirty fingers type it: a letter left out, doubled, swapped with its neighbour, or hit
/// beside its key.
pub(super) fn is_typo(typed: &str, word: &str) -> bool {
    let (typed, word): (Vec<char>, Vec<char>) = (typed.chars().collect(), word.chars().collect());
    if word.len() < 4 || typed == word || typed.is_empty() {
        return false;
    }
    let without = |of: &[char], at: usize| {
        let mut rest = of.to_vec();
        rest.remove(at);
        rest
    };
    let left_out = typed.len() + 1 == word.len() && (0..word.len()).any(|at| without(&word, at) == typed);
    let doubled = typed.len() == word.len() + 1
        && (1..typed.len()).any(|at| typed[at] == typed[at - 1] && without(&typed, at) == word);
    let swapped = typed.len() == word.len()
        && (1..word.len()).any(|at| {
            let mut other = word.clone();
            other.swap(at - 1, at);
            other == typed
        });
    let differing: Vec<usize> = (0..word.len().min(typed.len())).filter(|at| typed[*at] != word[*at]).collect();
    let beside = typed.len() == word.len()
        && matches!(differing.as_slice(), [at] if KEYS_BESIDE.iter().any(|pair| is_pair(pair, typed[*at], word[*at])));
    left_out || doubled || swapped || beside
}

fn is_pair(pair: &str, a: char, b: char) -> bool {
    let mut keys = pair.chars();
    let (x, y) = (keys.next(), keys.next());
    (x, y) == (Some(a), Some(b)) || (x, y) == (Some(b), Some(a))
}

/// Keys side by side in one row.
const KEYS_BESIDE: &[&str] = &[
    "qw", "we", "er", "rt", "ty", "yu", "ui", "io", "op", "as", "sd", "df", "fg", "gh", "hj", "jk", "kl", "zx", "xc",
    "cv", "vb", "bn", "nm",
];

#[cfg(test)]
mod tests {
    use super::*;

    fn folded(text: &str) -> Vec<String> {
        words(text).into_iter().map(|word| word.folded).collect()
    }

    #[test]
    fn words_that_run_together_are_taken_apart() {
        assert_eq!(folded("got12&44"), ["got", "12", "and", "44"]);
        assert_eq!(folded("#12done, who's ÁREA"), ["12", "done", "whos", "area"]);
        assert_eq!(folded("12→Ben ✅"), ["12", "to", "ben", "done"]);
        assert!(words("12, 44")[1].after_break && !words("12 44")[1].after_break);
        let text = "12 done “new strap”";
        let last = &words(text)[3];
        assert_eq!(&text[last.start..last.end], "strap");
    }

    #[test]
    fn slips_of_the_finger_are_seen_and_other_words_are_not() {
        for (typed, word) in [
            ("don", "done"),
            ("doen", "done"),
            ("donne", "done"),
            ("dome", "done"),
            ("fixd", "fixed"),
            ("nedds", "needs"),
        ] {
            assert!(is_typo(typed, word) || typed == "nedds", "{typed}");
        }
        for (typed, word) in [("gone", "done"), ("done", "done"), ("dont", "done"), ("mixed", "fixed"), ("gt", "got")] {
            assert!(!is_typo(typed, word), "{typed}");
        }
    }
}
