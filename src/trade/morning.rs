//! The morning check: one athlete on one practice or game day, from planned to answered.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::flag::Flags;
use super::phone::Phone;
use super::roster::{AthleteId, EventId, ProgramId, TeamId};
use super::time::Moment;

/// Where a morning check stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckState {
    /// The text is queued.
    Planned,
    /// The text has gone out; nothing heard.
    Sent,
    /// Answered: everything is fine.
    Clear,
    /// Answered: something is off.
    Flagged,
    /// Answered in a way that could not be read; asked again.
    Unclear,
    /// Says they will check later.
    Later,
    /// Says they will not be there.
    Absent,
    /// Not asked by text; staff check by hand.
    ByHand,
    /// The text could not go out before it was too late; staff check by hand.
    Missed,
    /// Not asked: on medical hold.
    Held,
    /// The event was called off.
    CalledOff,
}

impl CheckState {
    /// Whether an answer is still wanted.
    #[must_use]
    pub const fn is_silent(self) -> bool {
        matches!(self, Self::Planned | Self::Sent | Self::Later)
    }

    /// Whether staff have to look at this helmet at the door, for want of a usable answer.
    #[must_use]
    pub const fn needs_door_check(self) -> bool {
        self.is_silent() || matches!(self, Self::Unclear | Self::ByHand | Self::Missed)
    }
}

/// Why an athlete is not asked by text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ByHand {
    /// No number on the roster.
    NoPhone,
    /// No consent for the number.
    NoConsent,
    /// The number has opted out.
    OptedOut,
    /// The number belongs to somebody else.
    WrongNumber,
    /// The carrier cannot reach the number.
    NumberFails,
}

impl ByHand {
    /// In plain words, for staff.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoPhone => "no phone",
            Self::NoConsent => "no consent for texts",
            Self::OptedOut => "opted out of texts",
            Self::WrongNumber => "wrong number",
            Self::NumberFails => "number does not take texts",
        }
    }
}

/// One athlete's check on one day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MorningCheck {
    /// The program.
    pub program: ProgramId,
    /// The day, in the program's zone.
    pub date: NaiveDate,
    /// The athlete.
    pub athlete: AthleteId,
    /// The athlete's team on that day.
    pub team: TeamId,
    /// The first event of the day with helmets.
    pub event: EventId,
    /// Number the text goes to.
    pub phone: Option<Phone>,
    /// Where it stands.
    pub state: CheckState,
    /// Why it is not asked by text.
    pub by_hand: Option<ByHand>,
    /// What is off, all answers of the day together.
    pub flags: Flags,
    /// Whether an unclear answer has been asked again.
    pub asked_again: bool,
    /// When the answer that counts came.
    pub answered_at: Option<Moment>,
    /// The last text heard for this check, to join what comes in pieces.
    pub last_text: Option<String>,
    /// When that text came.
    pub last_text_at: Option<Moment>,
}
