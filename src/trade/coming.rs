//! What is coming, of every kind: one list for `due`, for the staff's calendars and for the board.

use chrono::NaiveDate;
use chrono_tz::Tz;
use serde::Serialize;

use super::roster::StaffId;
use super::time::{Moment, resolve};

/// What kind of work it belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Area {
    /// A practice or game.
    Event,
    /// Rehearsing the response to an emergency.
    Drill,
    /// Kits: counts, restocks, expiries.
    Kit,
    /// Helmets: reconditioning and service life.
    Helmet,
    /// Athletes who are held, and their way back.
    Clearance,
    /// People who cannot be reached, or have not answered.
    Contact,
}

impl Area {
    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Event => "event",
            Self::Drill => "drill",
            Self::Kit => "kit",
            Self::Helmet => "helmet",
            Self::Clearance => "clearance",
            Self::Contact => "contact",
        }
    }
}

/// When it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum On {
    /// A whole day, in the program's zone.
    Day(NaiveDate),
    /// From one moment to another, when there is an end.
    At(Moment, Option<Moment>),
}

impl On {
    /// The moment that it begins.
    #[must_use]
    pub fn begins(self, zone: Tz) -> Moment {
        match self {
            Self::Day(date) => resolve(date.and_time(chrono::NaiveTime::MIN), zone),
            Self::At(at, _) => at,
        }
    }

    /// The local day that it begins on.
    #[must_use]
    pub fn day(self, zone: Tz) -> NaiveDate {
        match self {
            Self::Day(date) => date,
            Self::At(at, _) => at.local(zone).date(),
        }
    }
}

/// One thing that is coming.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Coming {
    /// Natural key: kind, subject and day. The same thing keeps it when its date moves only if the date is not its key.
    pub key: String,
    /// What kind of work.
    pub area: Area,
    /// When.
    pub on: On,
    /// In a few words: "Ship 14 helmets", "Count kit 2".
    pub title: String,
    /// What to do, who, with what.
    pub what: String,
    /// Where, when it has a place.
    pub place: Option<String>,
    /// Whom it concerns; empty means all staff.
    pub staff: Vec<StaffId>,
    /// Whether medical staff alone may read it.
    pub medical: bool,
}

/// In the order of their time; what has no time of day comes first on its day.
pub fn sort(coming: &mut [Coming], zone: Tz) {
    coming.sort_by(|a, b| (a.on.begins(zone), &a.key).cmp(&(b.on.begins(zone), &b.key)));
}
