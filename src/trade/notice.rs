//! What a family may hear, who of it hears it, by which way, and what follows when nobody answers. Pure.
//!
//! Each guardian has a language, kinds of notice and a way of their own, so that parents who live apart are each told what
//! they asked for and nothing else. Invariants: one guardian hears one piece of news once (asked for an answer again at most
//! once); nobody is told what their kinds, the program's settings or an athlete of age leave out.

mod ladder;
mod plan;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::phone::Phone;
use super::roster::{Athlete, AthleteId, Guardian, GuardianId, ProgramId, StaffId};
use super::time::Moment;
use super::times::Minutes;

pub use ladder::{Step, ladder};
pub use plan::{Candidate, Decision, Plan, plan};

/// Something that happened to an athlete, of which guardians may be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
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
    /// Every kind.
    pub const ALL: [Self; 5] = [Self::Held, Self::StepReached, Self::Cleared, Self::HelmetOut, Self::HelmetBack];

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

    /// For people, in English.
    #[must_use]
    pub const fn words(&self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::StepReached => "next step",
            Self::Cleared => "may take part again",
            Self::HelmetOut => "helmet out of use",
            Self::HelmetBack => "helmet in use again",
        }
    }

    /// The kind of notice that it is.
    #[must_use]
    pub const fn kind(self) -> NoticeKind {
        match self {
            Self::Held => NoticeKind::Held,
            Self::StepReached => NoticeKind::Step,
            Self::Cleared => NoticeKind::Cleared,
            Self::HelmetOut | Self::HelmetBack => NoticeKind::Helmet,
        }
    }

    /// Whether somebody of the family has to answer, and is called when nobody does.
    #[must_use]
    pub const fn wants_answer(self) -> bool {
        matches!(self, Self::Held | Self::Cleared)
    }
}

/// A kind of notice that a guardian may want or not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoticeKind {
    /// That the athlete is held.
    Held,
    /// Steps of the return to sport.
    Step,
    /// That the athlete may take part again.
    Cleared,
    /// The helmet out of use, and in use again.
    Helmet,
}

impl NoticeKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Held, Self::Step, Self::Cleared, Self::Helmet];

    /// The word for it in files.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::Step => "step",
            Self::Cleared => "cleared",
            Self::Helmet => "helmet",
        }
    }
}

/// By which way a guardian hears.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// By text.
    Text,
    /// By e-mail.
    Email,
    /// By both.
    Both,
}

impl Guardian {
    /// By which way this guardian hears: as the file says; otherwise by text where there is a number, by e-mail where there
    /// is none.
    #[must_use]
    pub const fn hears_by(&self) -> Way {
        match self.way {
            Some(way) => way,
            None if self.phone.is_none() && self.email.is_some() => Way::Email,
            None => Way::Text,
        }
    }

    /// Whether this guardian wants this kind of notice.
    #[must_use]
    pub fn wants(&self, kind: NoticeKind) -> bool {
        self.notices.as_ref().is_none_or(|kinds| kinds.contains(&kind))
    }
}

/// What a program tells families.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rules {
    /// Whether it tells them anything by itself.
    pub on: bool,
    /// Whether it tells of steps.
    pub steps: bool,
    /// Whether it tells of helmets that are out of use.
    pub helmets: bool,
    /// A notice that nobody acknowledges is sent again after this; after it once more, the others are told; then a person
    /// calls.
    pub again_after: Minutes,
}

impl Default for Rules {
    fn default() -> Self {
        Self { on: true, steps: true, helmets: false, again_after: Minutes(60) }
    }
}

impl Rules {
    /// Whether families are told of this.
    #[must_use]
    pub const fn tell(&self, news: News) -> bool {
        self.on
            && match news.kind() {
                NoticeKind::Held | NoticeKind::Cleared => true,
                NoticeKind::Step => self.steps,
                NoticeKind::Helmet => self.helmets,
            }
    }
}

/// What an athlete of age decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FamilyChoice {
    /// The program.
    pub program: ProgramId,
    /// The athlete.
    pub athlete: AthleteId,
    /// When it was asked by text; once.
    pub asked_at: Option<Moment>,
    /// Whether guardians are told; nothing until it is answered.
    pub tells: Option<bool>,
    /// When it was answered last.
    pub answered_at: Option<Moment>,
    /// The answer as it was typed.
    pub words: Option<String>,
}

/// Whether an athlete's guardians are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// A minor, or of age and wants it.
    Hears,
    /// Of age and has not said.
    NotSaid,
    /// Of age and does not want it.
    Private,
}

/// Whether guardians are told of an athlete. An athlete of age decides: with eighteen the rights of parents under the
/// Family Educational Rights and Privacy Act pass to the student (34 CFR 99.5(a)). Until there is an answer guardians are not
/// told; the athlete and the athletic trainer are. Without a date of birth an athlete is a minor.
#[must_use]
pub fn family(athlete: &Athlete, today: NaiveDate, choice: Option<&FamilyChoice>) -> Family {
    if !athlete.is_adult(today) {
        return Family::Hears;
    }
    match choice.and_then(|choice| choice.tells) {
        Some(true) => Family::Hears,
        Some(false) => Family::Private,
        None => Family::NotSaid,
    }
}

/// Where a notice stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoticeState {
    /// Queued or sent; the outbox says which.
    Told,
    /// Not acknowledged, and sent again.
    Again,
    /// The guardian answered.
    Acknowledged,
    /// Not acknowledged: others of the family were told, or have answered.
    PassedOn,
    /// Nobody of the family answered: on the list of those whom a person calls.
    ToCall,
    /// A person called.
    Called,
    /// It does not reach this guardian: opted out, wrong number, bounced, no consent.
    Unreachable,
    /// Something newer took its place: not sent any more, and no answer is waited for.
    Superseded,
}

impl NoticeState {
    /// In plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Told => "told, no answer yet",
            Self::Again => "told again, no answer yet",
            Self::Acknowledged => "acknowledged",
            Self::PassedOn => "no answer; passed on",
            Self::ToCall => "no answer: call",
            Self::Called => "called",
            Self::Unreachable => "cannot be reached",
            Self::Superseded => "overtaken by something newer",
        }
    }

    /// Whether the family knows by this.
    #[must_use]
    pub const fn is_known(self) -> bool {
        matches!(self, Self::Acknowledged | Self::Called)
    }

    /// Whether an answer is waited for.
    #[must_use]
    pub const fn waits(self) -> bool {
        matches!(self, Self::Told | Self::Again | Self::PassedOn | Self::ToCall)
    }
}

/// One guardian and one piece of news.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Notice {
    /// The program.
    pub program: ProgramId,
    /// Natural key: the family's key and the guardian.
    pub id: String,
    /// Whom it is about.
    pub athlete: AthleteId,
    /// Who hears it.
    pub guardian: GuardianId,
    /// What.
    pub news: News,
    /// The same for all guardians who hear the same: news, athlete, and the hold or day.
    pub family: String,
    /// The local day.
    pub date: NaiveDate,
    /// The number that it is texted to, if it is.
    pub phone: Option<Phone>,
    /// The address that it is mailed to, if it is.
    pub email: Option<String>,
    /// Where it stands.
    pub state: NoticeState,
    /// When it was made.
    pub made_at: Moment,
    /// When the next step is due.
    pub next_at: Option<Moment>,
    /// When it was acknowledged.
    pub acknowledged_at: Option<Moment>,
    /// How: as it was typed, or "by link".
    pub words: Option<String>,
    /// Why it does not reach the guardian.
    pub why: Option<String>,
    /// The item by which a person is to call.
    pub item: Option<String>,
}

impl Notice {
    /// Key of its text in the outbox, and of its e-mail.
    #[must_use]
    pub fn message(&self) -> String {
        format!("{TEXT_KEY}{}", self.id)
    }

    /// Key of its second text or e-mail.
    #[must_use]
    pub fn message_again(&self) -> String {
        format!("{TEXT_KEY}{}/again", self.id)
    }
}

/// How the keys of notices begin in the outbox.
pub const TEXT_KEY: &str = "notice/";

/// Key of a piece of news for a whole family. `since` is the hold's beginning, or the day.
#[must_use]
pub fn family_key(news: News, athlete: &AthleteId, since: &str) -> String {
    format!("{}/{athlete}/{since}", news.name())
}

/// The one question whether texts may be sent, to a number whose owner gave no consent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConsentAsk {
    /// The program.
    pub program: ProgramId,
    /// Whom the consent is about: athlete or guardian identifier.
    pub person: String,
    /// The number that it would be for.
    pub phone: Phone,
    /// The number that was asked: the guardian's, for a minor.
    pub asked: Phone,
    /// Who would give it.
    pub given_by: String,
    /// In which standing.
    pub standing: super::roster::ConsentBy,
    /// The question, to the letter.
    pub shown: String,
    /// Which of staff asked for it.
    pub asked_by: StaffId,
    /// When.
    pub asked_at: Moment,
    /// When it was answered.
    pub answered_at: Option<Moment>,
    /// What the answer was.
    pub agreed: Option<bool>,
    /// The answer, to the letter.
    pub words: Option<String>,
}

/// What is known of an e-mail address.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Address {
    /// The program.
    pub program: ProgramId,
    /// The address, as the file has it.
    pub address: String,
    /// When its owner withdrew it.
    pub withdrawn_at: Option<Moment>,
    /// What the mail server said of it.
    pub trouble: Option<String>,
    /// When.
    pub trouble_at: Option<Moment>,
}

impl Address {
    /// Whether nothing may be sent to it.
    #[must_use]
    pub const fn is_stopped(&self) -> bool {
        self.withdrawn_at.is_some() || self.trouble.is_some()
    }
}

#[cfg(test)]
mod tests;
