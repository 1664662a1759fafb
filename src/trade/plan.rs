//! The fix list as a plan: who does what in which order, when to start, and what cannot be done in time.
//!
//! Jobs go, in an order, to whoever can have them done first: Graham's list scheduling (SIAM J Appl Math
//! 1969;17:416-429). The order is the most urgent first; among equals the longest first, which makes the last end early,
//! or, when not everything can be done in time, the shortest first, which gets most done. A job that would not be done in
//! time gives way to one that will. It says what is likely, from minutes that are estimates; it promises nothing.

mod minutes;

use std::cmp::Reverse;

use chrono::TimeDelta;

use super::flag::{BeforeContact, Flags};
use super::time::Moment;

pub use minutes::{Closed, FixMinutes, KIND_WEIGHT, MOST_OFF, PACE_WEIGHT};

/// How urgent an item is, the most urgent first: who cannot practise at all without it, then who has no helmet, then
/// fits, then those who have only to be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    /// The helmet is out of use.
    DoNotWear,
    /// A helmet must be found or issued.
    NoHelmet,
    /// A refit.
    Refit,
    /// A look.
    Look,
}

impl Urgency {
    /// Every urgency, the greatest first.
    pub const ALL: [Self; 4] = [Self::DoNotWear, Self::NoHelmet, Self::Refit, Self::Look];

    /// The urgency of an item with these flags.
    #[must_use]
    pub fn of(flags: Flags) -> Self {
        if flags.needs(BeforeContact::DoNotWear) {
            Self::DoNotWear
        } else if flags.needs(BeforeContact::IssueOrFind) {
            Self::NoHelmet
        } else if flags.helmet().is_empty() {
            Self::Look
        } else {
            Self::Refit
        }
    }
}

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Job<Id> {
    /// What it is.
    pub id: Id,
    /// How urgent.
    pub urgency: Urgency,
    /// Minutes of work.
    pub minutes: u32,
    /// When it has to be done; without, it is done when it can be.
    pub ready: Option<Moment>,
    /// Whose it is already: an index into the hands.
    pub of: Option<usize>,
}

/// A pair of hands, and when it is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hand {
    /// From when on.
    pub from: Moment,
    /// Until when.
    pub until: Moment,
    /// Only for what is theirs already: somebody off duty who has taken a thing.
    pub own_only: bool,
}

/// A job in its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slot<Id> {
    /// What it is.
    pub id: Id,
    /// Whose: 0 is the first pair of hands.
    pub hand: usize,
    /// When it begins.
    pub begins: Moment,
    /// When it ends.
    pub ends: Moment,
    /// Whether it is done in time.
    pub fits: bool,
}

/// The fix list in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan<Id> {
    /// The jobs, in the order they begin; those that cannot be done in time after the others.
    pub slots: Vec<Slot<Id>>,
    /// When to start at the latest, so that all is done in time; `now` when that is past, or when it cannot be.
    pub start: Moment,
    /// Jobs that will not be done in time.
    pub unfit: usize,
}

/// Helmets are to be ready this long before the start, for warm-up. Common practice, no published source.
pub const READY_BEFORE: TimeDelta = TimeDelta::minutes(15);

/// Plans the fix list: jobs, hands on duty, now.
#[must_use]
pub fn plan<Id: Clone + Ord>(jobs: &[Job<Id>], hands: &[Hand], now: Moment) -> Plan<Id> {
    let first = best(jobs, hands, now);
    let start = if first.iter().all(|slot| slot.fits) { latest_start(jobs, hands, now) } else { now };
    let mut slots = if start == now { first } else { best(jobs, hands, start) };
    let urgency = |id: &Id| jobs.iter().find(|job| job.id == *id).map(|job| job.urgency);
    slots.sort_by_cached_key(|slot| (!slot.fits, slot.begins, urgency(&slot.id), slot.hand, slot.id.clone()));
    let unfit = slots.iter().filter(|slot| !slot.fits).count();
    Plan { slots, start, unfit }
}

/// The latest minute at which work can start and all is still done in time. Whatever is found was tried.
fn latest_start<Id: Clone + Ord>(jobs: &[Job<Id>], hands: &[Hand], now: Moment) -> Moment {
    let Some(last) = jobs.iter().filter_map(|job| job.ready).max() else { return now };
    let fits = |minutes: i64| {
        let start = now.plus(TimeDelta::minutes(minutes));
        best(jobs, hands, start).iter().all(|slot| slot.fits)
    };
    let (mut good, mut bad) = (0, last.since(now).num_minutes().max(0) + 1);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if fits(middle) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    now.plus(TimeDelta::minutes(good))
}

/// The better of two orders: fewest undone among the most urgent, then among the next, and so on; then the earliest end.
fn best<Id: Clone + Ord>(jobs: &[Job<Id>], hands: &[Hand], start: Moment) -> Vec<Slot<Id>> {
    let mut order: Vec<&Job<Id>> = jobs.iter().collect();
    order.sort_by_cached_key(|job| (job.urgency, job.ready, Reverse(job.minutes), job.id.clone()));
    let longest_first = place(&order, hands, start);
    if longest_first.iter().all(|slot| slot.fits) {
        return longest_first;
    }
    order.sort_by_cached_key(|job| (job.urgency, job.minutes, job.ready, job.id.clone()));
    let shortest_first = place(&order, hands, start);
    let longest = worth(jobs, &longest_first);
    let shortest = worth(jobs, &shortest_first);
    if longest <= shortest { longest_first } else { shortest_first }
}

/// How bad a schedule is: jobs undone by urgency, then when the last in time ends.
fn worth<Id: Ord>(jobs: &[Job<Id>], slots: &[Slot<Id>]) -> (Vec<usize>, Option<Moment>) {
    let undone = |urgency: Urgency| {
        let of = |slot: &&Slot<Id>| jobs.iter().any(|job| job.id == slot.id && job.urgency == urgency);
        slots.iter().filter(|slot| !slot.fits).filter(of).count()
    };
    (Urgency::ALL.map(undone).to_vec(), slots.iter().filter(|slot| slot.fits).map(|slot| slot.ends).max())
}

/// Places jobs in the order given, each with whoever has it done first. What would not be done in time is placed after
/// all that will be.
fn place<Id: Clone>(order: &[&Job<Id>], hands: &[Hand], start: Moment) -> Vec<Slot<Id>> {
    let mut free: Vec<Moment> = hands.iter().map(|hand| hand.from.max(start)).collect();
    let mut slots = Vec::new();
    let mut late = Vec::new();
    for job in order {
        match soonest(job, hands, &free, true) {
            Some((hand, ends)) => slots.push(put(job, hand, &mut free, ends, true)),
            None => late.push(*job),
        }
    }
    for job in late {
        let (hand, ends) = soonest(job, hands, &free, false).unwrap_or((0, start.plus(length(job))));
        slots.push(put(job, hand, &mut free, ends, false));
    }
    slots
}

fn length<Id>(job: &Job<Id>) -> TimeDelta {
    TimeDelta::minutes(i64::from(job.minutes))
}

fn put<Id: Clone>(job: &Job<Id>, hand: usize, free: &mut [Moment], ends: Moment, fits: bool) -> Slot<Id> {
    if let Some(free) = free.get_mut(hand) {
        *free = ends;
    }
    Slot { id: job.id.clone(), hand, begins: ends.minus(length(job)), ends, fits }
}

/// Who has a job done first, and when; `in_time`: nobody, when it would be too late or outlast the duty of all.
fn soonest<Id>(job: &Job<Id>, hands: &[Hand], free: &[Moment], in_time: bool) -> Option<(usize, Moment)> {
    let open = |hand: usize| match job.of.filter(|own| *own < hands.len()) {
        Some(own) => own == hand,
        None => hands.get(hand).is_some_and(|hand| !hand.own_only),
    };
    free.iter()
        .enumerate()
        .filter(|(hand, _)| open(*hand))
        .map(|(hand, free)| (hand, free.plus(length(job))))
        .filter(|(hand, ends)| {
            let limit = hands.get(*hand).map(|hand| hand.until);
            !in_time || (limit.is_some_and(|until| *ends <= until) && job.ready.is_none_or(|ready| *ends <= ready))
        })
        .min_by_key(|(hand, ends)| (*ends, *hand))
}

#[cfg(test)]
mod tests;
