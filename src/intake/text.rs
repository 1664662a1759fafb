//! Bytes to text, as office programs save it: UTF-8, UTF-16 with a byte-order mark, or Windows-1252.
//!
//! Line ends come out as `\n` alone, so that lines count the same whatever wrote the file.

use super::Fault;

/// Text of a file, and whether it had to be taken as Windows-1252.
pub(super) struct Decoded {
    pub(super) text: String,
    pub(super) windows: bool,
}

/// Windows-1252 for 0x80 to 0x9F, after the WHATWG Encoding Standard's index (unassigned bytes stay controls).
const HIGH: [char; 32] = [
    '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}', '\u{90}', '‘', '’',
    '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
];

/// Reads bytes as text.
///
/// # Errors
/// A [`Fault`] when the bytes are a workbook or another file that is not text.
pub(super) fn decode(bytes: &[u8]) -> Result<Decoded, Fault> {
    if bytes.starts_with(b"PK\x03\x04") || bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        return Err(Fault::new("this is a workbook, not text", "save the sheet as CSV (UTF-8)"));
    }
    let (text, windows) = match bytes {
        [0xEF, 0xBB, 0xBF, rest @ ..] => utf8(rest),
        [0xFF, 0xFE, rest @ ..] => (utf16(rest, u16::from_le_bytes)?, false),
        [0xFE, 0xFF, rest @ ..] => (utf16(rest, u16::from_be_bytes)?, false),
        _ => utf8(bytes),
    };
    if text.contains('\0') {
        return Err(Fault::new("this is not a text file", "save it again as CSV (UTF-8) or .ics"));
    }
    Ok(Decoded { text: text.replace("\r\n", "\n").replace('\r', "\n"), windows })
}

fn utf8(bytes: &[u8]) -> (String, bool) {
    match std::str::from_utf8(bytes) {
        Ok(text) => (text.to_owned(), false),
        Err(_) => (bytes.iter().map(|byte| windows_1252(*byte)).collect(), true),
    }
}

fn windows_1252(byte: u8) -> char {
    match byte {
        0x80..=0x9F => HIGH[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, Fault> {
    let broken = || Fault::new("the UTF-16 text is damaged", "save the file again as CSV (UTF-8)");
    if !bytes.len().is_multiple_of(2) {
        return Err(broken());
    }
    let units = bytes.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
    char::decode_utf16(units).collect::<Result<_, _>>().map_err(|_| broken())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(bytes: &[u8]) -> String {
        decode(bytes).unwrap().text
    }

    #[test]
    fn the_same_word_in_every_encoding() {
        assert_eq!(text("Peña\r\n".as_bytes()), "Peña\n");
        assert_eq!(text(b"\xEF\xBB\xBFPe\xC3\xB1a\n"), "Peña\n");
        assert_eq!(text(b"Pe\xF1a\r"), "Peña\n");
        assert_eq!(text(b"\xFF\xFEP\0e\0\xF1\0a\0\n\0"), "Peña\n");
        assert_eq!(text(b"\xFE\xFF\0P\0e\0\xF1\0a\0\n"), "Peña\n");
        assert_eq!(text(b"\x80 \x93x\x94 \x9F"), "€ “x” Ÿ");
    }

    #[test]
    fn what_is_not_text_is_said_to_be() {
        assert!(decode(b"PK\x03\x04 and so on").is_err());
        assert!(decode(b"\xFF\xFEP").is_err());
        assert!(decode(b"a\0b").is_err());
    }
}
