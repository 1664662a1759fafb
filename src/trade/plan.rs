//! The fix list as a plan: in which order, how long, when to start, with how many hands, and what will not fit.
//!
//! Jobs are given to whoever is free first, the most urgent first and among equals the longest first: Graham's list
//! scheduling with his longest-processing-time order (SIAM J Appl Math 1969;17:416-429). It says what is likely, from
//! minutes that are estimates; it promises nothing.

use std::collections::BTreeMap;

use chrono::TimeDelta;

use super::flag::{BeforeContact, Flag, Flags};
use super::time::Moment;

/// Closed items of a kind after which their mean replaces the setting.
pub const LEARNED_AFTER: i64 = 10;

/// Minutes of work each flag takes.
///
/// The defaults are common practice, no published source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FixMinutes {
    by_flag: BTreeMap<Flag, u32>,
    look: u32,
}

impl Default for FixMinutes {
    fn default() -> Self {
        let by_flag =
            Flag::ALL.into_iter().filter(|flag| !flag.is_body()).map(|flag| (flag, default_minutes(flag))).collect();
        Self { by_flag, look: 3 }
    }
}

const fn default_minutes(flag: Flag) -> u32 {
    match flag {
        Flag::Strap | Flag::Air => 4,
        Flag::Cheeks => 5,
        Flag::Hardware | Flag::Loose | Flag::Tight => 8,
        Flag::Shell | Flag::Missing => 10,
        _ => 6,
    }
}

impl FixMinutes {
    /// The defaults with some replaced, keyed by flag name, or `look` for an answer that was not understood.
    ///
    /// # Errors
    /// A sentence that names the key that is no helmet flag, or the minutes that make no sense.
    pub fn with(settings: &BTreeMap<String, u32>) -> Result<Self, String> {
        let mut minutes = Self::default();
        for (name, value) in settings {
            if *value == 0 || *value > 240 {
                return Err(format!("`{name}` = {value}: minutes are 1 to 240"));
            }
            if name == "look" {
                minutes.look = *value;
                continue;
            }
            match Flag::from_name(name).filter(|flag| !flag.is_body()) {
                Some(flag) => minutes.by_flag.insert(flag, *value),
                None => return Err(format!("`{name}` is not a helmet flag")),
            };
        }
        Ok(minutes)
    }

    /// Takes a learned mean, in minutes, for items that had this one flag alone.
    pub fn learn(&mut self, flag: Flag, mean: f64, items: i64) {
        if items >= LEARNED_AFTER && mean.is_finite() && !flag.is_body() {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to 1..=240")]
            self.by_flag.insert(flag, mean.round().clamp(1.0, 240.0) as u32);
        }
    }

    /// Minutes for one item: its flags one after the other, or a look when there are none.
    #[must_use]
    pub fn of(&self, flags: Flags) -> u32 {
        let helmet = flags.helmet();
        if helmet.is_empty() {
            return self.look;
        }
        helmet.iter().filter_map(|flag| self.by_flag.get(&flag)).sum()
    }
}

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
}

/// A job in its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slot<Id> {
    /// What it is.
    pub id: Id,
    /// Whose: 0 is the first pair of hands.
    pub hand: usize,
    /// Minutes after the start.
    pub begins: u32,
    /// Minutes after the start.
    pub ends: u32,
    /// Whether it is done before practice.
    pub fits: bool,
}

/// The fix list in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan<Id> {
    /// The jobs, in the order they begin.
    pub slots: Vec<Slot<Id>>,
    /// When to start at the latest; `now` when that is past.
    pub start: Moment,
    /// Pairs of hands planned with.
    pub hands: usize,
    /// Jobs that will not be done before practice.
    pub unfit: usize,
    /// Minutes until the last is done.
    pub minutes: u32,
}

/// Gives jobs, in the order given, to whoever is free first. Returns for each the hand and when it begins and ends.
#[must_use]
pub fn list_schedule(minutes: &[u32], hands: usize) -> Vec<(usize, u32, u32)> {
    let mut free = vec![0_u32; hands.max(1)];
    minutes
        .iter()
        .map(|job| {
            let hand = (0..free.len()).min_by_key(|hand| (free[*hand], *hand)).unwrap_or(0);
            let begins = free[hand];
            free[hand] = begins.saturating_add(*job);
            (hand, begins, free[hand])
        })
        .collect()
}

/// Helmets are to be ready this long before the start, for warm-up. Common practice, no published source.
pub const READY_BEFORE: TimeDelta = TimeDelta::minutes(15);

/// Plans the fix list: jobs, pairs of hands on duty, now, and when practice starts.
#[must_use]
pub fn plan<Id: Clone + Ord>(jobs: &[Job<Id>], hands: usize, now: Moment, practice: Moment) -> Plan<Id> {
    let practice = practice.minus(READY_BEFORE);
    let mut order: Vec<&Job<Id>> = jobs.iter().collect();
    order.sort_by(|a, b| a.urgency.cmp(&b.urgency).then(b.minutes.cmp(&a.minutes)).then_with(|| a.id.cmp(&b.id)));
    let lengths: Vec<u32> = order.iter().map(|job| job.minutes).collect();
    let placed = list_schedule(&lengths, hands);
    let minutes = placed.iter().map(|(_, _, ends)| *ends).max().unwrap_or(0);
    let start = practice.minus(TimeDelta::minutes(i64::from(minutes))).max(now.min(practice));
    let mut slots: Vec<Slot<Id>> = order
        .iter()
        .zip(placed)
        .map(|(job, (hand, begins, ends))| Slot {
            id: job.id.clone(),
            hand,
            begins,
            ends,
            fits: start.plus(TimeDelta::minutes(i64::from(ends))) <= practice,
        })
        .collect();
    slots.sort_by_key(|slot| (slot.begins, slot.hand));
    let unfit = slots.iter().filter(|slot| !slot.fits).count();
    Plan { slots, start, hands: hands.max(1), unfit, minutes }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn makespan(minutes: &[u32], hands: usize) -> u32 {
        list_schedule(minutes, hands).iter().map(|(_, _, ends)| *ends).max().unwrap_or(0)
    }

    /// The tight examples for longest-first order, and list scheduling of 4 5 6 7 8 in that order (Graham 1969).
    #[test]
    fn published_examples_come_out_as_printed() {
        assert_eq!(makespan(&[3, 3, 2, 2, 2], 2), 7);
        assert_eq!(makespan(&[5, 5, 4, 4, 3, 3, 3], 3), 11);
        assert_eq!(makespan(&[7, 7, 6, 6, 5, 5, 4, 4, 4], 4), 15);
        assert_eq!(makespan(&[4, 5, 6, 7, 8], 2), 18);
        assert_eq!(makespan(&[4, 5, 6, 7, 8], 3), 13);
        assert_eq!(makespan(&[8, 7, 6, 5, 4], 2), 17);
    }

    fn job(id: u32, urgency: Urgency, minutes: u32) -> Job<u32> {
        Job { id, urgency, minutes }
    }

    #[test]
    fn what_is_out_of_use_comes_first_and_the_start_leaves_time_for_all() {
        let practice = Moment::from_millis(0).plus(TimeDelta::hours(15));
        let ready = practice.minus(READY_BEFORE);
        let now = practice.minus(TimeDelta::minutes(90));
        let jobs = [job(1, Urgency::Refit, 6), job(2, Urgency::DoNotWear, 4), job(3, Urgency::Look, 3)];
        let plan = plan(&jobs, 1, now, practice);
        assert_eq!(plan.slots.iter().map(|slot| slot.id).collect::<Vec<_>>(), [2, 1, 3]);
        assert_eq!(plan.start, ready.minus(TimeDelta::minutes(13)));
        assert_eq!(plan.unfit, 0);
    }

    #[test]
    fn what_cannot_be_done_in_time_is_said() {
        let practice = Moment::from_millis(0).plus(TimeDelta::hours(15));
        let now = practice.minus(READY_BEFORE + TimeDelta::minutes(10));
        let jobs = [job(1, Urgency::DoNotWear, 8), job(2, Urgency::Refit, 6)];
        let plan = plan(&jobs, 1, now, practice);
        assert_eq!(plan.start, now);
        assert_eq!(plan.unfit, 1);
        assert!(plan.slots[0].fits && !plan.slots[1].fits);
    }

    #[test]
    fn minutes_are_learned_after_ten_items_and_not_before() {
        let strap: Flags = [Flag::Strap].into_iter().collect();
        let mut minutes = FixMinutes::default();
        minutes.learn(Flag::Strap, 9.4, 9);
        assert_eq!(minutes.of(strap), 4);
        minutes.learn(Flag::Strap, 9.4, 10);
        assert_eq!(minutes.of(strap), 9);
        assert!(FixMinutes::with(&[("symptom".to_owned(), 5)].into()).is_err());
    }

    proptest! {
        /// Graham's bound for any list: at most (2 - 1/m) times the best, which is at least the mean load and the
        /// longest job.
        #[test]
        fn the_last_job_ends_within_the_published_bound(
            minutes in prop::collection::vec(1_u32..60, 1..40), hands in 1_usize..6,
        ) {
            let best = minutes.iter().sum::<u32>().div_ceil(hands as u32).max(*minutes.iter().max().unwrap());
            let bound = (2.0 - 1.0 / hands as f64) * f64::from(best);
            prop_assert!(f64::from(makespan(&minutes, hands)) <= bound + 1e-9);
        }
    }
}
