//! What a text costs: its encoding, its length and its segments, as the networks count them.
//!
//! Pure. Follows 3GPP TS 23.038 (alphabet) and 3GPP TS 23.040 section 9.2.3.24.1 (140 octets a message, 6 of which go
//! to the concatenation header when there is more than one). Leaves to the channel what a carrier finally bills.
//! Invariant: [`fold`] never makes a text longer in segments, and folding twice changes nothing more.

use serde::Serialize;
use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Septets of a GSM-7 message that stands alone.
const GSM7_ALONE: usize = 160;
/// Septets of each part of a longer GSM-7 message.
const GSM7_PART: usize = 153;
/// UTF-16 units of a UCS-2 message that stands alone.
const UCS2_ALONE: usize = 70;
/// UTF-16 units of each part of a longer UCS-2 message.
const UCS2_PART: usize = 67;

/// How a text travels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Encoding {
    /// The GSM 7-bit default alphabet with its extension table.
    Gsm7,
    /// UCS-2: one character outside GSM-7 moves the whole text here.
    Ucs2,
}

/// What a text costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
pub struct Segments {
    /// The encoding it needs.
    pub encoding: Encoding,
    /// Septets in GSM-7, UTF-16 code units in UCS-2.
    pub units: usize,
    /// Messages on the air; 1 for an empty text.
    pub segments: usize,
}

/// Septets of a character in GSM-7: 1 in the basic table, 2 in the extension table, none when it is in neither
/// (3GPP TS 23.038 sections 6.2.1 and 6.2.1.1).
#[must_use]
pub const fn septets(character: char) -> Option<usize> {
    match character {
        '\n' | '\r' | ' '..='Z' | '_' | 'a'..='z' => Some(1),
        '£' | '¥' | 'è' | 'é' | 'ù' | 'ì' | 'ò' | 'Ç' | 'Ø' | 'ø' | 'Å' | 'å' | 'Δ' | 'Φ' | 'Γ' | 'Λ' | 'Ω' | 'Π'
        | 'Ψ' | 'Σ' | 'Θ' | 'Ξ' | 'Æ' | 'æ' | 'ß' | 'É' | '¤' | '¡' | 'Ä' | 'Ö' | 'Ñ' | 'Ü' | '§' | '¿' | 'ä' | 'ö'
        | 'ñ' | 'ü' | 'à' => Some(1),
        '\u{c}' | '^' | '{' | '}' | '\\' | '[' | '~' | ']' | '|' | '€' => Some(2),
        _ => None,
    }
}

/// Counts a text as it is: nothing is normalised or replaced first.
#[must_use]
pub fn count(text: &str) -> Segments {
    let widths: Option<Vec<usize>> = text.chars().map(septets).collect();
    let (encoding, widths, alone, part) = match widths {
        Some(widths) => (Encoding::Gsm7, widths, GSM7_ALONE, GSM7_PART),
        None => (Encoding::Ucs2, text.chars().map(char::len_utf16).collect(), UCS2_ALONE, UCS2_PART),
    };
    let units = widths.iter().sum();
    let segments = if units <= alone { 1 } else { parts(&widths, part) };
    Segments { encoding, units, segments }
}

/// Fills parts in order. What takes two units, an escape pair or a surrogate pair, is not cut
/// (3GPP TS 23.040 section 9.2.3.24); the unit left over before it is wasted.
fn parts(widths: &[usize], part: usize) -> usize {
    let mut segments = 1;
    let mut used = 0;
    for width in widths {
        if used + width > part {
            segments += 1;
            used = 0;
        }
        used += width;
    }
    segments
}

/// The text in composed form, with what is outside GSM-7 replaced by the nearest GSM-7 writing where little is lost:
/// `á` by `a`, curly quotes by straight ones, a dash by a hyphen. `é ñ ü ¿ ¡` and the rest of GSM-7 stay.
///
/// When a character is left that has no such writing, an emoji or another script, the text is UCS-2 anyway and keeps
/// its accents. A replacement that would cost more segments is not made.
#[must_use]
pub fn fold(text: &str) -> String {
    let composed: String = text.nfc().collect();
    let folded = plainly(&composed);

    let before = count(text).segments;
    let after = count(&folded);
    if after.encoding == Encoding::Gsm7 && after.segments <= before {
        folded
    } else if count(&composed).segments <= before {
        composed
    } else {
        text.to_owned()
    }
}

/// Every replacement that can be made, whatever is left and whatever it costs: for comparing, not for sending.
pub(super) fn plainly(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    text.nfc().for_each(|character| fold_into(character, &mut plain));
    plain
}

fn fold_into(character: char, out: &mut String) {
    if septets(character).is_some() {
        out.push(character);
    } else if let Some(plain) = plain(character) {
        out.push_str(plain);
    } else if !is_combining_mark(character) {
        let bare: String = character.nfkd().filter(|part| !is_combining_mark(*part)).collect();
        if !bare.is_empty() && bare.chars().all(|part| septets(part).is_some()) {
            out.push_str(&bare);
        } else {
            out.push(character);
        }
    }
}

/// Replacements that do not follow from the compatibility decomposition of Unicode.
const fn plain(character: char) -> Option<&'static str> {
    Some(match character {
        '‘' | '’' | '‚' | '‛' | '′' | '‹' | '›' | '`' | '´' | 'ʻ' | 'ʼ' => "'",
        '“' | '”' | '„' | '‟' | '″' | '«' | '»' => "\"",
        '\u{2010}'..='\u{2015}' | '−' | '•' | '·' => "-",
        '\t' => " ",
        '×' => "x",
        // Nothing to see: soft hyphen, zero-width space, direction marks, byte-order mark.
        '\u{ad}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{feff}' => "",
        'ı' => "i",
        'ł' => "l",
        'Ł' => "L",
        'đ' | 'ð' => "d",
        'Đ' | 'Ð' => "D",
        'þ' => "th",
        'Þ' => "Th",
        'œ' => "oe",
        'Œ' => "OE",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folds(text: &str, expected: &str) {
        assert_eq!(fold(text), expected, "{text:?}");
    }

    /// The basic table of 3GPP TS 23.038 section 6.2.1 has 127 characters beside the escape, its extension table ten.
    #[test]
    fn the_alphabet_has_as_many_characters_as_the_standard_prints() {
        let of_width = |width| ('\0'..=char::MAX).filter(|character| septets(*character) == Some(width)).count();
        assert_eq!(of_width(1), 127);
        assert_eq!(of_width(2), 10);
    }

    #[test]
    fn accents_outside_gsm7_go_and_those_inside_stay() {
        folds("Iván revisó aquí su último número", "Ivan reviso aqui su ultimo numero");
        folds("ÁÍÓÚ", "AIOU");
        folds("¿Listo, Peña? ¡Sé puntual, pingüino!", "¿Listo, Peña? ¡Sé puntual, pingüino!");
        folds("cafe\u{301} Man\u{303}ana I\u{301}", "café Mañana I");
        folds("François Łukasz Nguyễn Ðiệp Kaʻohu", "Francois Lukasz Nguyen Diep Ka'ohu");
    }

    #[test]
    fn typographers_marks_become_plain_ones() {
        folds("Don’t – “now”…\u{a0}1\u{2011}6\u{200b}", "Don't - \"now\"... 1-6");
        folds("1\u{fe0f}\u{20e3} strap", "1 strap");
    }

    #[test]
    fn a_text_that_is_ucs2_anyway_keeps_its_accents() {
        folds("Iván 👍 “sí”", "Iván 👍 “sí”");
        folds("Иван – José", "Иван – José");
    }

    /// Seventy ellipses are one UCS-2 segment and would be two of GSM-7.
    #[test]
    fn a_replacement_that_would_cost_more_is_not_made() {
        let dots = "…".repeat(70);
        folds(&dots, &dots);
    }

    #[test]
    fn nothing_is_one_segment() {
        assert_eq!(count(""), Segments { encoding: Encoding::Gsm7, units: 0, segments: 1 });
    }
}
