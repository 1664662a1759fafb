//! The smallest set of people and drills that covers the field, and the practice day for it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use good_lp::{Expression, ProblemVariables, Solution as _, SolverModel as _, Variable, constraint, microlp, variable};
use serde::Serialize;

use super::Field;
use crate::trade::drill::Competence;
use crate::trade::roster::{StaffId, StaffMember};

/// What would cover the field.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Remedy {
    /// Who would drill what; as few as can be.
    pub drills: Vec<(StaffId, Competence)>,
    /// How many more people are needed, whatever those who are there drill.
    pub people_short: usize,
}

impl Remedy {
    /// Whether drills alone do it.
    #[must_use]
    pub const fn suffices(&self) -> bool {
        self.people_short == 0
    }

    /// The drills by what is drilled, with those who take part.
    #[must_use]
    pub fn sessions(&self) -> Vec<(Competence, Vec<StaffId>)> {
        let mut sessions: BTreeMap<Competence, Vec<StaffId>> = BTreeMap::new();
        for (staff, competence) in &self.drills {
            sessions.entry(competence.clone()).or_default().push(staff.clone());
        }
        sessions.into_iter().collect()
    }
}

/// A remedy with the day for it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Suggestion {
    /// The day of practice on which all who would drill are present; none when there is none before the event.
    pub day: Option<NaiveDate>,
    /// What to drill.
    pub remedy: Remedy,
}

/// A missing drill costs this; the rest of the cost spares those who drilled lately.
const A_DRILL: f64 = 1_000.0;
/// A person who is not there costs more than any number of drills.
const A_PERSON: f64 = 1_000_000.0;
/// How many recent drills of one person are told apart.
const MOST_RECENT: usize = 50;

/// The smallest set of drills, among people who `can_drill`, after which every position can be filled for every model on
/// the field. Among equally small sets, one that spares who drilled since `lately`.
#[must_use]
pub fn remedy(field: &Field<'_>, can_drill: &dyn Fn(&StaffMember) -> bool, lately: NaiveDate) -> Remedy {
    let kinds: Vec<String> = field.kinds().into_iter().filter_map(|models| models.into_iter().next()).collect();
    let people = candidates(field, &kinds, can_drill, lately);
    let mut program = Program::default();
    for kind in &kinds {
        program.add_kind(field, kind, &people, can_drill);
    }
    program.solve(field, lately)
}

/// People who are told apart by nothing that matters here are as many as there are positions, at most: no solution needs
/// more of them. Those who drilled least lately are kept.
fn candidates<'a>(
    field: &Field<'a>,
    kinds: &[String],
    can_drill: &dyn Fn(&StaffMember) -> bool,
    lately: NaiveDate,
) -> Vec<&'a StaffMember> {
    type Class = (bool, Vec<Option<Vec<Competence>>>);
    let mut classes: BTreeMap<Class, Vec<&StaffMember>> = BTreeMap::new();
    for member in field.people {
        let lacks = kinds.iter().flat_map(|kind| field.positions.iter().map(move |position| (kind, *position)));
        let lacks = lacks.map(|(kind, position)| field.missing(member, position, kind)).collect();
        classes.entry((can_drill(member), lacks)).or_default().push(member);
    }
    let mut kept = Vec::new();
    for (_, mut alike) in classes {
        alike.sort_by_key(|member| (field.practised.since(&member.id, lately), member.call_order, member.id.clone()));
        kept.extend(alike.into_iter().take(field.positions.len().max(1)));
    }
    kept
}

/// The integer program: who has which position with which hardware, what is drilled for it, who is missing.
#[derive(Default)]
struct Program {
    variables: ProblemVariables,
    constraints: Vec<good_lp::Constraint>,
    drilled: BTreeMap<(StaffId, Competence), Variable>,
    /// How many people are missing: as many as for the kind that lacks most.
    short: Option<Variable>,
}

impl Program {
    fn add_kind(
        &mut self,
        field: &Field<'_>,
        kind: &str,
        people: &[&StaffMember],
        can_drill: &dyn Fn(&StaffMember) -> bool,
    ) {
        let mut at_once: BTreeMap<&StaffId, Expression> = BTreeMap::new();
        let mut here = Expression::default();
        for position in field.positions {
            let absent = self.variables.add(variable().binary());
            here += absent;
            let mut filled = Expression::from(absent);
            for member in people {
                let Some(missing) = field.missing(member, *position, kind) else { continue };
                if !missing.is_empty() && !can_drill(member) {
                    continue;
                }
                let has = self.variables.add(variable().binary());
                filled += has;
                *at_once.entry(&member.id).or_default() += has;
                for what in missing {
                    let key = (member.id.clone(), what);
                    let variables = &mut self.variables;
                    let drilled = *self.drilled.entry(key).or_insert_with(|| variables.add(variable().binary()));
                    self.constraints.push(constraint!(has <= drilled));
                }
            }
            self.constraints.push(constraint!(filled == 1));
        }
        let variables = &mut self.variables;
        let short = *self.short.get_or_insert_with(|| variables.add(variable().integer().min(0)));
        self.constraints.push(constraint!(here <= short));
        self.constraints.extend(at_once.into_values().map(|positions| constraint!(positions <= 1)));
    }

    fn solve(self, field: &Field<'_>, lately: NaiveDate) -> Remedy {
        let Self { variables, constraints, drilled, short } = self;
        let mut cost = Expression::default();
        for ((staff, _), drill) in &drilled {
            let recent = u32::try_from(field.practised.since(staff, lately).min(MOST_RECENT)).unwrap_or(u32::MAX);
            cost += (A_DRILL + f64::from(recent)) * *drill;
        }
        if let Some(short) = short {
            cost += A_PERSON * short;
        }
        let mut model = variables.minimise(cost).using(microlp);
        for constraint in constraints {
            model = model.with(constraint);
        }
        // Leaving every position empty is always allowed, so there is a solution.
        let Ok(solution) = model.solve() else {
            return Remedy { drills: Vec::new(), people_short: field.positions.len() };
        };
        let is = |variable: Variable| solution.value(variable) > 0.5;
        let drills = drilled.into_iter().filter(|(_, drill)| is(*drill)).map(|(key, _)| key).collect();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few people")]
        let people_short = short.map_or(0, |short| solution.value(short).round().max(0.0) as usize);
        Remedy { drills, people_short }
    }
}

/// The remedy with the first practice day on which it can be as small as on any: `days` are the practice days before the
/// event with those present, in order. Without such a day, the remedy as if everybody could drill.
#[must_use]
pub fn suggest(field: &Field<'_>, days: &[(NaiveDate, BTreeSet<StaffId>)], lately: NaiveDate) -> Suggestion {
    let free = remedy(field, &|_| true, lately);
    let size = |remedy: &Remedy| (remedy.people_short, remedy.drills.len());
    let mut best: Option<Suggestion> = None;
    // The same people on another day would drill the same.
    let mut tried: BTreeSet<&BTreeSet<StaffId>> = BTreeSet::new();
    for (day, present) in days.iter().filter(|(_, present)| tried.insert(present)) {
        let held = remedy(field, &|member| present.contains(&member.id), lately);
        let smaller = best.as_ref().is_none_or(|best| size(&held) < size(&best.remedy));
        if smaller && held.people_short == free.people_short {
            let is_least = size(&held) == size(&free);
            best = Some(Suggestion { day: Some(*day), remedy: held });
            if is_least {
                break;
            }
        }
    }
    best.unwrap_or(Suggestion { day: None, remedy: free })
}
