//! What staff have to do: queue items and holds.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::flag::{BeforeContact, Flags};
use super::roster::{AthleteId, EventId, ProgramId, StaffId, TeamId};
use super::time::Moment;

/// A staff queue.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Queue {
    /// Helmets; before practice this is the fix list.
    Equipment,
    /// Body reports: medical staff alone.
    Medical,
    /// Numbers, consent, people who could not be reached or placed.
    Contact,
}

/// What an item is about when an answer could not be read twice.
pub const NOT_UNDERSTOOD: &str = "answer not understood: ask and look";
/// What an item is about when an athlete with something on the list added words that could not be read.
pub const MORE_NOT_UNDERSTOOD: &str = "wrote more that was not understood";
/// How an item begins that a picture made.
pub const PHOTO: &str = "sent a photo";

/// Where a queue item stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ItemState {
    /// Nobody has it yet.
    Open,
    /// Somebody has taken or acknowledged it.
    Taken,
    /// Done.
    Closed,
}

/// One thing for staff to do: one a person and day in each queue; more flags add to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Item {
    /// The program.
    pub program: ProgramId,
    /// Natural key: queue, subject and day.
    pub id: String,
    /// Which queue.
    pub queue: Queue,
    /// The athlete it is about, when it is about one.
    pub athlete: Option<AthleteId>,
    /// The athlete's team.
    pub team: Option<TeamId>,
    /// The event it should be done before.
    pub event: Option<EventId>,
    /// The day it belongs to.
    pub date: NaiveDate,
    /// What is off.
    pub flags: Flags,
    /// What it is about when flags do not say: "answer not understood", "opted out".
    pub about: Option<String>,
    /// What was typed, newest last. Body words make it medical: see [`Item::reply_for_equipment`].
    pub replies: Vec<String>,
    /// Links to photos.
    pub photos: Vec<String>,
    /// Where it stands.
    pub state: ItemState,
    /// A sign that means an emergency was in it.
    pub red_flag: bool,
    /// Since when.
    pub opened_at: Moment,
    /// By when, in time for the event.
    pub due_at: Option<Moment>,
    /// Who has it.
    pub taken_by: Option<StaffId>,
    /// Since when they have it.
    pub taken_at: Option<Moment>,
    /// Who closed it.
    pub closed_by: Option<StaffId>,
    /// When.
    pub closed_at: Option<Moment>,
    /// What was done, as staff wrote it.
    pub done: Option<String>,
    /// How far up the ladder of alerts it has gone: 0 none, 1 on duty, 2 again, 3 the next, 4 everyone.
    pub alerts: i64,
}

impl Item {
    /// Whether it is still to be done.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.state != ItemState::Closed
    }

    /// Whether something in it waits for a person to say what was meant.
    #[must_use]
    pub fn is_unread(&self) -> bool {
        let about = self.about.as_deref().unwrap_or_default();
        let unread = about == NOT_UNDERSTOOD || about == MORE_NOT_UNDERSTOOD || about.starts_with(PHOTO);
        self.queue == Queue::Equipment && self.is_open() && unread
    }

    /// What was typed and could not be read, for those who say what was meant. It may hold anything: medical staff alone
    /// see it.
    #[must_use]
    pub fn unread_text(&self) -> Option<String> {
        if !self.is_unread() {
            return None;
        }
        let text = match self.about.as_deref() {
            Some(MORE_NOT_UNDERSTOOD) => self.replies.last().cloned().unwrap_or_default(),
            _ => self.replies.join("\n"),
        };
        Some(text).filter(|text| !text.trim().is_empty())
    }

    /// What was typed, for eyes that are not medical: nothing when body words are in it or may be.
    #[must_use]
    pub fn reply_for_equipment(&self) -> Option<&str> {
        let sure = self.queue == Queue::Equipment && !self.flags.is_empty() && !self.red_flag;
        if sure && self.about.is_none() { self.replies.last().map(String::as_str) } else { None }
    }
}

/// Why an athlete may not take part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HoldKind {
    /// The helmet: ends with a hands-on fix by staff.
    Equipment,
    /// Ill, hurt or not right: the athletic trainer decides.
    Trainer,
    /// A possible concussion sign: ends only with a licensed clinician's recorded decision.
    Medical,
}

impl HoldKind {
    /// The hold that a set of flags asks for, if any; the gravest first.
    #[must_use]
    pub fn for_flags(flags: Flags) -> Vec<Self> {
        let mut holds = Vec::new();
        if flags.needs(BeforeContact::MedicalHold) {
            holds.push(Self::Medical);
        } else if flags.needs(BeforeContact::TrainerDecides) {
            holds.push(Self::Trainer);
        }
        if flags.needs(BeforeContact::DoNotWear) || flags.needs(BeforeContact::IssueOrFind) {
            holds.push(Self::Equipment);
        }
        holds
    }

    /// In the words of those who are not medical staff.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Equipment => "equipment",
            Self::Trainer | Self::Medical => "held: see the athletic trainer",
        }
    }
}

/// An athlete may not take part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hold {
    /// The program.
    pub program: ProgramId,
    /// Natural key: athlete, kind and the moment it was opened.
    pub id: String,
    /// The athlete.
    pub athlete: AthleteId,
    /// Why, in kind alone.
    pub kind: HoldKind,
    /// Since when.
    pub opened_at: Moment,
    /// The message or staff member that opened it.
    pub opened_by: String,
    /// When it ended.
    pub closed_at: Option<Moment>,
    /// Who ended it.
    pub closed_by: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::flag::Flag;

    #[test]
    fn the_gravest_body_flag_decides_the_hold_and_a_broken_strap_adds_its_own() {
        let flags: Flags = [Flag::Symptom, Flag::Illness, Flag::Strap].into_iter().collect();
        assert_eq!(HoldKind::for_flags(flags), [HoldKind::Medical, HoldKind::Equipment]);
        let flags: Flags = [Flag::Unwell].into_iter().collect();
        assert_eq!(HoldKind::for_flags(flags), [HoldKind::Trainer]);
        let flags: Flags = [Flag::Brow, Flag::Pain].into_iter().collect();
        assert_eq!(HoldKind::for_flags(flags), []);
    }
}
