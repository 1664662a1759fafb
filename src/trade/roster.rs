//! Who and what a program has: athletes, guardians, staff, helmets, events, and the consent behind each number.
//!
//! Plain values with the identifiers that imports give them. Every one belongs to a program; its key leads.

use std::fmt;

use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, Weekday};
use serde::{Deserialize, Serialize};

use super::notice::{NoticeKind, Way};
use super::phone::Phone;
use super::time::Moment;

macro_rules! identifiers {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl $name {
            /// The identifier as text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                formatter.write_str(&self.0)
            }
        }

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }
    )+};
}

identifiers! {
    /// A school or club, as keyed in the configuration.
    ProgramId,
    /// A team within a program, as keyed in the configuration.
    TeamId,
    /// An athlete.
    AthleteId,
    /// A guardian.
    GuardianId,
    /// A staff member.
    StaffId,
    /// The tag on a helmet.
    HelmetTag,
    /// A practice or game on its day.
    EventId,
}

/// The language a person is written to in.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Language {
    /// English.
    #[default]
    En,
    /// Spanish.
    Es,
}

/// An athlete of one team.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Athlete {
    /// The program.
    pub program: ProgramId,
    /// Identifier within the program, stable over imports.
    pub id: AthleteId,
    /// Team.
    pub team: TeamId,
    /// Jersey number as worn ("12", "00"); may be absent early in a season.
    pub jersey: Option<String>,
    /// First name, as written.
    pub first: String,
    /// Last name, as written.
    pub last: String,
    /// Date of birth; without it the athlete is treated as a minor.
    pub born: Option<NaiveDate>,
    /// Language of texts.
    pub language: Language,
    /// Number for texts; may be shared with another athlete or a guardian, or absent.
    pub phone: Option<Phone>,
    /// Head circumference in millimetres.
    pub head_mm: Option<i64>,
    /// No longer on the roster when false; kept for the record.
    pub active: bool,
}

/// A parent or guardian.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Guardian {
    /// The program.
    pub program: ProgramId,
    /// Identifier within the program.
    pub id: GuardianId,
    /// First name.
    pub first: String,
    /// Last name.
    pub last: String,
    /// Number for texts.
    pub phone: Option<Phone>,
    /// E-mail address.
    pub email: Option<String>,
    /// Language of texts.
    pub language: Language,
    /// By which way notices go, when the file says so.
    #[serde(default)]
    pub way: Option<Way>,
    /// Kinds of notice wanted; all when the file says nothing.
    #[serde(default)]
    pub notices: Option<Vec<NoticeKind>>,
    /// Hears only when the others do not answer or cannot be reached.
    #[serde(default)]
    pub backup: bool,
}

/// That a guardian answers for an athlete.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Guardianship {
    /// The program.
    pub program: ProgramId,
    /// The guardian.
    pub guardian: GuardianId,
    /// The athlete.
    pub athlete: AthleteId,
    /// "mother", "father", "grandmother", as written.
    pub relation: Option<String>,
}

/// What a staff member does; one person may do several.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Athletic trainer: medical staff.
    Trainer,
    /// Equipment manager or assistant.
    Equipment,
    /// Coach.
    Coach,
    /// Answers an emergency, no other rights.
    Responder,
    /// Program administrator.
    Administrator,
}

/// A staff member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StaffMember {
    /// The program.
    pub program: ProgramId,
    /// Identifier within the program.
    pub id: StaffId,
    /// First name.
    pub first: String,
    /// Last name.
    pub last: String,
    /// Number for texts.
    pub phone: Option<Phone>,
    /// E-mail address.
    pub email: Option<String>,
    /// Language of texts.
    pub language: Language,
    /// What the person does.
    pub roles: Vec<Role>,
    /// Teams served; empty means all.
    pub teams: Vec<TeamId>,
    /// Weekdays on duty ("mon"); empty means every day.
    pub duty: Vec<DutyDay>,
    /// Hours on duty on those days; without, all day.
    #[serde(default)]
    pub hours: Option<DutyHours>,
    /// Who is called first: 1 before 2.
    pub call_order: i64,
    /// No longer on staff when false.
    pub active: bool,
}

/// A weekday of duty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "the days of the week")]
pub enum DutyDay {
    Mon,
    Tue,
    Wed,
    Thu,
    Fri,
    Sat,
    Sun,
}

/// Hours of duty, in the program's local time; they may run over midnight. Written "14:00-18:30".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct DutyHours {
    /// From.
    pub from: NaiveTime,
    /// Until; the minute itself is off duty.
    pub until: NaiveTime,
}

impl DutyHours {
    /// Whether a local time lies in them.
    #[must_use]
    pub fn cover(self, time: NaiveTime) -> bool {
        if self.from <= self.until {
            time >= self.from && time < self.until
        } else {
            time >= self.from || time < self.until
        }
    }
}

impl fmt::Display for DutyHours {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}-{}", self.from.format("%H:%M"), self.until.format("%H:%M"))
    }
}

impl Serialize for DutyHours {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for DutyHours {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let time = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").map_err(serde::de::Error::custom);
        let (from, until) = text.split_once('-').ok_or_else(|| serde::de::Error::custom("no hours of duty"))?;
        Ok(Self { from: time(from)?, until: time(until)? })
    }
}

impl From<Weekday> for DutyDay {
    fn from(day: Weekday) -> Self {
        match day {
            Weekday::Mon => Self::Mon,
            Weekday::Tue => Self::Tue,
            Weekday::Wed => Self::Wed,
            Weekday::Thu => Self::Thu,
            Weekday::Fri => Self::Fri,
            Weekday::Sat => Self::Sat,
            Weekday::Sun => Self::Sun,
        }
    }
}

impl StaffMember {
    /// Whether the person has this role.
    #[must_use]
    pub fn has(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }

    /// Whether the person serves this team.
    #[must_use]
    pub fn serves(&self, team: &TeamId) -> bool {
        self.teams.is_empty() || self.teams.contains(team)
    }

    /// Whether the person is on duty on this date, at whichever hour.
    #[must_use]
    pub fn on_duty(&self, date: NaiveDate) -> bool {
        self.duty.is_empty() || self.duty.contains(&DutyDay::from(date.weekday()))
    }

    /// Whether the person is on duty at this local time.
    #[must_use]
    pub fn on_duty_at(&self, local: NaiveDateTime) -> bool {
        self.on_duty(local.date()) && self.hours.is_none_or(|hours| hours.cover(local.time()))
    }
}

/// A helmet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Helmet {
    /// The program.
    pub program: ProgramId,
    /// Tag on the helmet.
    pub tag: HelmetTag,
    /// Model name.
    pub model: String,
    /// Shell size as the maker writes it.
    pub size: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Who wears it.
    pub athlete: Option<AthleteId>,
    /// Date of manufacture; the first of the year when only the year is known.
    pub made: Option<NaiveDate>,
    /// Last recertification.
    pub recertified: Option<NaiveDate>,
    /// Marks of its condition, each with its day: "2026-09-15 scuffed crown".
    pub marks: Vec<String>,
    /// Why it failed an inspection, with the day; it is never worn again.
    pub failed: Option<String>,
    /// The day on which it left for the shop; none when it is here.
    pub shipped: Option<NaiveDate>,
    /// The day on which the shop promised it back.
    pub promised: Option<NaiveDate>,
    /// When staff gave it to its wearer, or took it back, by text or on the board; then a file says no otherwise.
    pub issued_at: Option<Moment>,
    /// Anything else.
    pub notes: Option<String>,
}

#[cfg(test)]
impl Helmet {
    /// A helmet that nothing is known of but its tag and model.
    pub(crate) fn sample(tag: &str, model: &str) -> Self {
        Self {
            program: ProgramId::from("p"),
            tag: HelmetTag(tag.to_owned()),
            model: model.to_owned(),
            size: None,
            serial: None,
            athlete: None,
            made: None,
            recertified: None,
            marks: Vec::new(),
            failed: None,
            shipped: None,
            promised: None,
            issued_at: None,
            notes: None,
        }
    }
}

/// Practice or game.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum EventKind {
    /// A practice.
    Practice,
    /// A game or scrimmage.
    Game,
}

/// A practice or game on one day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Event {
    /// The program.
    pub program: ProgramId,
    /// Identifier: the calendar's own, with the occurrence's original local start.
    pub id: EventId,
    /// The team.
    pub team: TeamId,
    /// Practice or game.
    pub kind: EventKind,
    /// Start.
    pub starts_at: Moment,
    /// End, when given.
    pub ends_at: Option<Moment>,
    /// Calendar date in the program's zone.
    pub date: NaiveDate,
    /// Where.
    pub place: Option<String>,
    /// Whether helmets are worn: without, no morning check.
    pub helmets: bool,
    /// Called off.
    pub cancelled: bool,
    /// File it came from ("events.csv", "varsity.ics"), or "text" when staff made it.
    pub source: String,
}

/// Who gave consent for a number, for one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ConsentBy {
    /// The person who is written to, of age.
    Own,
    /// A parent or guardian, for a minor.
    Guardian,
}

/// Consent to be written to at one number.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Consent {
    /// The program.
    pub program: ProgramId,
    /// The number it is for.
    pub phone: Phone,
    /// The person it is about: athlete, guardian or staff identifier.
    pub person: String,
    /// Name of the one who gave it.
    pub given_by: String,
    /// In which standing.
    pub standing: ConsentBy,
    /// When.
    pub given_on: NaiveDate,
    /// How: "signed form", "online form", "text".
    pub how: String,
    /// What was shown, to the letter, when it was given by text.
    #[serde(default)]
    pub shown: Option<String>,
    /// What was answered, to the letter.
    #[serde(default)]
    pub words: Option<String>,
    /// The moment of the answer.
    #[serde(default)]
    pub at: Option<Moment>,
}

/// How consent was given by text: imports leave such a row as it is.
pub const BY_TEXT: &str = "text";

/// Age of majority for consent, in years.
pub const ADULT_YEARS: u32 = 18;

impl Athlete {
    /// Whether the athlete is of age on this date; without a date of birth, no.
    #[must_use]
    pub fn is_adult(&self, on: NaiveDate) -> bool {
        self.born.and_then(|born| on.years_since(born)).is_some_and(|years| years >= ADULT_YEARS)
    }

    /// Whether this consent lets the program write to the athlete: it is for the athlete's present number, and was
    /// given by a guardian or by the athlete when of age.
    #[must_use]
    pub fn consented(&self, consent: &Consent) -> bool {
        self.phone.as_ref() == Some(&consent.phone)
            && self.id.0 == consent.person
            && (consent.standing == ConsentBy::Guardian || self.is_adult(consent.given_on))
    }

    /// "#12 Jonah", or the first name alone.
    #[must_use]
    pub fn short(&self) -> String {
        self.jersey
            .as_ref()
            .map_or_else(|| format!("{} {}", self.first, self.last), |jersey| format!("#{jersey} {}", self.first))
    }
}
