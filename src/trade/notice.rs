//! What a family may hear.

use serde::{Deserialize, Serialize};

/// Something that happened to an athlete, of which guardians may be told.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum News {
    /// Kept out for a body reason.
    Held,
    /// The next step of the return to sport was taken.
    StepReached,
    /// May take part again, on a licensed clinician's decision.
    Cleared,
    /// The helmet was taken out of use.
    HelmetOut,
    /// The helmet is in use again.
    HelmetBack,
}

impl News {
    /// The word for it in natural keys.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::StepReached => "step-reached",
            Self::Cleared => "cleared",
            Self::HelmetOut => "helmet-out",
            Self::HelmetBack => "helmet-back",
        }
    }
}
