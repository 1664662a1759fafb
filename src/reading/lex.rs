//! Gives every token its tag: longest phrase first, then what a thumb does to a word, then spelling repair.
//!
//! Invariant: repair by guessing (edit distance) reaches worrying words alone.

use super::Lang;
use super::fold::{Shape, Token};
use super::lexicon::{Lexicon, Source, Tag};

/// A stretch of text with its tag.
#[derive(Debug, Clone)]
pub(super) struct Item {
    pub(super) tag: Tag,
    /// Folded words, joined by a space.
    pub(super) word: String,
    pub(super) span: (usize, usize),
    pub(super) source: Source,
    /// Whether the word was guessed from a misspelling.
    pub(super) guessed: bool,
    /// Bits 0 to 6: the check points 1 to 7 a numeral names.
    pub(super) points: u8,
}

/// The items of the tokens, in order.
pub(super) fn items(tokens: &[Token], lexicon: &Lexicon) -> Vec<Item> {
    let mut items = Vec::with_capacity(tokens.len());
    let mut at = 0;
    while at < tokens.len() {
        let (length, item) = phrase_at(tokens, at, lexicon).unwrap_or_else(|| (1, lone(&tokens[at], lexicon)));
        items.push(item);
        at += length;
    }
    items
}

fn phrase_at(tokens: &[Token], at: usize, lexicon: &Lexicon) -> Option<(usize, Item)> {
    let first = known_form(&tokens[at], lexicon);
    let phrase = lexicon.starting(&first).iter().find(|phrase| {
        phrase.words.len() <= tokens.len() - at
            && phrase.words[1..].iter().zip(&tokens[at + 1..]).all(|(word, token)| {
                *word == token.text || (token.text.len() > 3 && *word == known_form(token, lexicon))
            })
    })?;
    let length = phrase.words.len();
    let span = (tokens[at].span.0, tokens[at + length - 1].span.1);
    let word = phrase.words.join(" ");
    Some((length, Item { tag: phrase.tag, word, span, source: phrase.source, guessed: false, points: 0 }))
}

/// The form of a token that the lexicon has, by undoing stretched letters and a dropped g; else the token itself.
fn known_form(token: &Token, lexicon: &Lexicon) -> String {
    let text = &token.text;
    if token.shape != Shape::Word || !lexicon.starting(text).is_empty() {
        return text.clone();
    }
    let mut forms = vec![squeeze(text, 2), squeeze(text, 1)];
    if text.ends_with("in") && text.len() > 4 {
        forms.push(format!("{text}g"));
    }
    if let Some(stem) = text.strip_suffix('s').filter(|stem| stem.len() > 3) {
        forms.push(stem.to_owned());
    }
    forms.into_iter().find(|form| lexicon.knows(form)).unwrap_or_else(|| text.clone())
}

/// Cuts runs of one letter down to `most`, where a run is three or more or `most` is two.
fn squeeze(word: &str, most: usize) -> String {
    let mut out = String::with_capacity(word.len());
    let mut run = 0;
    for c in word.chars() {
        run = if out.ends_with(c) { run + 1 } else { 1 };
        if run <= most {
            out.push(c);
        }
    }
    out
}

fn lone(token: &Token, lexicon: &Lexicon) -> Item {
    let mut guessed = false;
    let mut source = Source::Both;
    let tag = match token.shape {
        Shape::Number => Tag::Number,
        Shape::Mark => mark(&token.text),
        Shape::Symbol => Tag::Unknown,
        Shape::Word => match repaired(&token.text, lexicon) {
            Some((tag, from)) => {
                guessed = true;
                source = from;
                tag
            }
            None => Tag::Unknown,
        },
    };
    Item { tag, word: token.text.clone(), span: token.span, source, guessed, points: 0 }
}

fn mark(text: &str) -> Tag {
    match text.chars().next() {
        Some('?') => Tag::Question,
        Some('¿') => Tag::Ask,
        Some(',') => Tag::Comma,
        Some('.' | '!' | ';' | ':' | '\n' | '(' | ')' | '[' | ']' | '|') => Tag::Period,
        Some('-') => Tag::Joiner,
        Some('/') => Tag::Joiner,
        Some('&' | '+') => Tag::And,
        Some('#') => Tag::Label,
        _ => Tag::Glue,
    }
}

/// The worrying word one slip away, if there is one.
fn repaired(word: &str, lexicon: &Lexicon) -> Option<(Tag, Source)> {
    let (target, tag) = lexicon.worrying_near(word)?;
    Some((*tag, lexicon.single(target).map_or(Source::Both, |phrase| phrase.source)))
}

/// The language, by which lexicon the words are in.
pub(super) fn language(items: &[Item]) -> Lang {
    let has = |source| items.iter().any(|item| item.source == source);
    match (has(Source::En), has(Source::Es)) {
        (true, true) => Lang::Mix,
        (false, true) => Lang::Es,
        _ => Lang::En,
    }
}
