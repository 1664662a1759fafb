//! Cuts a reply into tokens: words without accents or case, numerals, marks, emoji.
//!
//! Every token keeps the byte span it came from. What a token means is left to `lex`.

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

use super::lexicon::Lexicon;

/// What a token is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shape {
    /// Letters, perhaps with digits inside.
    Word,
    /// Digits alone.
    Number,
    /// Punctuation, one character or a run of the same.
    Mark,
    /// Anything else that shows: emoji, symbols, other scripts' signs.
    Symbol,
}

/// One piece of the text.
#[derive(Debug, Clone)]
pub(super) struct Token {
    pub(super) shape: Shape,
    /// Folded text.
    pub(super) text: String,
    /// Byte offsets into the original.
    pub(super) span: (usize, usize),
}

/// The tokens of a text with numerals cut off the words they are glued to.
pub(super) fn unglued(tokens: Vec<Token>, text: &str, lexicon: &Lexicon) -> Vec<Token> {
    tokens.into_iter().flat_map(|token| unglue(token, text, lexicon)).collect()
}

/// The tokens of a text before numerals are cut off: the form that lexicon entries are kept in.
pub(super) fn whole_tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    for (start, c) in text.char_indices() {
        let end = start + c.len_utf8();
        for folded in fold_char(c) {
            push(&mut out, folded, start, end);
        }
    }
    for token in &mut out {
        if token.shape == Shape::Word {
            trim_word(token);
        }
    }
    out.retain(|token| !token.text.is_empty());
    drop_hyphens(out)
}

/// "face-mask" is "face mask"; the hyphen of "1-6" stays.
fn drop_hyphens(tokens: Vec<Token>) -> Vec<Token> {
    let keep: Vec<bool> = (0..tokens.len())
        .map(|i| {
            let word = |j: Option<usize>| j.and_then(|j| tokens.get(j)).filter(|t| t.shape == Shape::Word);
            let glued = word(i.checked_sub(1)).zip(word(Some(i + 1)));
            !(tokens[i].text == "-"
                && glued.is_some_and(|(a, b)| a.span.1 == tokens[i].span.0 && tokens[i].span.1 == b.span.0))
        })
        .collect();
    tokens.into_iter().zip(keep).filter_map(|(token, keep)| keep.then_some(token)).collect()
}

/// The folded characters one character stands for: no case, no accents, plain quotes, no joiners.
fn fold_char(c: char) -> Vec<char> {
    match c {
        '\u{2018}' | '\u{2019}' | '\u{201b}' | '\u{00b4}' | '`' | '\u{02bc}' => return vec!['\''],
        '\u{2013}' | '\u{2014}' | '\u{2212}' => return vec!['-'],
        '\u{2026}' => return vec!['.', '.'],
        '\u{20e3}' | '\u{00ad}' | '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}' => return Vec::new(),
        '\u{fe00}'..='\u{fe0f}' | '\u{1f3fb}'..='\u{1f3ff}' => return Vec::new(),
        '\u{2640}' | '\u{2642}' => return Vec::new(),
        _ => {}
    }
    c.nfkd()
        .filter(|d| !is_combining_mark(*d))
        .flat_map(char::to_lowercase)
        .filter(|d| !is_combining_mark(*d))
        .collect()
}

fn push(out: &mut Vec<Token>, c: char, start: usize, end: usize) {
    let glued = out.last().is_some_and(|last| last.span.1 == start || last.span.0 == start);
    if c.is_whitespace() || c.is_control() {
        if c == '\n' {
            out.push(Token { shape: Shape::Mark, text: "\n".into(), span: (start, end) });
        }
        return;
    }
    let shape = shape_of(c);
    if glued && let Some(last) = out.last_mut() {
        let joins = match (last.shape, shape) {
            (Shape::Word, Shape::Word | Shape::Number) | (Shape::Number, Shape::Number) => true,
            (Shape::Word, Shape::Mark) => c == '\'',
            (Shape::Number, Shape::Word) => {
                last.shape = Shape::Word;
                true
            }
            (Shape::Mark, Shape::Mark) => last.text.starts_with(c) && c != '\'',
            _ => false,
        };
        if joins {
            if last.shape != Shape::Mark || last.text.len() < 4 {
                last.text.push(c);
            }
            last.span.1 = end;
            return;
        }
    }
    out.push(Token { shape, text: c.to_string(), span: (start, end) });
}

fn shape_of(c: char) -> Shape {
    if c.is_ascii_digit() {
        Shape::Number
    } else if c.is_alphabetic() {
        Shape::Word
    } else if c.is_ascii_punctuation() || matches!(c, '¿' | '¡' | '«' | '»' | '“' | '”' | '·' | '•') {
        Shape::Mark
    } else {
        Shape::Symbol
    }
}

/// Drops apostrophes: "won't" is "wont", "strap's" is "straps".
fn trim_word(token: &mut Token) {
    token.text.retain(|c| c != '\'');
}

/// Splits "2n5" or "5ok" at the seams of digits and letters, unless the lexicon knows the whole ("b4", "2nite").
fn unglue(token: Token, text: &str, lexicon: &Lexicon) -> Vec<Token> {
    let mixed = token.shape == Shape::Word && token.text.bytes().any(|b| b.is_ascii_digit());
    if !mixed || lexicon.knows(&token.text) {
        return vec![token];
    }
    let exact = text.get(token.span.0..token.span.1).is_some_and(|raw| raw.is_ascii() && raw.len() == token.text.len());
    let mut parts: Vec<Token> = Vec::new();
    for (at, c) in token.text.char_indices() {
        let shape = shape_of(c);
        let span = if exact { (token.span.0 + at, token.span.0 + at + c.len_utf8()) } else { token.span };
        match parts.last_mut() {
            Some(last) if last.shape == shape => {
                last.text.push(c);
                last.span.1 = span.1;
            }
            _ => parts.push(Token { shape, text: c.to_string(), span }),
        }
    }
    parts
}
