//! How a message leaves: one trait, an implementation for each way of sending.
//!
//! A channel hands one message to a carrier and says what became of it. It stores nothing and decides nothing: when to
//! send, whether to try again and what a failure means for a number is the desk's business, told by [`Refused`].

pub mod chat;
pub mod errors;
pub mod inbound;
pub mod mail;
pub mod retry;
pub mod signature;
pub mod simulated;
pub mod sms;

use std::time::Duration;

use async_trait::async_trait;

use crate::trade::phone::Phone;
use crate::trade::time::Moment;

/// A message for a carrier.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outgoing {
    /// Sending number.
    pub from: Phone,
    /// Receiving number.
    pub to: Phone,
    /// Text.
    pub body: String,
    /// How long the carrier may hold it before giving up, when that is bounded.
    pub valid_for: Option<Duration>,
}

/// What the carrier said when it took a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// The carrier's id for the message.
    pub carrier_id: String,
}

/// A message the carrier says it has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The carrier's id for the message.
    pub carrier_id: String,
    /// Text.
    pub body: String,
    /// When the carrier made it, if it says so.
    pub created_at: Option<Moment>,
    /// Its state there.
    pub status: DeliveryStatus,
}

impl Found {
    /// Whether this is that message: the same text, give or take white space at its ends and the notice that a carrier
    /// puts before the texts of an account on trial.
    #[must_use]
    pub fn carries(&self, message: &Outgoing) -> bool {
        let sent = message.body.trim();
        let found = self.body.trim();
        let after_notice = found.split_once(" trial account - ").map(|(_, text)| text.trim());
        found == sent || after_notice == Some(sent)
    }
}

/// Where a message stands with the carrier, in its own order of progress.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum DeliveryStatus {
    /// Taken, on its way.
    Underway,
    /// The handset, or the last network that reports, has it.
    Delivered,
    /// It did not arrive.
    Failed,
}

/// Why a message was not taken, sorted by what to do about it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Never processed: safe to send again, after the wait when the carrier names one.
    #[error("not taken, may be sent again: {why}")]
    Retry {
        /// The carrier's reason.
        why: String,
        /// How long it asks to wait.
        after: Option<Duration>,
    },
    /// It may have gone out: look before sending again.
    #[error("it may have gone out: {why}")]
    InDoubt {
        /// What happened.
        why: String,
    },
    /// This number cannot be written to.
    #[error("this number cannot be written to ({code}): {why}")]
    Number {
        /// The carrier's error code.
        code: i64,
        /// What it means for the number.
        trouble: NumberTrouble,
        /// The carrier's reason.
        why: String,
    },
    /// This one message is refused; the number is not to blame.
    #[error("message refused ({code}): {why}")]
    Message {
        /// The carrier's error code.
        code: i64,
        /// The carrier's reason.
        why: String,
    },
    /// Nothing can be sent until somebody mends it: bad credentials, account suspended.
    #[error("sending is halted: {why}")]
    Everything {
        /// The carrier's reason and how to mend it.
        why: String,
    },
}

/// What is wrong with a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NumberTrouble {
    /// The person has opted out with the carrier.
    OptedOut,
    /// Not a number that exists.
    Invalid,
    /// Cannot take texts.
    NotMobile,
    /// Switched off, out of service, unknown handset.
    Unreachable,
    /// The carrier has no way there from this sender.
    NoRoute,
}

/// A way of sending.
#[async_trait]
pub trait Channel: Send + Sync {
    /// Hands one message over.
    ///
    /// # Errors
    /// [`Refused`], sorted by what to do next.
    async fn send(&self, message: &Outgoing) -> Result<Accepted, Refused>;

    /// The messages that the carrier has taken from `message.from` for `message.to` since a moment: the look before
    /// a message in doubt is sent again.
    ///
    /// # Errors
    /// [`Refused`] when the carrier cannot be asked now; the message stays in doubt.
    async fn look(&self, message: &Outgoing, since: Moment) -> Result<Vec<Found>, Refused>;
}
