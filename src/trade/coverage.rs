//! Coverage: can every position of the response be filled at once, by different people, for every helmet that will be on
//! the field? And where not, which is the smallest set of people and drills that would make it so.
//!
//! A largest matching of positions to people answers the first (kept exact by the `pathfinding` crate, which also prefers
//! who suits a position); where it leaves one empty, Hall's theorem (1935) names the positions that are too many for the
//! people who can fill them. The second is a small integer program, solved exactly.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;
use serde::Serialize;

use super::drill::{Competence, Currency, Position, Practised, hardware_of};
use super::model::Model;
use super::roster::{Role, StaffId, StaffMember};

mod remedy;
pub use remedy::{Remedy, Suggestion, remedy, suggest};

/// What coverage is looked at with: one event's day and people.
#[derive(Debug, Clone, Copy)]
pub struct Field<'a> {
    /// The event's day.
    pub on: NaiveDate,
    /// Who is on duty there and not away.
    pub people: &'a [&'a StaffMember],
    /// Positions to fill.
    pub positions: &'a [Position],
    /// Helmet models on the field.
    pub worn: &'a [String],
    /// What the models are.
    pub models: &'a [Model],
    /// Who last drilled what.
    pub practised: &'a Practised,
    /// How long that counts.
    pub currency: &'a Currency,
}

/// How one model is covered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cover {
    /// The models, which share their kind of face-mask hardware.
    pub models: Vec<String>,
    /// Who has which position, as far as there is somebody.
    pub filled: Vec<(Position, StaffId)>,
    /// Positions that stay empty.
    pub empty: Vec<Position>,
    /// Where some stay empty: positions that are too many for those who can fill any of them.
    pub short: Option<Short>,
}

/// More positions than people who are current for any of them (Hall 1935).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Short {
    /// The positions.
    pub positions: Vec<Position>,
    /// Everybody who could fill one of them: one fewer.
    pub people: Vec<StaffId>,
}

impl Field<'_> {
    /// The worn models by kind of hardware: models with the same are covered alike.
    #[must_use]
    pub fn kinds(&self) -> Vec<Vec<String>> {
        let mut kinds: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for model in self.worn {
            kinds.entry(hardware_of(model, self.models)).or_default().insert(model.clone());
        }
        kinds.into_values().map(|models| models.into_iter().collect()).collect()
    }

    /// What somebody would have to drill to be current for a position with a model; none when the role may not have it.
    #[must_use]
    pub fn missing(&self, member: &StaffMember, position: Position, model: &str) -> Option<Vec<Competence>> {
        if !position.is_open_to(member) {
            return None;
        }
        let needed = position.needs().iter().map(|skill| Competence::on(*skill, model, self.models));
        let lacks = |what: &Competence| !self.practised.is_current(&member.id, what, self.on, self.currency);
        Some(needed.filter(lacks).collect())
    }

    fn is_ready(&self, member: &StaffMember, position: Position, model: &str) -> bool {
        self.missing(member, position, model).is_some_and(|missing| missing.is_empty())
    }

    /// Coverage of each kind of hardware on the field.
    #[must_use]
    pub fn covers(&self) -> Vec<Cover> {
        self.kinds().into_iter().map(|models| self.cover(models)).collect()
    }

    /// Whether every position can be filled for every model on the field.
    #[must_use]
    pub fn is_covered(&self) -> bool {
        self.covers().iter().all(|cover| cover.empty.is_empty())
    }

    fn cover(&self, models: Vec<String>) -> Cover {
        let model = models.first().cloned().unwrap_or_default();
        let ready: Vec<Vec<usize>> = self
            .positions
            .iter()
            .map(|position| {
                (0..self.people.len()).filter(|n| self.is_ready(self.people[*n], *position, &model)).collect()
            })
            .collect();
        let matched = matching(&ready, self.people.len(), |row, n| suits(self.people[n], self.positions[row]));
        let id = |n: usize| self.people[n].id.clone();
        let filled = self.positions.iter().zip(&matched).filter_map(|(position, who)| Some((*position, id((*who)?))));
        let empty = self.positions.iter().zip(&matched).filter(|(_, who)| who.is_none()).map(|(position, _)| *position);
        let short = short_set(&ready, &matched).map(|(rows, people)| Short {
            positions: rows.into_iter().map(|row| self.positions[row]).collect(),
            people: people.into_iter().map(id).collect(),
        });
        Cover { models, filled: filled.collect(), empty: empty.collect(), short }
    }
}

/// Of those who could, who had better: the trainer at the head, equipment staff at the mask, an administrator or coach at
/// the telephone, so that those trained to touch the athlete are free to.
fn suits(member: &StaffMember, position: Position) -> i64 {
    let has = |role| i64::from(member.has(role));
    match position {
        Position::Head => 8 * has(Role::Trainer) + 4 * has(Role::Responder),
        Position::Mask | Position::Cutter => 6 * has(Role::Equipment) + 2 * has(Role::Responder),
        Position::Call => 4 * has(Role::Administrator) + 3 * has(Role::Coach),
        _ => 2 * has(Role::Responder),
    }
}

/// A largest matching of rows to columns, and among those one that suits best: for each row its column. `ready` lists the
/// columns that each row may have; there may be fewer columns than rows.
#[must_use]
pub fn matching(ready: &[Vec<usize>], columns: usize, suits: impl Fn(usize, usize) -> i64) -> Vec<Option<usize>> {
    /// More than all preferences together, so that a filled position goes before every preference.
    const FILLED: i64 = 1_000;
    if ready.is_empty() {
        return Vec::new();
    }
    // A dummy column a row, so that a row may stay empty.
    let width = columns + ready.len();
    let mut weights = Matrix::new(ready.len(), width, 0_i64);
    for (row, who) in ready.iter().enumerate() {
        for column in who {
            weights[(row, *column)] = FILLED + suits(row, *column);
        }
    }
    let (_, chosen) = kuhn_munkres(&weights);
    chosen.iter().enumerate().map(|(row, column)| (weights[(row, *column)] >= FILLED).then_some(*column)).collect()
}

/// For a largest matching that leaves rows empty: a smallest-growing set of rows that reaches one column fewer than it has
/// rows, with those columns. From an empty row one goes to every column it may have, from there to the row that has it, and
/// so on; each column reached is taken, or the matching could have been larger.
#[must_use]
pub fn short_set(ready: &[Vec<usize>], matched: &[Option<usize>]) -> Option<(Vec<usize>, Vec<usize>)> {
    let empty = matched.iter().position(Option::is_none)?;
    let mut rows = BTreeSet::from([empty]);
    let mut columns = BTreeSet::new();
    let mut to_see = vec![empty];
    while let Some(row) = to_see.pop() {
        for column in ready.get(row).into_iter().flatten() {
            if columns.insert(*column)
                && let Some(owner) = matched.iter().position(|has| *has == Some(*column))
                && rows.insert(owner)
            {
                to_see.push(owner);
            }
        }
    }
    Some((rows.into_iter().collect(), columns.into_iter().collect()))
}

#[cfg(test)]
mod tests;
