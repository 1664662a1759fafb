//! `browline key`: a new key for sealing what is medical.

use std::io::Write as _;

use anyhow::Result;

use super::{Ended, open};
use crate::store::seal::Seal;

/// Prints a new key, from the machine's randomness.
///
/// # Errors
/// When the machine gives no randomness.
pub fn run() -> Result<Ended> {
    let key = open::secret_seed()?;
    writeln!(std::io::stdout(), "{}", Seal::as_text(&key))?;
    Ok(Ended::Well)
}
