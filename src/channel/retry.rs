//! When a message that was not taken is tried again. Pure: a table of numbers.
//!
//! The wait doubles with each attempt up to a cap; half of it is left to chance so that many messages do not come back
//! at once. What the carrier asks for with Retry-After comes before the wait of our own.
//!
//! Invariants: nothing is tried before the carrier's Retry-After or after the send-by time; what may have gone out is
//! looked for before it is sent again, however little time is left.

use std::time::Duration;

use chrono::TimeDelta;

use super::{NumberTrouble, Refused};
use crate::trade::time::Moment;

/// First and longest wait before sending again what was never processed.
const AGAIN: Waits = Waits { first: TimeDelta::seconds(2), longest: TimeDelta::seconds(300) };
/// First and longest wait before looking for what may have gone out. The first is longer: a message just made may not
/// be listed at once (common practice, no published source).
const LOOK: Waits = Waits { first: TimeDelta::seconds(10), longest: TimeDelta::seconds(300) };
/// First and longest wait before asking whether a halted account is mended.
const HALT: Waits = Waits { first: TimeDelta::seconds(30), longest: TimeDelta::seconds(300) };
/// Less time than this before the send-by time is none: handing a message over takes some itself.
const LEAST_LEFT: TimeDelta = TimeDelta::seconds(1);
/// Attempts after which a message without a send-by time is given up: some eight hours.
pub const MOST_ATTEMPTS: u32 = 100;

struct Waits {
    first: TimeDelta,
    longest: TimeDelta,
}

impl Waits {
    /// The wait after so many attempts: between half of the doubled wait and all of it, by `jitter`.
    fn after(&self, attempt: u32, jitter: f64) -> TimeDelta {
        let doublings = attempt.saturating_sub(1).min(20);
        let whole = self.first.num_milliseconds() << doublings;
        let whole = whole.min(self.longest.num_milliseconds());
        let jitter = if jitter.is_finite() { jitter.clamp(0.0, 1.0) } else { 1.0 };
        #[expect(clippy::cast_precision_loss, clippy::cast_possible_truncation, reason = "minutes in milliseconds")]
        let chance = ((whole / 2) as f64 * jitter) as i64;
        TimeDelta::milliseconds(whole - whole / 2 + chance)
    }
}

/// What to do with a message that was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// Send it again at this moment.
    At(Moment),
    /// It may have gone out: look for it at this moment, and send it again only if the carrier does not have it.
    LookFirst(Moment),
    /// Nothing can be sent until somebody mends the account. The message keeps its place, the attempt does not count;
    /// ask again whether it is mended at this moment.
    Halted(Moment),
    /// It is not sent.
    GiveUp(GiveUp),
}

/// Why a message is given up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GiveUp {
    /// Its send-by time would pass: it is reported as missed. It did not go out.
    TooLate,
    /// Its send-by time has passed and it may have gone out: it is not sent again, a last look tells which.
    TooLateInDoubt,
    /// Tried [`MOST_ATTEMPTS`] times.
    TooOften {
        /// Whether the last attempt may have gone out.
        in_doubt: bool,
    },
    /// The number cannot be written to: to the contact queue.
    Number(NumberTrouble),
    /// The carrier refuses this one message.
    Message,
}

/// What to do next with a message after `attempt` attempts (1 after the first), the last one `refused` at `now`.
///
/// `send_by` is the moment after which it is no longer useful; `jitter` is drawn by the caller from 0 to 1.
/// Sending without a send-by time ends after [`MOST_ATTEMPTS`].
#[must_use]
pub fn next_attempt(attempt: u32, refused: &Refused, now: Moment, send_by: Option<Moment>, jitter: f64) -> Next {
    match refused {
        Refused::Number { trouble, .. } => Next::GiveUp(GiveUp::Number(*trouble)),
        Refused::Message { .. } => Next::GiveUp(GiveUp::Message),
        Refused::Retry { after, .. } => {
            let least = now.plus(asked_for(*after));
            match bounded(least, AGAIN.after(attempt, jitter), send_by, attempt) {
                Ok(moment) => Next::At(moment),
                Err(End::Late) => Next::GiveUp(GiveUp::TooLate),
                Err(End::Often) => Next::GiveUp(GiveUp::TooOften { in_doubt: false }),
            }
        }
        Refused::InDoubt { .. } => match bounded(now, LOOK.after(attempt, jitter), send_by, attempt) {
            Ok(moment) => Next::LookFirst(moment),
            Err(End::Late) => Next::GiveUp(GiveUp::TooLateInDoubt),
            Err(End::Often) => Next::GiveUp(GiveUp::TooOften { in_doubt: true }),
        },
        // Waiting for somebody to mend the account is no attempt: it ends with the send-by time alone.
        Refused::Everything { .. } => {
            bounded(now, HALT.after(attempt, jitter), send_by, 0).map_or(Next::GiveUp(GiveUp::TooLate), Next::Halted)
        }
    }
}

/// The wait that the carrier asks for; no wait is longer than the ends of time.
fn asked_for(after: Option<Duration>) -> TimeDelta {
    after.map_or(TimeDelta::zero(), |wait| TimeDelta::from_std(wait).unwrap_or(TimeDelta::MAX))
}

/// Why there is no next attempt.
enum End {
    Late,
    Often,
}

/// A wait after the earliest moment, or when that is past the send-by time, half of what is left.
fn bounded(least: Moment, wait: TimeDelta, send_by: Option<Moment>, attempt: u32) -> Result<Moment, End> {
    let Some(send_by) = send_by else {
        return if attempt < MOST_ATTEMPTS { Ok(least.plus(wait)) } else { Err(End::Often) };
    };
    let left = send_by.since(least);
    if left < LEAST_LEFT {
        return Err(End::Late);
    }
    Ok(least.plus(if wait <= left { wait } else { left / 2 }))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const NOW: Moment = Moment::from_millis(1_788_000_000_000);

    fn retry(after: Option<u64>) -> Refused {
        Refused::Retry { why: String::new(), after: after.map(Duration::from_secs) }
    }

    fn in_doubt() -> Refused {
        Refused::InDoubt { why: String::new() }
    }

    fn halted() -> Refused {
        Refused::Everything { why: String::new() }
    }

    /// What comes next, moments as milliseconds from now.
    fn next(attempt: u32, refused: &Refused, send_by: Option<i64>, jitter: f64) -> String {
        let send_by = send_by.map(|seconds| NOW.plus(TimeDelta::seconds(seconds)));
        let millis = |moment: Moment| moment.since(NOW).num_milliseconds();
        match next_attempt(attempt, refused, NOW, send_by, jitter) {
            Next::At(moment) => format!("at {}", millis(moment)),
            Next::LookFirst(moment) => format!("look {}", millis(moment)),
            Next::Halted(moment) => format!("halted {}", millis(moment)),
            Next::GiveUp(why) => format!("{why:?}"),
        }
    }

    #[test]
    fn waits_double_up_to_a_cap_and_half_is_chance() {
        let table = [
            (1, 0.0, "at 1000", "look 5000", "halted 15000"),
            (1, 0.5, "at 1500", "look 7500", "halted 22500"),
            (1, 1.0, "at 2000", "look 10000", "halted 30000"),
            (2, 1.0, "at 4000", "look 20000", "halted 60000"),
            (3, 1.0, "at 8000", "look 40000", "halted 120000"),
            (4, 0.0, "at 8000", "look 40000", "halted 120000"),
            (5, 1.0, "at 32000", "look 160000", "halted 300000"),
            (8, 1.0, "at 256000", "look 300000", "halted 300000"),
            (9, 1.0, "at 300000", "look 300000", "halted 300000"),
            (99, 0.0, "at 150000", "look 150000", "halted 150000"),
            // No attempt yet counts as the first; chance out of its range is the longest wait.
            (0, 1.0, "at 2000", "look 10000", "halted 30000"),
            (1, 7.0, "at 2000", "look 10000", "halted 30000"),
            (1, f64::NAN, "at 2000", "look 10000", "halted 30000"),
        ];
        for (attempt, jitter, again, look, halt) in table {
            assert_eq!(next(attempt, &retry(None), None, jitter), again, "attempt {attempt}");
            assert_eq!(next(attempt, &in_doubt(), None, jitter), look, "attempt {attempt}");
            assert_eq!(next(attempt, &halted(), None, jitter), halt, "attempt {attempt}");
        }
    }

    #[test]
    fn the_carriers_own_wait_comes_first() {
        let table = [
            (Some(0), None, "at 2000"),
            (Some(30), None, "at 32000"),
            (Some(30), Some(60), "at 32000"),
            // 2 s more would pass the send-by time: half of the second that is left.
            (Some(30), Some(31), "at 30500"),
            (Some(30), Some(30), "TooLate"),
            (Some(3600), Some(60), "TooLate"),
            (Some(u64::MAX), Some(60), "TooLate"),
        ];
        for (after, send_by, expected) in table {
            assert_eq!(next(1, &retry(after), send_by, 1.0), expected, "{after:?} by {send_by:?}");
        }
    }

    #[test]
    fn the_send_by_time_ends_it() {
        let table = [
            (Some(600), "at 256000", "look 300000", "halted 300000"),
            (Some(100), "at 50000", "look 50000", "halted 50000"),
            (Some(1), "at 500", "look 500", "halted 500"),
            (Some(0), "TooLate", "TooLateInDoubt", "TooLate"),
            (Some(-9), "TooLate", "TooLateInDoubt", "TooLate"),
        ];
        for (send_by, again, look, halt) in table {
            assert_eq!(next(8, &retry(None), send_by, 1.0), again, "{send_by:?}");
            assert_eq!(next(8, &in_doubt(), send_by, 1.0), look, "{send_by:?}");
            assert_eq!(next(8, &halted(), send_by, 1.0), halt, "{send_by:?}");
        }
    }

    #[test]
    fn without_a_send_by_time_it_ends_after_many_attempts() {
        assert_eq!(next(99, &retry(None), None, 1.0), "at 300000");
        assert_eq!(next(100, &retry(None), None, 1.0), "TooOften { in_doubt: false }");
        assert_eq!(next(100, &in_doubt(), None, 1.0), "TooOften { in_doubt: true }");
        assert_eq!(next(100, &halted(), None, 1.0), "halted 300000");
        assert_eq!(next(100, &retry(None), Some(86_400), 1.0), "at 300000");
    }

    #[test]
    fn what_the_number_or_the_message_is_to_blame_for_is_not_tried_again() {
        let number = Refused::Number { code: 21610, trouble: NumberTrouble::OptedOut, why: String::new() };
        let message = Refused::Message { code: 21617, why: String::new() };
        assert_eq!(next(1, &number, None, 0.5), "Number(OptedOut)");
        assert_eq!(next(1, &message, None, 0.5), "Message");
    }

    fn refusals() -> impl Strategy<Value = Refused> {
        prop_oneof![proptest::option::of(0_u64..10_000).prop_map(retry), Just(in_doubt()), Just(halted()),]
    }

    fn moment(next: &Next) -> Option<Moment> {
        match next {
            Next::At(moment) | Next::LookFirst(moment) | Next::Halted(moment) => Some(*moment),
            Next::GiveUp(_) => None,
        }
    }

    proptest! {
        #[test]
        fn never_past_the_send_by_time_nor_before_what_the_carrier_asks(
            attempt in 0_u32..200,
            refused in refusals(),
            send_by in proptest::option::of(-1_000_000_i64..10_000_000),
            jitter in 0.0_f64..=1.0,
        ) {
            let send_by = send_by.map(|millis| NOW.plus(TimeDelta::milliseconds(millis)));
            let next = next_attempt(attempt, &refused, NOW, send_by, jitter);
            if let Some(moment) = moment(&next) {
                prop_assert!(moment > NOW);
                if let Some(send_by) = send_by {
                    prop_assert!(moment <= send_by);
                }
                if let Refused::Retry { after: Some(after), .. } = &refused {
                    prop_assert!(moment >= NOW.plus(TimeDelta::from_std(*after).unwrap()));
                }
            }
            // What may have gone out is never sent again without a look.
            if matches!(refused, Refused::InDoubt { .. }) {
                prop_assert!(!matches!(next, Next::At(_)));
            }
        }

        #[test]
        fn bounds_grow_with_attempts_and_chance(
            attempt in 1_u32..98,
            refused in refusals(),
            low in 0.0_f64..=1.0,
            high in 0.0_f64..=1.0,
        ) {
            let (low, high) = if low <= high { (low, high) } else { (high, low) };
            let at = |attempt, jitter| moment(&next_attempt(attempt, &refused, NOW, None, jitter));
            prop_assert!(at(attempt, low) <= at(attempt, high));
            prop_assert!(at(attempt, low) <= at(attempt + 1, low));
            prop_assert!(at(attempt, 0.0) <= at(attempt, low) && at(attempt, high) <= at(attempt, 1.0));
        }

        /// Shortening the wait near the send-by time does not become a loop without end.
        #[test]
        fn attempts_before_a_send_by_time_are_few(left in 1_i64..40_000_000, jitter in 0.0_f64..=1.0) {
            let send_by = NOW.plus(TimeDelta::milliseconds(left));
            let mut now = NOW;
            let mut attempt = 1;
            while let Next::At(moment) = next_attempt(attempt, &retry(None), now, Some(send_by), jitter) {
                now = moment;
                attempt += 1;
                prop_assert!(attempt < 300, "still trying {} ms before", send_by.since(now));
            }
        }
    }
}
