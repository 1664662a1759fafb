//! Which helmets go to the shop when: a plan of batches such that no helmet passes its limit, every athlete who works in
//! spring or summer still has one that fits, the shop's limits hold, and it costs least. Where that cannot be, what to buy.
//!
//! It is a mixed-integer program, solved exactly. Helmets of one shell size that serve through the same works
//! are one class; by when each has to leave is a sum over days, since those who press go first. Only pick-up days that some date presses against are looked
//! at: a batch that leaves earlier can leave on the next of them and nothing is worse.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike as _, NaiveDate, TimeDelta, Weekday};
use good_lp::{Expression, ProblemVariables, Solution as _, SolverModel as _, Variable, constraint, microlp, variable};
use serde::Serialize;

/// A span in which athletes work with helmets.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Work {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub until: NaiveDate,
    /// Athletes by the shell size that fits them.
    pub needs: BTreeMap<String, usize>,
}

/// A helmet, as far as the plan has to know it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Going {
    /// Tag.
    pub tag: String,
    /// Shell size.
    pub size: String,
    /// It may be worn until this day unless it is recertified, and has to leave by it; none: no limit is known.
    pub until: Option<NaiveDate>,
    /// Whether it goes to the shop at all; else it only serves.
    pub goes: bool,
}

/// What a plan is made for.
#[derive(Debug, Clone, PartialEq)]
pub struct Terms {
    /// The first day on which a batch may leave.
    pub from: NaiveDate,
    /// The last day on which a batch may leave and be back in time.
    pub ship_by: NaiveDate,
    /// Days from leaving until it is back.
    pub away_days: i64,
    /// The weekday on which batches are picked up; none: any day.
    pub pick_up: Option<Weekday>,
    /// Helmets that the shop takes in one batch.
    pub most: usize,
    /// Cost of a batch, however many are in it.
    pub batch_cost: f64,
    /// Cost of a helmet at the shop.
    pub helmet_cost: f64,
    /// Cost of a new helmet.
    pub new_cost: f64,
}

/// One batch.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Batch {
    /// The day on which it leaves.
    pub leaves: NaiveDate,
    /// The day on which it is back.
    pub back: NaiveDate,
    /// Shipments: more than one when the shop's limit asks for it.
    pub shipments: usize,
    /// Tags.
    pub tags: Vec<String>,
}

/// A plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Plan {
    /// Batches, the earliest first.
    pub batches: Vec<Batch>,
    /// Helmets to buy by shell size, where what there is does not reach.
    pub buy: BTreeMap<String, usize>,
    /// Cost of all of it.
    pub cost: f64,
    /// Helmets that pass their limit before the first batch can leave: out of use from then on, and recertified all the same.
    pub late: Vec<String>,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoPlan {
    /// No batch can leave any more and be back in time.
    #[error("it is too late: a batch had to leave by {0} to be back in time")]
    TooLate(NaiveDate),
    /// The solver gave up, which is a defect.
    #[error("the plan could not be solved: {0}")]
    Solver(String),
}

/// What tells helmets apart for a plan: their size, and for each work whether they serve in it without being recertified.
/// The day by which each leaves does not: those who have to leave first are the first to be put in a batch.
#[derive(Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Class {
    size: String,
    serve: Vec<bool>,
}

/// The helmets of a class.
#[derive(Debug, Default)]
struct Members {
    /// Those that go, each with the last candidate day by which it leaves; the earliest first.
    going: Vec<(usize, String)>,
    /// How many stay.
    stay: usize,
}

type Classes = BTreeMap<Class, Members>;

/// Makes the plan.
///
/// # Errors
/// [`NoPlan`].
pub fn plan(helmets: &[Going], works: &[Work], terms: &Terms) -> Result<Plan, NoPlan> {
    let days = candidate_days(helmets, works, terms);
    let any_goes = helmets.iter().any(|helmet| helmet.goes);
    if days.is_empty() && any_goes {
        return Err(NoPlan::TooLate(terms.ship_by));
    }
    let (classes, late) = classed(helmets, works, &days);
    let solved = solve(&classes, works, &days, terms)?;
    let mut batches: Vec<Batch> = days
        .iter()
        .zip(&solved.shipments)
        .map(|(day, shipments)| Batch {
            leaves: *day,
            back: *day + TimeDelta::days(terms.away_days),
            shipments: *shipments,
            tags: Vec::new(),
        })
        .collect();
    for (members, counts) in classes.values().zip(&solved.counts) {
        let mut tags = members.going.iter();
        for (batch, count) in batches.iter_mut().zip(counts) {
            batch.tags.extend(tags.by_ref().take(*count).map(|(_, tag)| tag.clone()));
        }
    }
    batches.retain(|batch| !batch.tags.is_empty());
    for batch in &mut batches {
        batch.tags.sort();
    }
    Ok(Plan { batches, buy: solved.buy, cost: solved.cost, late })
}

/// The pick-up days that a date presses against: the last before each limit, before each work that a batch could be back
/// for, and before the ship-by day.
fn candidate_days(helmets: &[Going], works: &[Work], terms: &Terms) -> Vec<NaiveDate> {
    let limits = helmets.iter().filter(|helmet| helmet.goes).filter_map(|helmet| helmet.until);
    let back_for = works.iter().map(|work| work.from - TimeDelta::days(terms.away_days));
    let mut days: Vec<NaiveDate> = limits
        .chain(back_for)
        .chain([terms.ship_by])
        .map(|day| pick_up_by(day.min(terms.ship_by), terms.pick_up))
        .filter(|day| *day >= terms.from)
        .collect();
    // What passes its limit before anything can leave goes with whatever is first.
    days.sort();
    days.dedup();
    days
}

fn pick_up_by(day: NaiveDate, pick_up: Option<Weekday>) -> NaiveDate {
    let Some(weekday) = pick_up else { return day };
    let back = day.weekday().num_days_from_monday() + 7 - weekday.num_days_from_monday();
    day - TimeDelta::days(i64::from(back % 7))
}

fn classed(helmets: &[Going], works: &[Work], days: &[NaiveDate]) -> (Classes, Vec<String>) {
    let mut classes = Classes::new();
    let mut late = Vec::new();
    for helmet in helmets {
        let serve = works.iter().map(|work| helmet.until.is_none_or(|until| until >= work.until)).collect();
        let members = classes.entry(Class { size: helmet.size.clone(), serve }).or_default();
        if !helmet.goes {
            members.stay += 1;
            continue;
        }
        let last = days.iter().rposition(|day| helmet.until.is_none_or(|until| *day <= until));
        if last.is_none() {
            late.push(helmet.tag.clone());
        }
        members.going.push((last.unwrap_or(days.len().saturating_sub(1)), helmet.tag.clone()));
    }
    for members in classes.values_mut() {
        members.going.sort();
    }
    late.sort();
    (classes, late)
}

struct Solved {
    shipments: Vec<usize>,
    /// For each class, how many go on each day.
    counts: Vec<Vec<usize>>,
    buy: BTreeMap<String, usize>,
    cost: f64,
}

/// How many of some helmets have to have left by each day.
fn by_day<'m>(going: impl Iterator<Item = &'m (usize, String)>, days: usize) -> Vec<usize> {
    let mut due = vec![0; days];
    for (last, _) in going {
        if let Some(count) = due.get_mut(*last) {
            *count += 1;
        }
    }
    let mut sum = 0;
    due.into_iter()
        .map(|count| {
            sum += count;
            sum
        })
        .collect()
}

/// Solves it in two steps: first shipments and what to buy as whole numbers with helmets as fractions, which leaves little to
/// branch on; then helmets as whole numbers for those. Where that is impossible, everything at once.
fn solve(classes: &Classes, works: &[Work], days: &[NaiveDate], terms: &Terms) -> Result<Solved, NoPlan> {
    let bound = program(classes, works, days, terms, &Step::Fractions)?;
    match program(classes, works, days, terms, &Step::Fixed(&bound.shipments, &bound.buy)) {
        Ok(solved) => Ok(solved),
        Err(_) => program(classes, works, days, terms, &Step::Whole),
    }
}

/// What is whole, and what is given.
enum Step<'s> {
    /// Helmets may be fractions.
    Fractions,
    /// Shipments and what to buy are given, helmets are whole.
    Fixed(&'s [usize], &'s BTreeMap<String, usize>),
    /// All is whole.
    Whole,
}

#[expect(clippy::cast_precision_loss, reason = "helmets")]
fn program(
    classes: &Classes,
    works: &[Work],
    days: &[NaiveDate],
    terms: &Terms,
    step: &Step<'_>,
) -> Result<Solved, NoPlan> {
    /// Of two days that cost the same the later one: far less than any cost tells apart.
    const LATER: f64 = 1e-5;
    let fractions = matches!(step, Step::Fractions);
    let mut variables = ProblemVariables::new();
    let all = || classes.values().flat_map(|members| &members.going);
    let most_batches = all().count().div_ceil(terms.most) + days.len();
    let shipments: Vec<Variable> = (0..days.len())
        .map(|day| match step {
            Step::Fixed(shipments, _) => {
                let given = shipments.get(day).copied().unwrap_or(0) as f64;
                variables.add(variable().min(given).max(given))
            }
            _ => variables.add(variable().integer().min(0).max(most_batches as f64)),
        })
        .collect();
    let going: Vec<Vec<Variable>> = classes
        .values()
        .map(|members| {
            let most = members.going.len() as f64;
            let one = || if fractions { variable() } else { variable().integer() };
            days.iter().map(|_| variables.add(one().min(0).max(most))).collect()
        })
        .collect();
    let sizes: BTreeSet<&String> = works.iter().flat_map(|work| work.needs.keys()).collect();
    let most_needed = works.iter().flat_map(|work| work.needs.values()).max().copied().unwrap_or(0) as f64;
    let buy: Vec<Variable> = sizes
        .iter()
        .map(|size| match step {
            Step::Fixed(_, buy) => {
                let given = buy.get(*size).copied().unwrap_or(0) as f64;
                variables.add(variable().min(given).max(given))
            }
            _ => variables.add(variable().integer().min(0).max(most_needed)),
        })
        .collect();

    // What the shop takes for each helmet is the same whenever it goes, so it decides nothing.
    let late = |day: usize| 1.0 + LATER * (days.len() - day) as f64;
    let cost: Expression =
        shipments.iter().enumerate().map(|(day, batch)| terms.batch_cost * late(day) * *batch).sum::<Expression>()
            + buy.iter().map(|new| terms.new_cost * *new).sum::<Expression>();
    let mut problem = variables.minimise(cost).using(microlp);
    for (members, row) in classes.values().zip(&going) {
        let due = by_day(members.going.iter(), days.len());
        for (day, count) in due.iter().enumerate().rev() {
            let left: Expression = row[..=day].iter().copied().sum();
            if day + 1 == days.len() {
                problem = problem.with(constraint!(left == members.going.len() as f64));
            } else if *count > 0 && (day == 0 || due[day - 1] != *count) {
                problem = problem.with(constraint!(left >= *count as f64));
            }
        }
    }
    // Implied by the rest for whole shipments, and said so that fractions of shipments are not tried.
    for (day, count) in by_day(all(), days.len()).into_iter().enumerate().filter(|(_, count)| *count > 0) {
        let left: Expression = shipments[..=day].iter().copied().sum();
        problem = problem.with(constraint!(left >= count.div_ceil(terms.most) as f64));
    }
    for (day, batch) in shipments.iter().enumerate() {
        let sum: Expression = going.iter().map(|row| row[day]).sum();
        problem = problem.with(constraint!(sum <= terms.most as f64 * *batch));
    }
    for (nth, work) in works.iter().enumerate() {
        for (size, new) in sizes.iter().zip(&buy) {
            let Some(needed) = work.needs.get(*size) else { continue };
            let there = available(classes, &going, (nth, work), size, days, terms);
            problem = problem.with(constraint!(there + *new >= *needed as f64));
        }
    }
    let solution = problem.solve().map_err(|error| NoPlan::Solver(error.to_string()))?;
    let whole = |variable: &Variable| rounded(solution.value(*variable));
    let counts: Vec<Vec<usize>> = going.iter().map(|row| row.iter().map(whole).collect()).collect();
    let buy: BTreeMap<String, usize> = sizes
        .iter()
        .zip(&buy)
        .map(|(size, new)| ((*size).clone(), whole(new)))
        .filter(|(_, count)| *count > 0)
        .collect();
    let shipments: Vec<usize> = shipments.iter().map(whole).collect();
    let sum = |counts: &[usize]| counts.iter().sum::<usize>() as f64;
    let bought: usize = buy.values().sum();
    let cost = terms.batch_cost * sum(&shipments)
        + terms.helmet_cost * counts.iter().map(|row| sum(row)).sum::<f64>()
        + terms.new_cost * bought as f64;
    Ok(Solved { shipments, counts, buy, cost })
}

/// How many helmets of a size may be worn through a whole work: those that stay and serve through it, those that are back
/// before it begins, and those that leave after it and serve through it.
#[expect(clippy::cast_precision_loss, reason = "helmets")]
fn available(
    classes: &Classes,
    going: &[Vec<Variable>],
    (nth, work): (usize, &Work),
    size: &str,
    days: &[NaiveDate],
    terms: &Terms,
) -> Expression {
    let mut there = Expression::from(0.0);
    for ((class, members), row) in classes.iter().zip(going).filter(|((class, _), _)| class.size == size) {
        if class.serve[nth] {
            there += members.stay as f64;
        }
        for (day, count) in days.iter().zip(row) {
            let back = *day + TimeDelta::days(terms.away_days);
            if back <= work.from || (*day > work.until && class.serve[nth]) {
                there += *count;
            }
        }
    }
    there
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count, at least 0")]
fn rounded(value: f64) -> usize {
    value.round().max(0.0) as usize
}

#[cfg(test)]
mod tests;
