//! What is stored beside the values of the trade: messages in and out, numbers, the record, and small counters.

mod board;
mod mail;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::channel::NumberTrouble;
use crate::reading::{Kind, Lang, Reading};
use crate::trade::flag::Flags;
use crate::trade::phone::Phone;
use crate::trade::roster::{AthleteId, ProgramId, StaffId};
use crate::trade::time::Moment;

pub use board::{Feed, Session, SignIn};
pub use mail::{Mail, MailState};

/// A program's own row. Whoever changes a program's state holds its lock, and its head of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ProgramRow {
    /// The program.
    pub program: ProgramId,
    /// Number of the last line in the record; 0 when there is none.
    pub record_seq: i64,
    /// Hash of that line, lower-case hexadecimal; empty when there is none.
    pub record_hash: String,
}

/// What is known of a number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Number {
    /// The program.
    pub program: ProgramId,
    /// The number.
    pub phone: Phone,
    /// When it opted out; nothing is sent while this is set.
    pub opted_out_at: Option<Moment>,
    /// When somebody there said it is not theirs.
    pub wrong_at: Option<Moment>,
    /// What the carrier says is wrong with it.
    pub trouble: Option<NumberTrouble>,
    /// Since when.
    pub trouble_at: Option<Moment>,
    /// When it was first told who writes, how often, and how to stop.
    pub welcomed_at: Option<Moment>,
    /// A question that waits for an answer from this number.
    pub asked: Option<Asked>,
}

impl Number {
    /// A number about which nothing is known.
    #[must_use]
    pub const fn new(program: ProgramId, phone: Phone) -> Self {
        Self {
            program,
            phone,
            opted_out_at: None,
            wrong_at: None,
            trouble: None,
            trouble_at: None,
            welcomed_at: None,
            asked: None,
        }
    }

    /// Whether nothing may be sent to it.
    #[must_use]
    pub const fn is_stopped(&self) -> bool {
        self.opted_out_at.is_some() || self.wrong_at.is_some()
    }
}

/// A question that the program has put to a number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Asked {
    /// Which of the athletes who share the number the text was about.
    WhichAthlete {
        /// In the order they were offered.
        options: Vec<AthleteId>,
        /// The text that waits for its owner.
        text: String,
        /// Links to photos that came with it.
        photos: Vec<String>,
        /// When it came.
        at: Moment,
    },
    /// Which of several items a staff command was about.
    WhichItem {
        /// Item identifiers, in the order they were offered.
        options: Vec<String>,
        /// The command.
        text: String,
        /// When it came.
        at: Moment,
    },
    /// Which of several commands a staff text was.
    WhichCommand {
        /// Commands as they could have been typed, in the order they were offered.
        options: Vec<String>,
        /// When it was asked.
        at: Moment,
    },
    /// Which of the day's events to call off.
    WhichEvent {
        /// Event identifiers, in the order they were offered.
        options: Vec<String>,
        /// When it was asked.
        at: Moment,
    },
}

impl Asked {
    /// When it was asked.
    #[must_use]
    pub const fn at(&self) -> Moment {
        match self {
            Self::WhichAthlete { at, .. }
            | Self::WhichItem { at, .. }
            | Self::WhichCommand { at, .. }
            | Self::WhichEvent { at, .. } => *at,
        }
    }
}

/// Where an outgoing message stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OutState {
    /// Waits for its time and its turn.
    Due,
    /// A worker has it under lease.
    Claimed,
    /// The carrier has it.
    Sent,
    /// The handset has it.
    Delivered,
    /// It did not arrive, or was refused.
    Failed,
    /// Not sent: opted out, called off, answered meanwhile.
    Cancelled,
    /// Not sent: it was too late to be of use.
    Missed,
}

/// What kind of message it is; decides its place in the queue and whether quiet hours hold it.
///
/// Ordered by who goes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    /// A body report to medical staff, or the care that answers it. Quiet hours do not hold it.
    Medical,
    /// Confirmation of STOP or START, answer to HELP: due at once by rule. Quiet hours do not hold it.
    Rights,
    /// Answer to a staff member who has just asked. Quiet hours do not hold it.
    Staff,
    /// Answer to an athlete or guardian who has just written.
    Answer,
    /// A notice that a child is held. Quiet hours do not hold it.
    NoticeAtOnce,
    /// Any other notice to a guardian, or a question to a family.
    Notice,
    /// A practice called off or moved.
    Change,
    /// The first text to a number: who writes, how often, how to stop.
    Welcome,
    /// Fix list, silent list, availability.
    List,
    /// The morning check.
    Check,
    /// A reminder to the silent.
    Nudge,
}

impl Purpose {
    /// Place in the queue: lower goes first.
    #[must_use]
    pub const fn priority(self) -> i64 {
        self as i64
    }

    /// Whether it goes out in quiet hours.
    #[must_use]
    pub const fn ignores_quiet_hours(self) -> bool {
        matches!(self, Self::Medical | Self::Rights | Self::Staff | Self::NoticeAtOnce)
    }
}

/// A message to send.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct OutMessage {
    /// The program.
    pub program: ProgramId,
    /// Natural key: a second insert of the same is nothing.
    pub id: String,
    /// Receiving number.
    pub phone: Phone,
    /// Text.
    pub body: String,
    /// What it is.
    pub purpose: Purpose,
    /// Place in the queue.
    pub priority: i64,
    /// Segments it costs.
    pub segments: i64,
    /// The athlete it is about.
    pub athlete: Option<AthleteId>,
    /// The day of the check it belongs to.
    pub date: Option<NaiveDate>,
    /// Where it stands.
    pub state: OutState,
    /// Not before.
    pub due_at: Moment,
    /// Not after.
    pub send_by: Option<Moment>,
    /// When it was queued.
    pub created_at: Moment,
    /// How often it was handed to the carrier.
    pub attempts: i64,
    /// When it was first handed to the carrier; set before the hand-over.
    pub first_tried_at: Option<Moment>,
    /// Whether it may have gone out unnoticed: look before sending again.
    pub in_doubt: bool,
    /// Who has it.
    pub claimed_by: Option<String>,
    /// Until when.
    pub lease_until: Option<Moment>,
    /// The carrier's id.
    pub carrier_id: Option<String>,
    /// When the carrier took it.
    pub sent_at: Option<Moment>,
    /// The carrier's last word.
    pub error: Option<String>,
}

/// A message received, as it came.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InMessage {
    /// The program.
    pub program: ProgramId,
    /// The carrier's id: a second delivery of the same is nothing.
    pub id: String,
    /// Sending number.
    pub phone: Phone,
    /// Text as it came.
    pub body: String,
    /// Links to pictures.
    pub photos: Vec<String>,
    /// What the carrier did about an opt-out word by itself.
    pub carrier_answered: Option<String>,
    /// When it came.
    pub received_at: Moment,
    /// Whether its consequences are drawn.
    pub handled: bool,
    /// Whom it was taken to be about.
    pub athletes: Vec<AthleteId>,
    /// What it was read as; absent for staff commands and unknown numbers.
    pub reading: Option<Reading>,
}

/// A line of the record: append-only, each with the hash of the one before it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordLine {
    /// The program.
    pub program: ProgramId,
    /// Number in the program's record, from 1.
    pub seq: i64,
    /// When.
    pub at: Moment,
    /// Who: "program", "athlete ID", "staff ID", "carrier".
    pub who: String,
    /// What happened, as a short term.
    pub what: String,
    /// The athlete, staff member or number it is about.
    pub subject: String,
    /// Why, or with which particulars.
    pub why: String,
    /// The incoming message it came from; `chat:` or `board:` with the click's key for what staff did there.
    pub message: Option<String>,
    /// Hash of the line before; empty for the first.
    pub previous: String,
    /// Hash of this line.
    pub hash: String,
    /// Its words were erased on request; the hash is that of what they were.
    #[serde(default)]
    pub erased: bool,
}

/// Something scheduled that has been done, or that was missed: it is not done again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Happening {
    /// The program.
    pub program: ProgramId,
    /// Natural key: kind, subject, day.
    pub id: String,
    /// When it was done or given up.
    pub at: Moment,
    /// "done" or "missed".
    pub outcome: String,
}

/// A sending number's pace and state.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sender {
    /// The program.
    pub program: ProgramId,
    /// When the next segment may go.
    pub next_free_at: Moment,
    /// Since when sending is halted for all.
    pub halted_at: Option<Moment>,
    /// Why, and how to mend it.
    pub halted_why: Option<String>,
}

/// A delivery report that came before its message was noted as sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct EarlyStatus {
    /// The program.
    pub program: ProgramId,
    /// The carrier's id of the message.
    pub carrier_id: String,
    /// Whether it arrived.
    pub delivered: bool,
    /// The carrier's error code.
    pub error_code: Option<i64>,
    /// When the report came.
    pub at: Moment,
}

/// A reply that could not be read, with what staff say it meant: a labelled line for the reader.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Interpretation {
    /// The program.
    pub program: ProgramId,
    /// Natural key: the item, and the message or click that said it.
    pub id: String,
    /// The reply as it was typed.
    pub text: String,
    /// Its language, as read.
    pub lang: Lang,
    /// What kind of reply it was.
    pub reading: Kind,
    /// What was off.
    pub flags: Flags,
    /// Who says so.
    pub said_by: StaffId,
    /// When.
    pub at: Moment,
}
