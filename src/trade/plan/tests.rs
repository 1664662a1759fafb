//! The plan against published examples and bounds, and against exact searches on small cases.

use proptest::prelude::*;

use super::*;
use crate::trade::flag::Flag;

fn start() -> Moment {
    Moment::from_millis(0).plus(TimeDelta::hours(14))
}

fn minutes(minutes: i64) -> TimeDelta {
    TimeDelta::minutes(minutes)
}

/// Hands that are there all day.
fn hands(count: usize) -> Vec<Hand> {
    vec![Hand { from: start(), until: start().plus(TimeDelta::hours(10)), own_only: false }; count]
}

fn job(id: u32, urgency: Urgency, length: u32, ready: i64) -> Job<u32> {
    Job { id, urgency, minutes: length, ready: Some(start().plus(minutes(ready))), of: None }
}

fn alike(lengths: &[u32], ready: i64) -> Vec<Job<u32>> {
    lengths.iter().zip(0..).map(|(length, id)| job(id, Urgency::Refit, *length, ready)).collect()
}

/// When the last one ends, in minutes, when work starts at once in the order of the plan.
fn makespan(jobs: &[Job<u32>], count: usize) -> i64 {
    best(jobs, &hands(count), start()).iter().map(|slot| slot.ends.since(start()).num_minutes()).max().unwrap_or(0)
}

/// In exactly the order given: Graham's list scheduling.
fn listed(lengths: &[u32], count: usize) -> i64 {
    let jobs = alike(lengths, 600);
    let order: Vec<&Job<u32>> = jobs.iter().collect();
    place(&order, &hands(count), start()).iter().map(|slot| slot.ends.since(start()).num_minutes()).max().unwrap_or(0)
}

/// The shortest possible time to the last end, by trying every assignment.
fn shortest(lengths: &[u32], count: usize) -> u32 {
    fn go(lengths: &[u32], loads: &mut Vec<u32>, best: &mut u32) {
        let Some((first, rest)) = lengths.split_first() else {
            *best = (*best).min(*loads.iter().max().unwrap());
            return;
        };
        for hand in 0..loads.len() {
            loads[hand] += first;
            if loads[hand] < *best {
                go(rest, loads, best);
            }
            loads[hand] -= first;
        }
    }
    let mut best = lengths.iter().sum::<u32>() + 1;
    go(lengths, &mut vec![0; count], &mut best);
    best
}

/// The most jobs that can be done by a time, by trying every assignment and every omission.
fn most_done(lengths: &[u32], count: usize, by: u32) -> usize {
    fn go(lengths: &[u32], loads: &mut Vec<u32>, by: u32) -> usize {
        let Some((first, rest)) = lengths.split_first() else { return 0 };
        let mut best = go(rest, loads, by);
        for hand in 0..loads.len() {
            if loads[hand] + first <= by {
                loads[hand] += first;
                best = best.max(1 + go(rest, loads, by));
                loads[hand] -= first;
            }
        }
        best
    }
    go(lengths, &mut vec![0; count], by)
}

/// The tight examples for longest-first order, and list scheduling of 4 5 6 7 8 in that order (Graham 1969).
#[test]
fn published_examples_come_out_as_printed() {
    assert_eq!(listed(&[3, 3, 2, 2, 2], 2), 7);
    assert_eq!(listed(&[5, 5, 4, 4, 3, 3, 3], 3), 11);
    assert_eq!(listed(&[7, 7, 6, 6, 5, 5, 4, 4, 4], 4), 15);
    assert_eq!(listed(&[4, 5, 6, 7, 8], 2), 18);
    assert_eq!(listed(&[4, 5, 6, 7, 8], 3), 13);
    assert_eq!(listed(&[8, 7, 6, 5, 4], 2), 17);
    // What the exact search finds for them.
    assert_eq!(shortest(&[3, 3, 2, 2, 2], 2), 6);
    assert_eq!(shortest(&[5, 5, 4, 4, 3, 3, 3], 3), 9);
    assert_eq!(shortest(&[4, 5, 6, 7, 8], 2), 15);
}

#[test]
fn what_is_out_of_use_comes_first_and_the_start_leaves_time_for_all() {
    let jobs = [job(1, Urgency::Refit, 6, 75), job(2, Urgency::DoNotWear, 4, 75), job(3, Urgency::Look, 3, 75)];
    let plan = plan(&jobs, &hands(1), start());
    assert_eq!(plan.slots.iter().map(|slot| slot.id).collect::<Vec<_>>(), [2, 1, 3]);
    assert_eq!(plan.start, start().plus(minutes(75 - 13)));
    assert_eq!(plan.unfit, 0);
}

#[test]
fn what_cannot_be_done_in_time_is_said_and_gives_way_to_what_can() {
    let jobs = [job(1, Urgency::DoNotWear, 8, 10), job(2, Urgency::Refit, 6, 10), job(3, Urgency::Look, 2, 10)];
    let plan = plan(&jobs, &hands(1), start());
    assert_eq!(plan.start, start());
    let fits: Vec<(u32, bool)> = plan.slots.iter().map(|slot| (slot.id, slot.fits)).collect();
    assert_eq!(fits, [(1, true), (3, true), (2, false)]);
    assert_eq!(plan.unfit, 1);
}

#[test]
fn hands_work_when_they_are_there_and_on_what_is_theirs() {
    let day = start().plus(TimeDelta::hours(10));
    let hands = [
        Hand { from: start(), until: start().plus(minutes(10)), own_only: false },
        Hand { from: start().plus(minutes(30)), until: day, own_only: false },
    ];
    let mut jobs = alike(&[8, 8, 8], 50);
    jobs[0].of = Some(1);
    let plan = plan(&jobs, &hands, start());
    let slot = |id: u32| plan.slots.iter().find(|slot| slot.id == id).unwrap();
    assert_eq!(slot(0).hand, 1, "it was taken");
    assert_eq!(plan.unfit, 0);
    let by_first: Vec<_> = plan.slots.iter().filter(|slot| slot.hand == 0).collect();
    assert_eq!(by_first.len(), 1, "ten minutes are room for one");
    assert!(plan.slots.iter().filter(|slot| slot.hand == 1).all(|slot| slot.begins >= hands[1].from));
    // With nobody there at all, nothing fits and everything is still told.
    let none = super::plan(&jobs, &[], start());
    assert_eq!((none.slots.len(), none.unfit), (3, 3));
}

/// Who is off duty and has taken one thing is planned with for that alone.
#[test]
fn a_taker_off_duty_does_their_own_and_no_more() {
    let mut hands = hands(2);
    hands[1].own_only = true;
    let mut jobs = alike(&[8, 8, 8], 60);
    jobs[2].of = Some(1);
    let plan = plan(&jobs, &hands, start());
    let of: Vec<(u32, usize)> = plan.slots.iter().map(|slot| (slot.id, slot.hand)).collect();
    assert_eq!(of, [(0, 0), (2, 1), (1, 0)]);
}

#[test]
fn a_job_without_a_time_is_never_late() {
    let jobs = [Job { ready: None, ..job(1, Urgency::Refit, 6, 0) }];
    let plan = plan(&jobs, &hands(1), start());
    assert_eq!((plan.unfit, plan.start), (0, start()));
}

#[test]
fn urgency_follows_the_flags() {
    let of = |flags: &[Flag]| Urgency::of(flags.iter().copied().collect());
    assert_eq!(of(&[Flag::Brow, Flag::Strap]), Urgency::DoNotWear);
    assert_eq!(of(&[Flag::Missing]), Urgency::NoHelmet);
    assert_eq!(of(&[Flag::Air]), Urgency::Refit);
    assert_eq!(of(&[]), Urgency::Look);
}

fn urgency(of: u32) -> Urgency {
    Urgency::ALL[of as usize % Urgency::ALL.len()]
}

proptest! {
    /// Graham's bound for any list: at most (2 - 1/m) times the best, here by the exact search.
    #[test]
    fn with_urgencies_the_last_ends_within_grahams_bound_for_any_list(
        lengths in prop::collection::vec((1_u32..30, 0_u32..4), 1..9), count in 1_usize..4,
    ) {
        let jobs: Vec<Job<u32>> =
            lengths.iter().zip(0..).map(|((length, of), id)| job(id, urgency(*of), *length, 600)).collect();
        let plain: Vec<u32> = lengths.iter().map(|(length, _)| *length).collect();
        let bound = (2.0 - 1.0 / count as f64) * f64::from(shortest(&plain, count));
        prop_assert!(makespan(&jobs, count) as f64 <= bound + 1e-9);
    }

    /// Graham's bound for the longest first: at most 4/3 - 1/(3m) times the best, by the exact search.
    #[test]
    fn among_equals_the_last_ends_within_grahams_bound_for_the_longest_first(
        lengths in prop::collection::vec(1_u32..30, 1..9), count in 1_usize..4,
    ) {
        let bound = (4.0 / 3.0 - 1.0 / (3.0 * count as f64)) * f64::from(shortest(&lengths, count));
        prop_assert!(makespan(&alike(&lengths, 600), count) as f64 <= bound + 1e-9);
    }

    /// When not all can be done, at most m - 1 fewer are done than can be, and with one pair of hands none fewer: the
    /// shortest first start before the end as long as the best choice does, and only the last of each hand may be late.
    #[test]
    fn as_many_are_done_in_time_as_can_be_but_for_one_a_further_hand(
        lengths in prop::collection::vec(1_u32..30, 1..8), count in 1_usize..4, by in 5_u32..60,
    ) {
        let plan = plan(&alike(&lengths, i64::from(by)), &hands(count), start());
        let done = lengths.len() - plan.unfit;
        let can = most_done(&lengths, count, by);
        prop_assert!(done <= can);
        prop_assert!(done + count > can, "{done} of {can}");
    }

    /// Each job once, no pair of hands on two at once, all within duty, what is said to be in time is; and the start said
    /// to be the latest leaves time for all.
    #[test]
    fn a_plan_can_be_carried_out(
        jobs in prop::collection::vec((1_u32..20, 0_u32..4, 10_i64..120, 0_usize..4), 0..12),
        windows in prop::collection::vec((0_i64..60, 1_i64..120), 1..4),
    ) {
        let jobs: Vec<Job<u32>> = jobs.iter().zip(0..).map(|((length, of, ready, own), id)| Job {
            of: Some(*own).filter(|own| *own < windows.len()),
            ..job(id, urgency(*of), *length, *ready)
        }).collect();
        let hands: Vec<Hand> = windows.iter().map(|(from, length)| {
            let from = start().plus(minutes(*from));
            Hand { from, until: from.plus(minutes(*length)), own_only: false }
        }).collect();
        let plan = plan(&jobs, &hands, start());
        let mut ids: Vec<u32> = plan.slots.iter().map(|slot| slot.id).collect();
        ids.sort_unstable();
        prop_assert_eq!(ids, (0..u32::try_from(jobs.len()).unwrap()).collect::<Vec<_>>());
        for slot in &plan.slots {
            let job = &jobs[slot.id as usize];
            prop_assert!(slot.begins >= plan.start && slot.begins >= hands[slot.hand].from);
            prop_assert!(job.of.is_none_or(|own| own == slot.hand));
            if slot.fits {
                prop_assert!(slot.ends <= job.ready.unwrap() && slot.ends <= hands[slot.hand].until);
            }
            for other in plan.slots.iter().filter(|other| other.hand == slot.hand && other.id != slot.id) {
                prop_assert!(other.ends <= slot.begins || other.begins >= slot.ends);
            }
        }
        prop_assert!(plan.unfit == 0 || plan.start == start());
    }

    /// With everybody there all the time, a minute after the latest start is too late.
    #[test]
    fn the_latest_start_is_the_latest(lengths in prop::collection::vec(1_u32..20, 1..10), count in 1_usize..4) {
        let jobs = alike(&lengths, 240);
        let plan = plan(&jobs, &hands(count), start());
        prop_assert_eq!(plan.unfit, 0);
        let later = best(&jobs, &hands(count), plan.start.plus(minutes(1)));
        prop_assert!(later.iter().any(|slot| !slot.fits));
    }
}
