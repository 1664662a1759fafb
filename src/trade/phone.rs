//! Telephone numbers: anything a person writes, to E.164 (ITU-T), and back to something short enough for a log.

use std::fmt;

use serde::{Deserialize, Serialize};

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
        let number = phonenumber::parse(Some(phonenumber::country::Id::US), text)
            .map_err(|_| unreadable())?;
        if number.extension().is_some() {
            return Err(PhoneError::Extension(text.to_owned()));
        }
        if !number.is_valid() {
            return Err(PhoneError::Impossible(text.to_owned()));
        }
        Ok(Self(
            number.format().mode(phonenumber::Mode::E164).to_string(),
        ))
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
