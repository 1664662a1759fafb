//! Telephone numbers: anything a person writes, to E.164 (ITU-T), and back to something short enough for a log.

use std::fmt;

use serde::{Deserialize, Serialize};
use unicode_normalization::UnicodeNormalization;

/// A telephone number in E.164: `+`, a country code, at most 15 digits in all.
///
/// Built by [`Phone::parse`] alone, or read back from what was stored.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Phone(String);

/// Why a text is not a telephone number.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhoneError {
    /// Nothing there.
    #[error("no number")]
    Empty,
    /// Cannot be read as a number at all.
    #[error("`{0}` is not a telephone number")]
    Unreadable(String),
    /// Reads as a number that the numbering plan does not allow.
    #[error("`{0}` is not a number that can exist in its country")]
    Impossible(String),
    /// A number behind which an extension is dialled; texts cannot reach it.
    #[error("`{0}` has an extension, which texts cannot reach")]
    Extension(String),
}

impl Phone {
    /// Reads a number as people write it; without a country code it is taken as a US one.
    ///
    /// # Errors
    /// [`PhoneError`] when there is no number, it cannot be read, or its numbering plan does not allow it.
    pub fn parse(text: &str) -> Result<Self, PhoneError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(PhoneError::Empty);
        }
        let unreadable = || PhoneError::Unreadable(text.to_owned());
        let plain: String = text.nfkc().collect();
        let (country, text_read) = match international(&plain) {
            Some(text) => (None, text),
            None => (Some(phonenumber::country::Id::US), plain),
        };
        let number = phonenumber::parse(country, text_read).map_err(|_| unreadable())?;
        if number.extension().is_some() {
            return Err(PhoneError::Extension(text.to_owned()));
        }
        let e164 = number.format().mode(phonenumber::Mode::E164).to_string();
        if !number.is_valid() && !in_new_area(&e164) {
            return Err(PhoneError::Impossible(text.to_owned()));
        }
        Ok(Self(e164))
    }

    /// The number in E.164.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The last four digits, for logs and screens: "…0123".
    #[must_use]
    pub fn short(&self) -> String {
        let tail = self.0.len().saturating_sub(4);
        format!("…{}", self.0.get(tail..).unwrap_or_default())
    }
}

/// A number that gives its country code, behind a plus or behind the US prefix for calls abroad.
///
/// Such a number is parsed without a default country: the parser would strip that country's national prefix, a `1`, from
/// it, and +86 131 ... would become another subscriber's +86 31 ....
fn international(text: &str) -> Option<String> {
    let bare = text.strip_prefix("tel:").unwrap_or(text).trim_start_matches(['(', ' ']);
    if let Some(rest) = bare.strip_prefix(['+', '＋']) {
        return Some(format!("+{rest}"));
    }
    let rest = bare.strip_prefix("011")?;
    let digits = rest.chars().filter(char::is_ascii_digit).count();
    (digits >= 7).then(|| format!("+{rest}"))
}

/// US area codes that the parser's numbering plans (libphonenumber 9.0.33) have not, or in part, and those of
/// libphonenumber 9.0.43 have. To be emptied when the parser catches up.
const NEW_AREAS: [&str; 4] = ["273", "274", "472", "983"];

/// Whether a number is one of a new area code, by the shape that the North American plan gives every number: an
/// exchange begins with 2 to 9 and is not N11.
fn in_new_area(e164: &str) -> bool {
    let Some(national) = e164.strip_prefix("+1").filter(|national| national.len() == 10) else {
        return false;
    };
    let (area, rest) = national.split_at(3);
    NEW_AREAS.contains(&area) && !rest.starts_with(['0', '1']) && rest.get(1..3) != Some("11")
}

impl fmt::Display for Phone {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.0)
    }
}

/// Shortened, so that a number never reaches a log whole.
impl fmt::Debug for Phone {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "Phone({})", self.short())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Option<String> {
        Phone::parse(text).ok().map(|phone| phone.to_string())
    }

    /// A second opinion on many more is in `tests/peers/phones.py`.
    #[test]
    fn numbers_in_the_writings_of_people() {
        for text in [
            "3125550100",
            "(312) 555-0100",
            "312.555.0100",
            "1 312 555 0100",
            "+1 (312) 555-0100",
            "tel:+1-312-555-0100",
            "011 1 312 555 0100",
            "312\u{2013}555\u{2013}0100",
            "\u{ff0b}１３１２５５５０１００",
        ] {
            assert_eq!(read(text).as_deref(), Some("+13125550100"), "{text}");
        }
        assert_eq!(read("+52 55 1234 5678").as_deref(), Some("+525512345678"));
        assert_eq!(read("+44 (0)20 7946 0958").as_deref(), Some("+442079460958"));
    }

    /// A `1` behind another country's code belongs to the number.
    #[test]
    fn a_foreign_number_keeps_its_digits() {
        for text in ["+86 131 2345 6789", "011 86 131 2345 6789", "(+86) 131 2345 6789"] {
            assert_eq!(read(text).as_deref(), Some("+8613123456789"), "{text}");
        }
        assert_eq!(read("+49 1512 3456789").as_deref(), Some("+4915123456789"));
    }

    /// NANP: area code and exchange begin with 2 to 9, and an exchange is not N11.
    #[test]
    fn what_no_plan_allows_is_refused() {
        for text in [
            "",
            "555-0100",
            "312 155 0100",
            "112 555 0100",
            "+15555550123",
            "273 911 0100",
            "983 155 0100",
            "312 555 01000",
            "1.31256E+10",
            "phone",
            "312 555 0100 / 312 555 0101",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
        assert_eq!(read("983 555 0100").as_deref(), Some("+19835550100"));
        assert!(matches!(Phone::parse("312 555 0100 x12"), Err(PhoneError::Extension(_))));
    }

    #[test]
    fn a_log_shows_the_end_alone() {
        let phone = Phone::parse("312 555 0100").unwrap();
        assert_eq!(format!("{phone:?}"), "Phone(…0100)");
    }
}
