//! What follows when nobody answers: again, then those who stand in, then a person calls.

use super::{Notice, NoticeState};
use crate::trade::roster::GuardianId;
use crate::trade::time::Moment;

/// One step of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// The same guardian is asked again.
    Again(String),
    /// Nothing more for this guardian; somebody else of the family answered, or is told now.
    Rest(String),
    /// These, who stand in for others, are told now.
    StandIns(Vec<GuardianId>),
    /// Nobody answered and nobody is left: a person calls.
    Call,
}

/// The steps that are due for a family at a moment. `stand_ins`: those who want this kind, can be written to and were not
/// told yet.
#[must_use]
pub fn ladder(family: &[Notice], stand_ins: &[GuardianId], now: Moment) -> Vec<Step> {
    let known = family.iter().any(|notice| notice.state.is_known());
    let is_due = |notice: &&Notice| notice.next_at.is_some_and(|at| at <= now);
    let mut steps = Vec::new();
    for notice in family.iter().filter(is_due) {
        match notice.state {
            NoticeState::Told => steps.push(Step::Again(notice.id.clone())),
            _ => steps.push(Step::Rest(notice.id.clone())),
        }
    }
    let asked_again = steps.iter().any(|step| matches!(step, Step::Again(_)));
    // Others wait for their own time.
    let waits = |notice: &Notice| notice.next_at.is_some_and(|at| at > now);
    if known || asked_again || family.iter().any(waits) || is_with_a_person(family) {
        return steps;
    }
    let unanswered = family.iter().any(|notice| notice.news.wants_answer() && notice.state.waits());
    let lost = family.iter().any(|notice| notice.news.wants_answer() && notice.state == NoticeState::Unreachable);
    if unanswered || lost {
        steps.push(if stand_ins.is_empty() { Step::Call } else { Step::StandIns(stand_ins.to_vec()) });
    }
    steps
}

/// Whether it is on the list already.
fn is_with_a_person(family: &[Notice]) -> bool {
    family.iter().any(|notice| notice.item.is_some())
}
