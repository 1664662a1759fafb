//! Cuts a reply into tokens: words without accents or case, numerals, marks, emoji.
//!
//! Every token keeps the byte span it came from. What a token means is left to `lex`. The folded text of all tokens lies
//! in one buffer, so that a token costs no allocation.

use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

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
#[derive(Debug, Clone, Copy)]
pub(super) struct Token<'a> {
    pub(super) shape: Shape,
    /// Folded text.
    pub(super) text: &'a str,
    /// Byte offsets into the original.
    pub(super) span: (usize, usize),
}

/// A folded text, cut up.
#[derive(Debug)]
pub(super) struct Folded {
    text: String,
    pieces: Vec<Piece>,
    has_quotes: bool,
}

/// A token by where its folded text lies.
#[derive(Debug, Clone, Copy)]
struct Piece {
    shape: Shape,
    folded: (usize, usize),
    span: (usize, usize),
}

/// Folds a text and cuts it up.
pub(super) fn fold(text: &str) -> Folded {
    let (letters, pieces) = (String::with_capacity(text.len()), Vec::with_capacity(text.len() / 4 + 2));
    let mut folded = Folded { text: letters, pieces, has_quotes: false };
    let mut start = 0;
    while let Some(c) = text[start..].chars().next() {
        start = if c.is_ascii_alphabetic() { folded.letters(text, start) } else { folded.sign(c, start) };
    }
    folded.drop_hyphens();
    folded
}

impl Folded {
    /// The folded text of all tokens, one after the other.
    pub(super) fn text(&self) -> &str {
        &self.text
    }

    /// Whether any token begins with a quotation mark.
    pub(super) const fn has_quotes(&self) -> bool {
        self.has_quotes
    }

    /// The tokens before numerals are cut off: the form that lexicon entries are kept in.
    pub(super) fn whole_tokens(&self) -> impl Iterator<Item = Token<'_>> {
        self.pieces.iter().map(|piece| Token {
            shape: piece.shape,
            text: &self.text[piece.folded.0..piece.folded.1],
            span: piece.span,
        })
    }

    /// Folds a run of letters of the English alphabet, most of any reply. Returns where it ends.
    fn letters(&mut self, text: &str, start: usize) -> usize {
        let run = text.as_bytes()[start..].iter().take_while(|byte| byte.is_ascii_alphabetic()).count();
        let (end, from) = (start + run, self.text.len());
        self.text.push_str(&text[start..end]);
        self.text[from..].make_ascii_lowercase();
        let before = self.pieces.last_mut().filter(|last| last.span.1 == start);
        match before.filter(|last| matches!(last.shape, Shape::Word | Shape::Number)) {
            Some(last) => {
                last.shape = Shape::Word;
                (last.folded.1, last.span.1) = (self.text.len(), end);
            }
            None => {
                self.pieces.push(Piece { shape: Shape::Word, folded: (from, self.text.len()), span: (start, end) });
            }
        }
        end
    }

    /// Folds any one character. Returns where it ends.
    fn sign(&mut self, c: char, start: usize) -> usize {
        let end = start + c.len_utf8();
        if c == ' ' {
            return end;
        }
        let mut shown = false;
        fold_char(c, |c| {
            shown = true;
            self.push(c, start, end);
        });
        if !shown && is_within_words(c) {
            self.stretch(start, end);
        }
        end
    }

    fn push(&mut self, c: char, start: usize, end: usize) {
        if c.is_whitespace() || c.is_control() {
            if c == '\n' {
                self.begin(Shape::Mark, c, (start, end));
            }
            return;
        }
        let shape = shape_of(c);
        let glued = self.pieces.last_mut().filter(|last| last.span.1 == start || last.span.0 == start);
        let Some(last) = glued else { return self.begin(shape, c, (start, end)) };
        let joins = match (last.shape, shape) {
            (Shape::Word, Shape::Word | Shape::Number) | (Shape::Number, Shape::Number) => true,
            (Shape::Word, Shape::Mark) => c == '\'',
            (Shape::Number, Shape::Word) => {
                last.shape = Shape::Word;
                true
            }
            (Shape::Mark, Shape::Mark) => self.text[last.folded.0..].starts_with(c) && c != '\'',
            _ => false,
        };
        if !joins {
            return self.begin(shape, c, (start, end));
        }
        // Apostrophes within words are dropped: "won't" is "wont", "strap's" is "straps". Of many marks four are kept.
        let kept = if last.shape == Shape::Mark { last.folded.1 - last.folded.0 < 4 } else { c != '\'' };
        if kept {
            self.text.push(c);
            last.folded.1 = self.text.len();
        }
        last.span.1 = end;
    }

    /// What shows as nothing belongs to what it was put upon, so that letters on both sides of it stay one word.
    fn stretch(&mut self, start: usize, end: usize) {
        if let Some(last) = self.pieces.last_mut().filter(|last| last.span.1 == start) {
            last.span.1 = end;
        }
    }

    fn begin(&mut self, shape: Shape, c: char, span: (usize, usize)) {
        let from = self.text.len();
        self.text.push(c);
        self.has_quotes |= is_quote(c);
        self.pieces.push(Piece { shape, folded: (from, self.text.len()), span });
    }

    /// "face-mask" is "face mask"; the hyphen of "1-6" stays.
    fn drop_hyphens(&mut self) {
        let text = &self.text;
        let hyphen = |piece: &Piece| piece.shape == Shape::Mark && &text[piece.folded.0..piece.folded.1] == "-";
        if !self.pieces.iter().any(hyphen) {
            return;
        }
        let between = |pieces: &[Piece]| {
            let [a, middle, b] = pieces else { return false };
            let words = a.shape == Shape::Word && b.shape == Shape::Word;
            words && hyphen(middle) && a.span.1 == middle.span.0 && middle.span.1 == b.span.0
        };
        let dropped: Vec<usize> =
            self.pieces.windows(3).zip(1..).filter(|(three, _)| between(three)).map(|(_, at)| at).collect();
        let (mut at, mut dropped) = (0, dropped.into_iter().peekable());
        self.pieces.retain(|_| {
            at += 1;
            dropped.next_if_eq(&(at - 1)).is_none()
        });
    }
}

/// The folded characters one character stands for: no case, no accents, plain quotes, no joiners.
fn fold_char(c: char, mut push: impl FnMut(char)) {
    match c {
        '`' => push('\''),
        '\0'..='\u{7f}' => push(c.to_ascii_lowercase()),
        '\u{2018}' | '\u{2019}' | '\u{201b}' | '\u{00b4}' | '\u{02bc}' => push('\''),
        '\u{2013}' | '\u{2014}' | '\u{2212}' => push('-'),
        '\u{2026}' => {
            push('.');
            push('.');
        }
        // Soft hyphens, joiners, marks of direction: they show as nothing.
        '\u{00ad}' | '\u{061c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' => {}
        '\u{2060}'..='\u{2064}' | '\u{2066}'..='\u{206f}' | '\u{feff}' => {}
        // What emoji are dressed with.
        '\u{20e3}' | '\u{fe00}'..='\u{fe0f}' | '\u{1f3fb}'..='\u{1f3ff}' | '\u{2640}' | '\u{2642}' => {}
        // What Spanish adds to the alphabet, and emoji: they need no tables.
        'á' | 'Á' => push('a'),
        'é' | 'É' => push('e'),
        'í' | 'Í' => push('i'),
        'ó' | 'Ó' => push('o'),
        'ú' | 'Ú' | 'ü' | 'Ü' => push('u'),
        'ñ' | 'Ñ' => push('n'),
        '\u{1f300}'..='\u{1faff}' => push(c),
        _ => fold_by_tables(c, push),
    }
}

/// Whether a character that is dropped may stand within a word; what dresses an emoji or a keycap ends it.
const fn is_within_words(c: char) -> bool {
    !matches!(c, '\u{20e3}' | '\u{fe00}'..='\u{fe0f}' | '\u{1f3fb}'..='\u{1f3ff}' | '\u{2640}' | '\u{2642}')
}

fn fold_by_tables(c: char, push: impl FnMut(char)) {
    c.nfkd()
        .filter(|d| !is_combining_mark(*d))
        .flat_map(char::to_lowercase)
        .filter(|d| !is_combining_mark(*d))
        .for_each(push);
}

/// Whether it begins or ends what is quoted.
pub(super) const fn is_quote(c: char) -> bool {
    matches!(c, '"' | '\u{201c}' | '\u{201d}' | '«' | '»')
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

impl<'a> Token<'a> {
    /// Whether it is a word with a numeral in it.
    pub(super) fn is_mixed(&self) -> bool {
        self.shape == Shape::Word && self.text.bytes().any(|byte| byte.is_ascii_digit())
    }

    /// Splits "2n5" or "5ok" at the seams of digits and letters; `text` is what was folded.
    pub(super) fn unglue(self, text: &str, mut take: impl FnMut(Self)) {
        let raw = text.get(self.span.0..self.span.1);
        let exact = raw.is_some_and(|raw| raw.is_ascii() && raw.len() == self.text.len());
        let span = |from: usize, to: usize| {
            if exact { (self.span.0 + from, self.span.0 + to) } else { self.span }
        };
        let mut from = 0;
        let shapes = |at: usize| self.text[at..].chars().next().map_or(Shape::Symbol, shape_of);
        for (at, c) in self.text.char_indices() {
            let end = at + c.len_utf8();
            if end == self.text.len() || shapes(end) != shape_of(c) {
                take(Token { shape: shape_of(c), text: &self.text[from..end], span: span(from, end) });
                from = end;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_folded_without_tables_is_folded_as_the_tables_say() {
        let by_hand = "áÁéÉíÍóÓúÚüÜñÑ".chars().chain('\0'..='\u{7f}').chain('\u{1f300}'..='\u{1faff}');
        for c in by_hand.filter(|c| *c != '`' && !('\u{1f3fb}'..='\u{1f3ff}').contains(c)) {
            let (mut quick, mut slow) = (String::new(), String::new());
            fold_char(c, |c| quick.push(c));
            fold_by_tables(c, |c| slow.push(c));
            assert_eq!(quick, slow, "{c:?}");
        }
    }

    #[test]
    fn tokens_lie_where_they_were_written() {
        let text = "Won't FACE-MASK 1-6 está… 👍🏽??";
        let folded = fold(text);
        let tokens: Vec<(&str, &str)> =
            folded.whole_tokens().map(|token| (token.text, &text[token.span.0..token.span.1])).collect();
        let expected = [
            ("wont", "Won't"),
            ("face", "FACE"),
            ("mask", "MASK"),
            ("1", "1"),
            ("-", "-"),
            ("6", "6"),
            ("esta", "está"),
            ("..", "…"),
            ("👍", "👍"),
            ("??", "??"),
        ];
        assert_eq!(tokens, expected);
    }

    #[test]
    fn what_cannot_be_seen_parts_no_word_and_keycaps_stay_apart() {
        let words = |text: &str| fold(text).whole_tokens().map(|token| token.text.to_owned()).collect::<Vec<_>>();
        assert_eq!(words("esta\u{301}n lo\u{200b}ose \u{2068}ok\u{2069}"), ["estan", "loose", "ok"]);
        assert_eq!(words("1\u{fe0f}\u{20e3}2\u{fe0f}\u{20e3}"), ["1", "2"]);
    }
}
