//! Tokens nobody can guess, from a seed that the edge took from the machine.

use std::sync::{Mutex, PoisonError};

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha20Rng;

/// A source of tokens.
pub struct Chance(Mutex<ChaCha20Rng>);

impl Chance {
    /// From a seed: 32 bytes of the machine's randomness, or a fixed one where the same morning is to be repeated.
    #[must_use]
    pub fn new(seed: [u8; 32]) -> Self {
        Self(Mutex::new(ChaCha20Rng::from_seed(seed)))
    }

    /// A token of so many random bytes, in characters that a text and an address carry as they are.
    #[must_use]
    pub fn token<const BYTES: usize>(&self) -> String {
        let mut bytes = [0_u8; BYTES];
        self.0.lock().unwrap_or_else(PoisonError::into_inner).fill_bytes(&mut bytes);
        URL_SAFE_NO_PAD.encode(bytes)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_differ_and_are_as_long_as_asked() {
        let chance = Chance::new([7; 32]);
        let (first, second) = (chance.token::<16>(), chance.token::<16>());
        assert_ne!(first, second);
        assert_eq!(first.len(), 22);
        assert_eq!(Chance::new([7; 32]).token::<16>(), first, "the same seed gives the same");
    }
}
