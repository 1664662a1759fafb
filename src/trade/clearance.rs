//! The way back of an athlete who is held for a body reason: steps with their least times, what needs a clinician's
//! determination, what a return of symptoms does, and what a clearance has to have. Pure.
//!
//! Nothing here decides that somebody is fit: it says which step may be recorded when, and what is lacking. A licensed
//! clinician decides, and the program keeps who, when and why.

use std::fmt;

use serde::{Deserialize, Serialize};

mod law;

pub use law::{Decision, Lack, Law, LawChanges, Licence, lacks};

use super::roster::{AthleteId, ProgramId, StaffId};
use super::time::Moment;

/// What a return of symptoms, or more than mild and brief worsening, does in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Worse {
    /// Only more than mild and brief worsening counts: stop, and try the same step again the next day.
    Stay(Stay),
    /// Any symptom counts: back to this step.
    Back(usize),
}

/// The word for [`Worse::Stay`] in files.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Stay {
    /// "stay".
    Stay,
}

/// One step of a progression.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepRule {
    /// What the athlete does in it.
    pub what: String,
    /// Least hours in it before the next.
    pub hours: i64,
    /// Whether it needs a licensed clinician's determination on file before it begins.
    #[serde(default)]
    pub clearance: bool,
    /// What worsening does in it.
    pub worse: Worse,
}

/// A graduated way back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Progression {
    /// Its key.
    pub key: String,
    /// Its name.
    pub name: String,
    /// Where it comes from.
    #[serde(default)]
    pub source: Option<String>,
    /// Hours of relative rest before the first step.
    #[serde(default)]
    pub rest_hours: i64,
    /// Its steps, from 1 on.
    #[serde(rename = "step")]
    pub steps: Vec<StepRule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProgressionFile {
    progression: Vec<Progression>,
}

/// The progressions that are built in: the graduated return to sport of the Amsterdam 2022 consensus.
///
/// # Panics
/// Never: a test reads the built-in file.
#[must_use]
#[expect(clippy::expect_used, reason = "the built-in file is read by a test")]
pub fn built_in() -> Vec<Progression> {
    progressions(include_str!("clearance/progressions.toml")).expect("the built-in progressions")
}

/// Reads a file of progressions.
///
/// # Errors
/// What is wrong and where, for people.
pub fn progressions(text: &str) -> Result<Vec<Progression>, String> {
    let file: ProgressionFile = toml::from_str(text).map_err(|error| error.to_string())?;
    for progression in &file.progression {
        let wrong = |what: String| Err(format!("progression `{}`: {what}", progression.key));
        if progression.steps.is_empty() {
            return wrong("it has no step; add [[progression.step]]".to_owned());
        }
        if !(0..=720).contains(&progression.rest_hours) {
            return wrong(format!("rest_hours = {} is not between 0 and 720", progression.rest_hours));
        }
        for (nth, step) in progression.steps.iter().enumerate().map(|(nth, step)| (nth + 1, step)) {
            if !(1..=720).contains(&step.hours) {
                return wrong(format!("step {nth}: hours = {} is not between 1 and 720", step.hours));
            }
            if let Worse::Back(to) = step.worse
                && !(1..=nth).contains(&to)
            {
                return wrong(format!("step {nth}: worse = {to} leads to no earlier step"));
            }
        }
    }
    Ok(file.progression)
}

impl Progression {
    /// The rule of a step, from 1 on.
    #[must_use]
    pub fn rule(&self, step: usize) -> Option<&StepRule> {
        step.checked_sub(1).and_then(|index| self.steps.get(index))
    }

    /// Its last step.
    #[must_use]
    pub fn last(&self) -> usize {
        self.steps.len()
    }
}

/// An athlete's way back from one hold.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Course {
    /// The program.
    pub program: ProgramId,
    /// Natural key: athlete and the moment that the hold began.
    pub id: String,
    /// Who.
    pub athlete: AthleteId,
    /// Why, for medical staff alone: kept sealed.
    pub category: Option<String>,
    /// Which progression; none when the clinician follows no steps.
    pub progression: Option<String>,
    /// The step that the athlete is in; 0 before the first.
    pub step: i64,
    /// Since when: the step's clock.
    pub since: Moment,
    /// Whether a licensed clinician's determination of readiness is on file and still stands.
    pub ready: bool,
    /// Whether the athlete is asked every day how they are.
    pub check_in: bool,
    /// When the hold began.
    pub opened_at: Moment,
    /// Who opened the course.
    pub opened_by: String,
    /// When it ended: by a clearance.
    pub closed_at: Option<Moment>,
    /// The version of it: how many entries it has.
    pub entries: i64,
}

/// One thing in the course of a way back; never changed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CourseEntry {
    /// The program.
    pub program: ProgramId,
    /// Natural key: course and number.
    pub id: String,
    /// The course.
    pub course: String,
    /// Who it is about.
    pub athlete: AthleteId,
    /// When.
    pub at: Moment,
    /// What: "step", "worse", "ready", "cleared", "confirmed", "opened", "note", "check-in".
    pub what: String,
    /// The step that the athlete is in from then on.
    pub step: i64,
    /// Who recorded it.
    pub who: String,
    /// In words, for medical staff alone: kept sealed.
    pub words: Option<String>,
}

/// A licensed clinician's decision that is on file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Clearance {
    /// The program.
    pub program: ProgramId,
    /// Natural key: course and number.
    pub id: String,
    /// The course.
    pub course: String,
    /// Who it is about.
    pub athlete: AthleteId,
    /// Whether it ends the hold; else it is the determination that contact may be prepared.
    pub ends_hold: bool,
    /// What was decided, by whom, and where the paper is.
    pub decision: Decision,
    /// When it was recorded.
    pub at: Moment,
    /// By whom.
    pub recorded_by: StaffId,
    /// Who confirmed it, where two have to.
    pub second: Option<StaffId>,
    /// When.
    pub second_at: Option<Moment>,
    /// When it was withdrawn: symptoms came back before the second person confirmed it.
    pub withdrawn_at: Option<Moment>,
    /// Whether it took effect.
    pub stands: bool,
}

/// Somebody who was held before the program knew of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Brought {
    /// Who.
    pub athlete: AthleteId,
    /// Since which local day.
    pub since: chrono::NaiveDate,
    /// What kind of hold.
    pub kind: super::queue::HoldKind,
    /// Why, for medical staff alone.
    pub category: Option<String>,
    /// Which progression.
    pub progression: Option<String>,
    /// The step that the athlete is in; 0 before the first.
    pub step: i64,
    /// Since which local day.
    pub step_since: Option<chrono::NaiveDate>,
}

/// The daily question to somebody who is held, and the answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckIn {
    /// The program.
    pub program: ProgramId,
    /// The local day.
    pub date: chrono::NaiveDate,
    /// Who.
    pub athlete: AthleteId,
    /// When it was sent.
    pub sent_at: Moment,
    /// To which number.
    pub phone: super::phone::Phone,
    /// What came of it.
    pub state: CheckInState,
    /// When it was answered.
    pub answered_at: Option<Moment>,
    /// The answer as typed: kept sealed.
    pub words: Option<String>,
}

/// What came of a check-in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CheckInState {
    /// No answer yet.
    Sent,
    /// Says that all is well.
    Well,
    /// Something is said to be wrong.
    Symptoms,
    /// Not understood.
    Unclear,
}

impl CheckInState {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Sent => "no answer yet",
            Self::Well => "says that all is well",
            Self::Symptoms => "has symptoms",
            Self::Unclear => "answer not understood",
        }
    }
}

/// The next step of a course.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Next {
    /// Which.
    pub step: usize,
    /// From when on.
    pub at: Moment,
    /// A determination is lacking for it.
    pub lacks_determination: bool,
}

/// Why a step is not recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Refused {
    /// It is too early: the next step, and from when on.
    Early(usize, Moment),
    /// It leaves a step out: the next one.
    Skips(usize),
    /// It needs a licensed clinician's determination on file.
    Determination(usize),
    /// The athlete is in it, or past it.
    Reached(usize),
    /// There is no such step, or no steps at all.
    NoSuchStep(usize),
    /// The course is over.
    Over,
}

impl fmt::Display for Refused {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Early(step, _) => write!(out, "it is too early for step {step}"),
            Self::Skips(next) => write!(out, "the next step is {next}"),
            Self::Determination(step) => write!(out, "step {step} needs a licensed clinician's determination on file"),
            Self::Reached(step) => write!(out, "step {step} is reached already"),
            Self::NoSuchStep(step) => write!(out, "there is no step {step}"),
            Self::Over => write!(out, "it is over"),
        }
    }
}

/// What worsening did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// Mild and brief: nothing changes.
    Nothing,
    /// Stop; the same step again from then on.
    Again(Moment),
    /// Back to an earlier step.
    Back(usize),
}

/// How symptoms came back, or became worse.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Worsening {
    /// By how many points of ten, compared with before.
    pub points: u8,
    /// For how many minutes.
    pub minutes: u32,
}

impl Worsening {
    /// Mild and brief: by no more than 2 points of 10 for less than an hour (Amsterdam 2022).
    #[must_use]
    pub const fn is_mild_and_brief(self) -> bool {
        self.points <= 2 && self.minutes < 60
    }
}

fn hours(at: Moment, hours: i64) -> Moment {
    at.plus(chrono::TimeDelta::hours(hours))
}

impl Course {
    /// The step that the athlete is in, from 1 on; 0 before the first.
    #[must_use]
    pub fn at_step(&self) -> usize {
        usize::try_from(self.step).unwrap_or_default()
    }

    /// The next step; none after the last, or when the course is over.
    #[must_use]
    pub fn next(&self, progression: &Progression) -> Option<Next> {
        if self.closed_at.is_some() {
            return None;
        }
        let step = self.at_step() + 1;
        let rule = progression.rule(step)?;
        let least = progression.rule(self.at_step()).map_or(progression.rest_hours, |rule| rule.hours);
        Some(Next { step, at: hours(self.since, least), lacks_determination: rule.clearance && !self.ready })
    }

    /// Whether a step may be recorded now. `overridden`: a licensed clinician has stated a reason for an early or skipped
    /// step; it stands for no determination.
    ///
    /// # Errors
    /// [`Refused`], with the reason.
    pub fn may_step(&self, progression: &Progression, to: usize, now: Moment, overridden: bool) -> Result<(), Refused> {
        if self.closed_at.is_some() {
            return Err(Refused::Over);
        }
        let Some(rule) = progression.rule(to) else { return Err(Refused::NoSuchStep(to)) };
        if to <= self.at_step() {
            return Err(Refused::Reached(to));
        }
        let skipped_gate =
            (self.at_step() + 1..=to).any(|step| progression.rule(step).is_some_and(|rule| rule.clearance));
        if (rule.clearance || skipped_gate) && !self.ready {
            return Err(Refused::Determination(to));
        }
        let Some(next) = self.next(progression) else { return Err(Refused::NoSuchStep(to)) };
        match () {
            () if overridden => Ok(()),
            () if to > next.step => Err(Refused::Skips(next.step)),
            () if now < next.at => Err(Refused::Early(next.step, next.at)),
            () => Ok(()),
        }
    }

    /// Goes to a step.
    pub fn step_to(&mut self, to: usize, now: Moment) {
        self.step = i64::try_from(to).unwrap_or_default();
        self.since = now;
    }

    /// Notes that symptoms came back or became worse. `tomorrow`: when the next local day begins.
    ///
    /// In steps whose rule is to stay, only more than mild and brief worsening counts. In the others any symptom does, and
    /// a determination of readiness does not stand any more: it was made of somebody without symptoms.
    pub fn worse(&mut self, progression: &Progression, how: Worsening, now: Moment, tomorrow: Moment) -> Effect {
        match progression.rule(self.at_step()).map(|rule| rule.worse) {
            Some(Worse::Back(to)) => {
                self.step_to(to, now);
                self.ready = false;
                Effect::Back(to)
            }
            _ if how.is_mild_and_brief() => Effect::Nothing,
            _ => {
                // Readiness was determined of somebody without symptoms.
                self.ready = false;
                self.since = tomorrow;
                Effect::Again(tomorrow)
            }
        }
    }

    /// Whether the last step before games was lived through: then a clearance skips nothing. Without a progression there is
    /// nothing to skip.
    ///
    /// # Errors
    /// [`Refused`], with the reason.
    pub fn may_end(&self, progression: Option<&Progression>, now: Moment, overridden: bool) -> Result<(), Refused> {
        if self.closed_at.is_some() {
            return Err(Refused::Over);
        }
        let Some(progression) = progression.filter(|_| !overridden) else { return Ok(()) };
        if self.at_step() >= progression.last() {
            return Ok(());
        }
        match self.next(progression) {
            Some(next) if next.step < progression.last() => Err(Refused::Skips(next.step)),
            Some(next) if now < next.at => Err(Refused::Early(next.step, next.at)),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests;
