//! Sealing: what is medical, or somebody's own words, is kept encrypted, so that a stolen database file shows none of it.
//!
//! AES-256-GCM-SIV (RFC 8452) with a key from the environment. The nonce follows from the text and its place by HMAC, so no
//! randomness is needed and two equal texts look alike only in the same place. Each value is bound to its table, column and
//! key: moved elsewhere, or changed, it does not open.

use std::fmt;
use std::sync::Arc;

use aes_gcm_siv::aead::{Aead as _, KeyInit as _, Payload};
use aes_gcm_siv::{Aes256GcmSiv, Nonce};
use base64::Engine as _;
use base64::engine::general_purpose::{STANDARD, STANDARD_NO_PAD};
use hmac::{Hmac, Mac as _};
use serde_json::{Map, Value};
use sha2::Sha256;

use super::table::{Kind, Table};
use super::{Result, StoreError};
use crate::trade::flag::Flag;

/// What a sealed value begins with; no text from a phone does.
const MARK: &str = "\u{1}s1:";
const NONCE: usize = 12;
const ID: usize = 4;

/// Why a value does not open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// Sealed with a key that is not given.
    #[error("it was sealed with another key; give the older key too, after a comma")]
    OtherKey,
    /// Changed, or moved from another place.
    #[error("it was changed, or moved from another place")]
    Changed,
}

/// Why a text is no key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "a key is 32 bytes in base64, such as `browline key` prints; several are separated by commas, the present one first"
)]
pub struct NoKey;

struct One {
    id: [u8; ID],
    cipher: Aes256GcmSiv,
    nonces: Hmac<Sha256>,
}

/// The keys: the first seals, all open. Clones share them.
#[derive(Clone)]
pub struct Seal(Arc<Vec<One>>);

impl fmt::Debug for Seal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Seal({} keys)", self.0.len())
    }
}

fn derived(key: &[u8], purpose: &str) -> [u8; 32] {
    let mut mac = hmac(key);
    mac.update(purpose.as_bytes());
    mac.finalize().into_bytes().into()
}

#[expect(clippy::expect_used, reason = "HMAC takes a key of any length")]
fn hmac(key: &[u8]) -> Hmac<Sha256> {
    Hmac::<Sha256>::new_from_slice(key).expect("a key of any length")
}

impl One {
    fn new(key: &[u8; 32]) -> Self {
        let id = derived(key, "browline seal: id");
        Self {
            id: [id[0], id[1], id[2], id[3]],
            cipher: Aes256GcmSiv::new(&derived(key, "browline seal: text").into()),
            nonces: hmac(&derived(key, "browline seal: nonce")),
        }
    }
}

impl Seal {
    /// Reads keys: 32 bytes each in base64, the present one first, older ones after commas.
    ///
    /// # Errors
    /// [`NoKey`].
    pub fn parse(text: &str) -> std::result::Result<Self, NoKey> {
        let one = |part: &str| -> std::result::Result<One, NoKey> {
            let bytes = STANDARD.decode(part.trim()).map_err(|_| NoKey)?;
            Ok(One::new(&bytes.try_into().map_err(|_| NoKey)?))
        };
        let keys = text.split(',').map(one).collect::<std::result::Result<Vec<_>, _>>()?;
        Ok(Self(Arc::new(keys)))
    }

    /// A key of these bytes.
    #[must_use]
    pub fn of(key: &[u8; 32]) -> Self {
        Self(Arc::new(vec![One::new(key)]))
    }

    /// A key as text, for the environment.
    #[must_use]
    pub fn as_text(key: &[u8; 32]) -> String {
        STANDARD.encode(key)
    }

    /// Seals a text for a place.
    #[must_use]
    pub fn close(&self, place: &str, text: &str) -> String {
        let Some(key) = self.0.first() else { return text.to_owned() };
        let mut mac = key.nonces.clone();
        mac.update(place.as_bytes());
        mac.update(&[0]);
        mac.update(text.as_bytes());
        let nonce = &mac.finalize().into_bytes()[..NONCE];
        let payload = Payload { msg: text.as_bytes(), aad: place.as_bytes() };
        let Ok(nonce_of) = Nonce::try_from(nonce) else { return String::new() };
        // Fails for texts of more than 64 gigabytes alone.
        let sealed = key.cipher.encrypt(&nonce_of, payload).unwrap_or_default();
        let bytes: Vec<u8> = key.id.iter().chain(nonce).chain(&sealed).copied().collect();
        format!("{MARK}{}", STANDARD_NO_PAD.encode(bytes))
    }

    /// Opens a text of a place. What is not sealed is returned as it is: it was kept before there was a key.
    ///
    /// # Errors
    /// [`SealError`].
    pub fn open(&self, place: &str, text: &str) -> std::result::Result<String, SealError> {
        let Some(body) = text.strip_prefix(MARK) else { return Ok(text.to_owned()) };
        let bytes = STANDARD_NO_PAD.decode(body).map_err(|_| SealError::Changed)?;
        let (id, rest) = bytes.split_at_checked(ID).ok_or(SealError::Changed)?;
        let (nonce, sealed) = rest.split_at_checked(NONCE).ok_or(SealError::Changed)?;
        let key = self.0.iter().find(|key| key.id == id).ok_or(SealError::OtherKey)?;
        let nonce = Nonce::try_from(nonce).map_err(|_| SealError::Changed)?;
        let payload = Payload { msg: sealed, aad: place.as_bytes() };
        let plain = key.cipher.decrypt(&nonce, payload).map_err(|_| SealError::Changed)?;
        String::from_utf8(plain).map_err(|_| SealError::Changed)
    }

    /// Rows as one JSON array, with what is to be sealed sealed.
    pub(super) fn close_rows<T: Table>(&self, rows: &[T]) -> serde_json::Result<String> {
        let mut all = Vec::with_capacity(rows.len());
        for row in rows {
            let mut value = serde_json::to_value(row)?;
            if let Value::Object(fields) = &mut value {
                for (column, kind) in sealed::<T>() {
                    let place = place::<T>(column, fields);
                    let Some(field) = fields.get(*column).filter(|field| is_due(*kind, field)) else { continue };
                    let text = match field {
                        Value::String(text) if *kind == Kind::Sealed => text.clone(),
                        other => other.to_string(),
                    };
                    fields.insert((*column).to_owned(), Value::String(self.close(&place, &text)));
                }
            }
            all.push(value);
        }
        serde_json::to_string(&all)
    }

    /// A row of JSON, opened.
    pub(super) fn open_row<T: Table>(&self, row: &str) -> Result<T> {
        let wrong = |source| StoreError::Row { table: T::NAME, source };
        let mut value: Value = serde_json::from_str(row).map_err(wrong)?;
        if let Value::Object(fields) = &mut value {
            for (column, kind) in sealed::<T>() {
                let place = place::<T>(column, fields);
                let Some(Value::String(text)) = fields.get(*column) else { continue };
                if !text.starts_with(MARK) {
                    continue;
                }
                let plain = self.open(&place, text).map_err(|why| StoreError::Sealed { table: T::NAME, why })?;
                let plain = match kind {
                    Kind::Sealed => Value::String(plain),
                    _ => serde_json::from_str(&plain).map_err(wrong)?,
                };
                fields.insert((*column).to_owned(), plain);
            }
        }
        serde_json::from_value(value).map_err(wrong)
    }
}

/// Whether a text lies there sealed.
pub(super) fn looks_sealed(text: &str) -> bool {
    text.starts_with(MARK)
}

/// The sealed columns of a table.
fn sealed<T: Table>() -> impl Iterator<Item = &'static (&'static str, Kind)> {
    T::COLUMNS.iter().filter(|(_, kind)| matches!(kind, Kind::Sealed | Kind::SealedJson | Kind::Flags))
}

/// Whether a table has any.
pub(super) fn is_sealed<T: Table>() -> bool {
    sealed::<T>().next().is_some()
}

/// Whether a value is to be sealed.
fn is_due(kind: Kind, value: &Value) -> bool {
    let is_body = |name: &Value| Flag::ALL.iter().any(|flag| flag.is_body() && name.as_str() == Some(flag.name()));
    match (kind, value) {
        (_, Value::Null) => false,
        (Kind::Flags, Value::Array(flags)) => flags.iter().any(is_body),
        (Kind::SealedJson, Value::Array(all)) => !all.is_empty(),
        _ => true,
    }
}

/// Where a value stands: table, column and key.
fn place<T: Table>(column: &str, fields: &Map<String, Value>) -> String {
    let key: Vec<String> =
        T::KEY.iter().map(|name| fields.get(*name).map(ToString::to_string).unwrap_or_default()).collect();
    format!("{}/{column}/{}", T::NAME, key.join("/"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seal(byte: u8) -> Seal {
        Seal::of(&[byte; 32])
    }

    #[test]
    fn what_is_sealed_opens_in_its_place_alone() {
        let seal = seal(7);
        let closed = seal.close("inbox/body/1", "my head hurts");
        assert!(!closed.contains("head") && closed.starts_with(MARK));
        assert_eq!(seal.open("inbox/body/1", &closed).unwrap(), "my head hurts");
        assert_eq!(seal.open("inbox/body/2", &closed), Err(SealError::Changed), "moved");
        let mut changed = closed.clone().into_bytes();
        let last = changed.len() - 2;
        changed[last] = if changed[last] == b'A' { b'B' } else { b'A' };
        assert_eq!(seal.open("inbox/body/1", &String::from_utf8(changed).unwrap()), Err(SealError::Changed));
        assert_eq!(seal.open("inbox/body/1", "from before there was a key").unwrap(), "from before there was a key");
        assert_ne!(closed, seal.close("inbox/body/2", "my head hurts"), "equal texts do not look alike");
    }

    #[test]
    fn an_older_key_still_opens_and_a_strange_one_says_so() {
        let old = seal(1).close("p", "x");
        let both = format!("{},{}", Seal::as_text(&[2; 32]), Seal::as_text(&[1; 32]));
        assert_eq!(Seal::parse(&both).unwrap().open("p", &old).unwrap(), "x");
        assert_eq!(seal(2).open("p", &old), Err(SealError::OtherKey));
        assert!(Seal::parse("c2hvcnQ=").is_err() && Seal::parse("").is_err());
    }

    /// RFC 8452, appendix C.2: AEAD_AES_256_GCM_SIV, the case with 8 bytes of text and 1 of additional data.
    #[test]
    fn the_cipher_is_that_of_the_published_example() {
        let bytes = |hex: &str| -> Vec<u8> {
            (0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()).collect()
        };
        let key: [u8; 32] =
            bytes("0100000000000000000000000000000000000000000000000000000000000000").try_into().unwrap();
        let nonce = bytes("030000000000000000000000");
        let cipher = Aes256GcmSiv::new(&key.into());
        let (msg, aad) = (bytes("0200000000000000"), bytes("01"));
        let sealed =
            cipher.encrypt(&Nonce::try_from(nonce.as_slice()).unwrap(), Payload { msg: &msg, aad: &aad }).unwrap();
        assert_eq!(sealed, bytes("1de22967237a813291213f267e3b452f02d01ae33e4ec854"));
    }

    #[test]
    fn helmet_flags_stay_plain_and_body_flags_do_not() {
        let flags = |names: &[&str]| Value::from(names.to_vec());
        assert!(!is_due(Kind::Flags, &flags(&["strap", "brow"])));
        assert!(is_due(Kind::Flags, &flags(&["strap", "symptom"])));
        assert!(!is_due(Kind::SealedJson, &flags(&[])) && !is_due(Kind::Sealed, &Value::Null));
    }
}
