//! From characters to items: words folded to what the lexicons know, joined to the longest phrase, with their places.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::Lang;
use super::lexicon::{Concept, Concepts, Entry, Lexicon};
use super::numbers;

/// A word of the text.
#[derive(Debug, Clone, Copy)]
pub struct Word<'t> {
    /// As it stands.
    pub raw: &'t str,
    /// Byte offset.
    pub start: usize,
    /// Byte offset.
    pub end: usize,
}

/// A phrase, a number or a mark, with what it can mean.
#[derive(Debug, Clone)]
pub struct Item {
    /// Byte offset into the text.
    pub start: usize,
    /// Byte offset into the text.
    pub end: usize,
    /// What it can mean; empty when no lexicon places it.
    pub concepts: Concepts,
    /// Folded text.
    pub folded: String,
    /// Check points that it names, in order.
    pub points: Vec<u8>,
    /// A number that is no check point.
    pub is_number: bool,
}

/// Which languages the words are of.
#[derive(Debug, Default, Clone, Copy)]
pub struct Languages {
    english: u32,
    other: u32,
}

impl Languages {
    /// English, Spanish or both.
    pub const fn lang(self) -> Lang {
        match (self.english, self.other) {
            (_, 0) => Lang::En,
            (0, _) => Lang::Es,
            _ => Lang::Mix,
        }
    }
}

/// Splits a text into words, numbers, marks and emoji.
pub fn words(text: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let mut start: Option<(usize, Class)> = None;
    let mut push = |start: usize, end: usize| {
        if let Some(raw) = text.get(start..end) {
            words.push(Word { raw, start, end });
        }
    };
    for (at, c) in text.char_indices() {
        let class = class(c);
        match start {
            Some((from, open)) if open != class || class == Class::Mark => {
                if class == Class::Joiner && open != Class::Space {
                    continue;
                }
                if open != Class::Space {
                    push(from, at);
                }
                start = Some((at, class));
            }
            None => start = Some((at, class)),
            _ => {}
        }
    }
    if let Some((from, open)) = start
        && open != Class::Space
        && open != Class::Joiner
    {
        push(from, text.len());
    }
    words
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Class {
    Letter,
    Digit,
    /// Stands alone.
    Mark,
    /// Belongs to what stands before it: combining marks, variation selectors, joiners, apostrophes.
    Joiner,
    Space,
}

fn class(c: char) -> Class {
    match c {
        '\n' | '\r' => Class::Mark,
        '\''
        | '’'
        | '‘'
        | '`'
        | '´'
        | '\u{200d}'
        | '\u{fe0f}'
        | '\u{20e3}'
        | '\u{200b}'
        | '\u{200c}'
        | '\u{2060}'
        | '\u{feff}'
        | '\u{1f3fb}'..='\u{1f3ff}' => Class::Joiner,
        '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => Class::Joiner,
        _ if is_combining_mark(c) => Class::Joiner,
        _ if c.is_ascii_digit() => Class::Digit,
        _ if c.is_alphabetic() => Class::Letter,
        _ if c.is_whitespace() || c.is_control() => Class::Space,
        _ => Class::Mark,
    }
}

/// Small letters without accents, apostrophes and joiners.
pub fn fold(raw: &str) -> String {
    if raw.is_ascii() {
        return raw.bytes().filter(|b| *b != b'\'' && *b != b'`').map(|b| b.to_ascii_lowercase() as char).collect();
    }
    raw.nfkd()
        .filter(|c| class(*c) != Class::Joiner)
        .flat_map(char::to_lowercase)
        .filter(|c| !is_combining_mark(*c))
        .collect()
}

/// Runs of a letter shortened to at most `most`.
fn squeeze(word: &str, most: usize) -> String {
    let mut out = String::with_capacity(word.len());
    let mut last = None;
    let mut run = 0;
    for c in word.chars() {
        run = if last == Some(c) { run + 1 } else { 1 };
        last = Some(c);
        if run <= most {
            out.push(c);
        }
    }
    out
}

/// The items of a text, and the languages of its words.
pub fn items(text: &str, lexicon: &Lexicon) -> (Vec<Item>, Languages) {
    let words = words(text);
    let folded: Vec<String> = words.iter().map(|word| known_form(&fold(word.raw), lexicon)).collect();
    let mut items = Vec::with_capacity(words.len());
    let mut languages = Languages::default();
    let mut at = 0;
    while at < words.len() {
        let (count, entry) = longest(&folded, at, lexicon);
        let (first, last) = (&words[at], &words[at + count - 1]);
        let phrase = folded[at..at + count].join(" ");
        if let Some(entry) = entry {
            languages.english += u32::from(entry.known.english && !entry.known.other);
            languages.other += u32::from(entry.known.other && !entry.known.english);
        }
        let concepts = entry.map(|entry| entry.concepts).unwrap_or_default();
        let mut item =
            Item { start: first.start, end: last.end, concepts, folded: phrase, points: Vec::new(), is_number: false };
        if count == 1 && entry.is_none() {
            place_unknown(&mut item, lexicon);
        }
        items.push(item);
        at += count;
    }
    numbers::mark(&mut items);
    (items, languages)
}

/// The form that the lexicon knows: as it stands, or with runs of letters shortened.
fn known_form(word: &str, lexicon: &Lexicon) -> String {
    if lexicon.longest(word) > 0 {
        return word.to_owned();
    }
    for most in [2, 1] {
        let shorter = squeeze(word, most);
        if shorter != word && lexicon.longest(&shorter) > 0 {
            return shorter;
        }
    }
    word.to_owned()
}

fn longest(folded: &[String], at: usize, lexicon: &Lexicon) -> (usize, Option<Entry>) {
    let most = lexicon.longest(&folded[at]).min(folded.len() - at);
    let mut phrase = folded[at..at + most].join(" ");
    for count in (1..=most).rev() {
        if let Some(entry) = lexicon.phrase(&phrase) {
            return (count, Some(entry));
        }
        let last = &folded[at + count - 1];
        phrase.truncate(phrase.len().saturating_sub(last.len() + usize::from(count > 1)));
    }
    (1, None)
}

/// A word that no lexicon places: a sentence mark, two words glued, or a worrying word mistyped.
fn place_unknown(item: &mut Item, lexicon: &Lexicon) {
    match item.folded.as_str() {
        "." | "!" | ";" | "\n" | "\r" | "…" | "," | ":" | "(" | ")" | "\"" | "*" | "~" | "-" | "–" | "—" | "/"
        | "¡" | "“" | "”" | "_" | "|" | "+" | "&" | "#" | "%" | "=" | ">" | "<" | "[" | "]" | "^" | "@" => {
            item.concepts = Concepts::of(Concept::Break);
        }
        "?" | "¿" => item.concepts = Concepts::of(Concept::Question),
        _ => {
            let near = || lexicon.worry_near(&item.folded).map(|entry| entry.concepts);
            if let Some(concepts) = glued(&item.folded, lexicon).or_else(near) {
                item.concepts = concepts;
            }
        }
    }
}

/// "strapbroke": two known words run together, of which one worries.
fn glued(word: &str, lexicon: &Lexicon) -> Option<Concepts> {
    if word.len() < 6 || word.len() > 24 || !word.is_ascii() {
        return None;
    }
    (3..=word.len() - 3).find_map(|cut| {
        let (left, right) = (lexicon.phrase(&word[..cut])?, lexicon.phrase(&word[cut..])?);
        let both = left.concepts.union(right.concepts);
        both.worries().then_some(both)
    })
}
