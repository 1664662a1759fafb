//! What staff do, decided in one place whichever way they do it: by text, in chat, on the board. Pure: it decides on a
//! [`Scene`]; [`Desk::act`](super::Desk::act) gives it a transaction.
//!
//! Whoever asks checks nothing beforehand: [`act`] refuses what a role may not do, finds that a thing is done already,
//! and never ends a medical hold. What the athlete is to hear is queued here; what the member of staff hears is the
//! caller's, from the [`Outcome`].

mod desk;
pub mod event;
mod hold;
mod interpret;
mod item;
mod report;

use serde::{Deserialize, Serialize};

use super::inbound::by_staff;
use super::scene::Scene;
use crate::trade::flag::Flags;
use crate::trade::morning::CheckState;
use crate::trade::phone::Phone;
use crate::trade::queue::{Item, Queue};
use crate::trade::roster::{Athlete, AthleteId, EventId, Role, StaffId, StaffMember};

/// Something that a member of staff does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Action {
    /// Takes an item; a body report is acknowledged by that.
    Take {
        /// The item's key.
        item: String,
    },
    /// Closes an item: a fix with their own hands, which ends an equipment hold.
    Done {
        /// The item's key.
        item: String,
        /// What was done.
        what: Option<String>,
    },
    /// Keeps an item open, with what it needs.
    Needs {
        /// The item's key.
        item: String,
        /// What it needs: "new helmet".
        what: String,
    },
    /// Hands an item on, or back to be taken.
    HandOn {
        /// The item's key.
        item: String,
        /// To whom.
        to: HandTo,
    },
    /// Takes a helmet out of use until staff have checked it.
    HoldEquipment {
        /// Whose.
        athlete: AthleteId,
    },
    /// Reports what is off with a helmet, as seen by the one who reports.
    Report {
        /// Whose.
        athlete: AthleteId,
        /// What is off; of it the helmet flags alone.
        flags: Flags,
    },
    /// Keeps an athlete out until the athletic trainer has decided: the trainer's.
    HoldTrainer {
        /// Whom.
        athlete: AthleteId,
    },
    /// Keeps an athlete out until a licensed clinician's decision is recorded: the trainer's.
    HoldMedical {
        /// Whom.
        athlete: AthleteId,
    },
    /// The trainer's decision that an athlete who is held may take part; never on a medical hold.
    MayGo {
        /// The item's key.
        item: String,
    },
    /// Calls a practice or game off.
    CallOff {
        /// Which.
        event: EventId,
    },
    /// Says what a reply meant that the program could not read.
    Interpret {
        /// The item's key.
        item: String,
        /// What it meant.
        reading: Meant,
    },
}

/// To whom an item is handed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum HandTo {
    /// A member of staff.
    Staff(StaffId),
    /// Back to whoever takes it.
    Open,
}

/// What an unclear reply meant, by the word of staff.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Meant {
    /// Nothing is off.
    AllClear,
    /// This is off.
    Flags(Flags),
}

impl Action {
    /// The item that it is about, when it is about one.
    #[must_use]
    pub fn item(&self) -> Option<&str> {
        match self {
            Self::Take { item }
            | Self::Done { item, .. }
            | Self::Needs { item, .. }
            | Self::HandOn { item, .. }
            | Self::MayGo { item }
            | Self::Interpret { item, .. } => Some(item),
            Self::HoldEquipment { .. }
            | Self::Report { .. }
            | Self::HoldTrainer { .. }
            | Self::HoldMedical { .. }
            | Self::CallOff { .. } => None,
        }
    }

    /// The athlete that it names by itself.
    #[must_use]
    pub const fn athlete(&self) -> Option<&AthleteId> {
        match self {
            Self::HoldEquipment { athlete }
            | Self::Report { athlete, .. }
            | Self::HoldTrainer { athlete }
            | Self::HoldMedical { athlete } => Some(athlete),
            _ => None,
        }
    }
}

/// The way by which staff did something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Via<'a> {
    /// A text: the carrier's id of it.
    Text(&'a str),
    /// A button or command in chat.
    Chat,
    /// A page of the board.
    Board,
}

/// Who does something, by which way, and the natural key of its happening: a second time is nothing.
#[derive(Debug, Clone, Copy)]
pub struct By<'a> {
    /// Who.
    pub member: &'a StaffMember,
    /// By which way.
    pub via: Via<'a>,
    /// Natural key of the happening: the message, the interaction, the form's token.
    pub key: &'a str,
}

impl By<'_> {
    /// What the record names as the origin: the message, or the click.
    #[must_use]
    pub fn origin(&self) -> String {
        match self.via {
            Via::Text(message) => message.to_owned(),
            Via::Chat => format!("chat:{}", self.key),
            Via::Board => format!("board:{}", self.key),
        }
    }

    fn words(&self) -> String {
        by_staff(self.member)
    }
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "snake_case")]
pub enum Outcome {
    /// It is done now.
    Done {
        /// Whom or what it was about: "#12 Jonah", "Varsity practice 3:30 pm".
        who: String,
        /// How many hear of it, when an event is called off.
        told: usize,
    },
    /// It was done before, or somebody else has it; nothing changed.
    AlreadyDone {
        /// Whom or what it is about.
        who: String,
        /// First name of the one who did it or has it, when that is known.
        by: Option<String>,
    },
    /// This role may not do it; nothing changed.
    NotAllowed,
    /// There is no such item, athlete, event or person here, or nothing in it that could be done; nothing changed.
    NotFound,
    /// A medical hold is open: only a licensed clinician's recorded decision ends it. Nothing changed.
    Medical {
        /// Whom it is about.
        who: String,
    },
}

impl Outcome {
    fn done(who: impl Into<String>) -> Self {
        Self::Done { who: who.into(), told: 0 }
    }

    /// Whether something changed.
    #[must_use]
    pub const fn is_done(&self) -> bool {
        matches!(self, Self::Done { .. })
    }
}

/// Whether a role may do something. Without the item only the role is looked at: what a menu may offer.
#[must_use]
pub fn may(member: &StaffMember, action: &Action, item: Option<&Item>) -> bool {
    if item.and_then(|item| item.team.as_ref()).is_some_and(|team| !member.serves(team)) {
        return false;
    }
    let trainer = member.has(Role::Trainer);
    let helmets = trainer || member.has(Role::Equipment);
    match (action, item.map(|item| item.queue)) {
        (Action::MayGo { .. } | Action::HoldTrainer { .. } | Action::HoldMedical { .. }, _) => trainer,
        (Action::CallOff { .. }, _) => trainer || member.has(Role::Coach) || member.has(Role::Administrator),
        // Out of use is the safe side: who sees a broken strap on the field may say so.
        (Action::HoldEquipment { .. } | Action::Report { .. }, _) => helmets || member.has(Role::Coach),
        (_, Some(Queue::Medical)) => trainer,
        (_, Some(Queue::Contact)) => helmets || member.has(Role::Administrator),
        (_, Some(Queue::Equipment) | None) => helmets,
    }
}

/// Does it, if this person may and it is not done already.
pub fn act(scene: &mut Scene<'_>, by: &By<'_>, action: &Action) -> Outcome {
    let item = match action.item().map(|id| scene.items.get(&id.to_owned()).cloned()) {
        Some(None) => return Outcome::NotFound,
        Some(found) => found,
        None => None,
    };
    if !may(by.member, action, item.as_ref()) {
        return Outcome::NotAllowed;
    }
    match (action, item) {
        (Action::Take { .. }, Some(item)) => item::take(scene, by, item),
        (Action::Done { what, .. }, Some(item)) => item::done(scene, by, item, what.as_deref()),
        (Action::Needs { what, .. }, Some(item)) => item::needs(scene, by, item, what),
        (Action::HandOn { to, .. }, Some(item)) => item::hand_on(scene, by, item, to),
        (Action::MayGo { .. }, Some(item)) => hold::may_go(scene, by, item),
        (Action::Interpret { reading, .. }, Some(item)) => interpret::interpret(scene, by, item, *reading),
        (Action::HoldEquipment { athlete }, _) => hold::equipment(scene, by, athlete),
        (Action::Report { athlete, flags }, _) => report::helmet(scene, by, athlete, *flags),
        (Action::HoldTrainer { athlete }, _) => hold::body(scene, by, athlete, crate::trade::queue::HoldKind::Trainer),
        (Action::HoldMedical { athlete }, _) => hold::body(scene, by, athlete, crate::trade::queue::HoldKind::Medical),
        (Action::CallOff { event }, _) => event::call_off(scene, by, event),
        // Every other action names an item, and that was found.
        _ => Outcome::NotFound,
    }
}

/// How staff are told of an item: "#12 Jonah", or what it is about.
#[must_use]
pub fn subject(scene: &Scene<'_>, item: &Item) -> String {
    item.athlete.as_ref().map_or_else(|| item.about.clone().unwrap_or_default(), |athlete| scene.who(athlete))
}

/// First name of a member of staff.
#[must_use]
pub fn first_name(scene: &Scene<'_>, staff: &StaffId) -> Option<String> {
    scene.staff.iter().find(|member| member.id == *staff).map(|member| member.first.clone())
}

/// The number of an athlete who may be texted today: the one that the day's check went to.
#[must_use]
pub fn reach(scene: &Scene<'_>, athlete: &AthleteId) -> Option<(Phone, Athlete)> {
    let person = scene.athletes.get(athlete)?.clone();
    let check = scene.latest_check(athlete)?;
    let texted = !matches!(check.state, CheckState::ByHand | CheckState::Held);
    let phone = check.phone.clone().filter(|_| texted)?;
    Some((phone, person))
}

#[cfg(test)]
mod tests;
