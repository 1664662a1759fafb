//! E-mail to send.

use serde::{Deserialize, Serialize};

use crate::trade::roster::{AthleteId, GuardianId, Language, ProgramId};
use crate::trade::time::Moment;

/// Where an e-mail stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MailState {
    /// Waits for its time and its turn.
    Due,
    /// A worker has it under lease.
    Claimed,
    /// The mail server has it.
    Sent,
    /// Refused for good, or tried too often.
    Failed,
    /// Not sent: withdrawn, or something newer took its place.
    Cancelled,
}

/// An e-mail.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mail {
    /// The program.
    pub program: ProgramId,
    /// Natural key: a second insert of the same is nothing. Its `Message-ID` is made from it.
    pub id: String,
    /// Who gets it.
    pub guardian: GuardianId,
    /// The athlete it is about.
    pub athlete: Option<AthleteId>,
    /// Where it goes.
    pub address: String,
    /// Subject.
    pub subject: String,
    /// Text, without what is added when it is sent.
    pub body: String,
    /// Language.
    pub language: Language,
    /// Where it stands.
    pub state: MailState,
    /// Not before.
    pub due_at: Moment,
    /// When it was queued; its `Date`.
    pub created_at: Moment,
    /// How often it was handed to the mail server.
    pub attempts: i64,
    /// Who has it.
    pub claimed_by: Option<String>,
    /// Until when.
    pub lease_until: Option<Moment>,
    /// When the mail server took it.
    pub sent_at: Option<Moment>,
    /// The mail server's last word.
    pub error: Option<String>,
}
