//! Who may clear an athlete, and what has to be on file for it: rule sets as data.

use std::fmt;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use crate::trade::time::Moment;

/// A kind of licence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Licence {
    /// Physician (MD or DO).
    Physician,
    /// Physician assistant.
    PhysicianAssistant,
    /// Nurse practitioner.
    NursePractitioner,
    /// Athletic trainer.
    AthleticTrainer,
    /// Neuropsychologist.
    Neuropsychologist,
}

impl Licence {
    /// Every kind.
    pub const ALL: [Self; 5] = [
        Self::Physician,
        Self::PhysicianAssistant,
        Self::NursePractitioner,
        Self::AthleticTrainer,
        Self::Neuropsychologist,
    ];

    /// The word for it in files and forms.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Physician => "physician",
            Self::PhysicianAssistant => "physician_assistant",
            Self::NursePractitioner => "nurse_practitioner",
            Self::AthleticTrainer => "athletic_trainer",
            Self::Neuropsychologist => "neuropsychologist",
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Physician => "physician",
            Self::PhysicianAssistant => "physician assistant",
            Self::NursePractitioner => "nurse practitioner",
            Self::AthleticTrainer => "athletic trainer",
            Self::Neuropsychologist => "neuropsychologist",
        }
    }

    /// The kind of a name or of words.
    #[must_use]
    pub fn named(text: &str) -> Option<Self> {
        let key = text.trim().to_lowercase().replace([' ', '-'], "_");
        Self::ALL.into_iter().find(|kind| kind.name() == key)
    }
}

/// A rule set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Law {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Who may clear.
    pub may_clear: Vec<Licence>,
    /// Whether the clearance has to be in writing.
    pub written: bool,
    /// Whether a parent or guardian has to have acknowledged it.
    pub parent: bool,
    /// Hours after the hold began before which nobody is cleared.
    pub not_before_hours: i64,
    /// Where it comes from.
    pub source: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LawFile {
    law: Vec<Law>,
}

/// What a program's settings change of a rule set.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LawChanges {
    /// Who may clear.
    pub may_clear: Option<Vec<Licence>>,
    /// Whether in writing.
    pub written: Option<bool>,
    /// Whether acknowledged by a parent.
    pub parent: Option<bool>,
    /// Hours after the hold began.
    pub not_before_hours: Option<i64>,
}

impl Law {
    /// The rule sets that are built in. Laws change: whoever sets one checks the text in force.
    ///
    /// # Panics
    /// Never: a test reads the built-in file.
    #[must_use]
    #[expect(clippy::expect_used, reason = "the built-in file is read by a test")]
    pub fn built_in() -> Vec<Self> {
        toml::from_str::<LawFile>(include_str!("laws.toml")).expect("the built-in laws").law
    }

    /// The cautious rule set, which holds unless another is set.
    #[must_use]
    pub fn cautious() -> Self {
        let found = Self::built_in().into_iter().find(|law| law.key == "cautious");
        found.unwrap_or_else(|| Self {
            key: "cautious".to_owned(),
            name: "Cautious".to_owned(),
            may_clear: vec![Licence::Physician],
            written: true,
            parent: true,
            not_before_hours: 24,
            source: String::new(),
        })
    }

    /// The rule set with a program's changes.
    #[must_use]
    pub fn with(mut self, changes: &LawChanges) -> Self {
        if let Some(may_clear) = &changes.may_clear {
            self.may_clear.clone_from(may_clear);
        }
        self.written = changes.written.unwrap_or(self.written);
        self.parent = changes.parent.unwrap_or(self.parent);
        self.not_before_hours = changes.not_before_hours.unwrap_or(self.not_before_hours);
        self
    }
}

/// What a clinician decided, and what is on file of it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Decision {
    /// The clinician's name.
    pub clinician: String,
    /// Kind of the licence.
    pub licence: Option<Licence>,
    /// Its number.
    pub number: String,
    /// The day of the decision.
    pub on: Option<NaiveDate>,
    /// What the written clearance is: "form", "letter".
    pub document: Option<String>,
    /// Its date.
    pub dated: Option<NaiveDate>,
    /// Where it is: a stored file, or where the paper lies.
    pub place: Option<String>,
    /// How a parent or guardian acknowledged it, and where that is.
    pub parent: Option<String>,
    /// Why an early or skipped step was allowed.
    pub reason: Option<String>,
}

/// What a decision lacks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lack {
    /// The clinician's name.
    Name,
    /// The kind of licence.
    Licence,
    /// This kind of licence may not clear here.
    MayNot(Licence),
    /// The licence's number.
    Number,
    /// The day of the decision.
    Day,
    /// The day of the decision lies ahead, or before the hold.
    WrongDay,
    /// The written clearance: what it is, its date, and where it is.
    Document,
    /// A parent's acknowledgement.
    Parent,
    /// It is too soon: nobody is cleared before this.
    TooSoon(Moment),
}

impl fmt::Display for Lack {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name => write!(out, "the clinician's name"),
            Self::Licence => write!(out, "the kind of licence"),
            Self::MayNot(kind) => {
                write!(out, "a licence that may clear here: {} may not, by the rules set", kind.words())
            }
            Self::Number => write!(out, "the licence's number"),
            Self::Day => write!(out, "the day of the decision"),
            Self::WrongDay => write!(out, "a day of the decision between the hold and today"),
            Self::Document => write!(out, "the written clearance: what it is, its date, and where it is kept"),
            Self::Parent => write!(out, "how a parent or guardian acknowledged it"),
            Self::TooSoon(_) => write!(out, "more time since the hold began"),
        }
    }
}

/// What a decision lacks by a rule set. `held` and `today` are the local days of the hold and of now; `since` is the moment
/// that the hold began. `ends_hold`: a determination of readiness needs no parent and no waiting.
#[must_use]
pub fn lacks(
    law: &Law,
    decision: &Decision,
    ends_hold: bool,
    held: (NaiveDate, Moment),
    today: (NaiveDate, Moment),
) -> Vec<Lack> {
    let given = |text: &str| text.chars().any(char::is_alphanumeric);
    let has = |text: &Option<String>| text.as_deref().is_some_and(given);
    let mut lacks = Vec::new();
    if !given(&decision.clinician) {
        lacks.push(Lack::Name);
    }
    match decision.licence {
        None => lacks.push(Lack::Licence),
        Some(kind) if !law.may_clear.contains(&kind) => lacks.push(Lack::MayNot(kind)),
        Some(_) => {}
    }
    if !given(&decision.number) {
        lacks.push(Lack::Number);
    }
    match decision.on {
        None => lacks.push(Lack::Day),
        Some(day) if day > today.0 || day < held.0 => lacks.push(Lack::WrongDay),
        Some(_) => {}
    }
    if law.written && !(has(&decision.document) && decision.dated.is_some() && has(&decision.place)) {
        lacks.push(Lack::Document);
    }
    if ends_hold {
        if law.parent && !has(&decision.parent) {
            lacks.push(Lack::Parent);
        }
        let soonest = held.1.plus(chrono::TimeDelta::hours(law.not_before_hours));
        if today.1 < soonest {
            lacks.push(Lack::TooSoon(soonest));
        }
    }
    lacks
}
