//! What a hand-over makes of a post: where it stands now, when it is tried again, what the platform's words mean for the
//! others. Pure, but for the text that a direct message stands for.

use std::time::Duration;

use chrono::TimeDelta;

use crate::channel::chat::ChatRefused;
use crate::channel::chat::rest::Taken;
use crate::store::chat::{ChatPost, ChatState, PostKind, PostState};
use crate::store::{Result as Stored, Tx};
use crate::trade::time::Moment;

/// Longest wait before a post that was not taken is tried again.
pub(super) const LONGEST_WAIT: TimeDelta = TimeDelta::minutes(5);

/// What posting did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ChatReport {
    /// Posts made.
    pub made: usize,
    /// Posts changed in place.
    pub changed: usize,
    /// To be tried again later.
    pub again: usize,
    /// Refused as they are.
    pub failed: usize,
}

/// What became of a hand-over.
pub(super) enum Handed {
    Taken {
        taken: Taken,
        channel: String,
    },
    Refused(ChatRefused),
    /// Its channel takes nothing until this moment: nothing was done.
    NotBegun(Moment),
}

/// What a hand-over makes of a row. `claimed` is the row as it was handed over; what is wanted may have changed since.
pub(super) fn outcome(
    row: &mut ChatPost,
    claimed: &ChatPost,
    handed: &Handed,
    state: &mut ChatState,
    now: Moment,
    report: &mut ChatReport,
) {
    match handed {
        Handed::Taken { taken, channel } => {
            if claimed.message_id.is_some() {
                report.changed += 1
            } else {
                report.made += 1
            }
            posted(row, claimed, taken, channel, now);
            if state.halted_at.take().is_some() {
                state.halted_why = None;
                state.next_free_at = now;
            }
        }
        Handed::NotBegun(until) => again(row, *until, None),
        Handed::Refused(refused) => {
            if matches!(refused, ChatRefused::Person { .. } | ChatRefused::Request { .. }) {
                report.failed += 1;
            } else {
                report.again += 1;
            }
            refused_next(row, refused, state, now);
        }
    }
}

fn posted(row: &mut ChatPost, claimed: &ChatPost, taken: &Taken, channel: &str, now: Moment) {
    row.posted_at = Some(now);
    row.attempts = 0;
    row.error = None;
    if row.generation != claimed.generation {
        // The queue has another channel since: what was posted stays behind.
        return again_now(row, now);
    }
    row.message_id = Some(taken.id.clone());
    row.channel = Some(channel.to_owned());
    row.posted_hash = Some(claimed.hash.clone());
    if row.hash == claimed.hash {
        row.state = PostState::Posted;
        row.live = row.live && row.kind == PostKind::Item;
    } else {
        again_now(row, now);
    }
}

fn again_now(row: &mut ChatPost, now: Moment) {
    row.state = PostState::Due;
    row.due_at = now;
}

/// Tried again later, and this attempt does not count.
fn again(row: &mut ChatPost, at: Moment, why: Option<String>) {
    row.state = PostState::Due;
    row.attempts -= 1;
    row.due_at = at;
    row.error = why.or_else(|| row.error.take());
}

fn refused_next(row: &mut ChatPost, refused: &ChatRefused, state: &mut ChatState, now: Moment) {
    let why = refused.to_string();
    match refused {
        ChatRefused::Later { after: wait, everywhere } => {
            let until = after(now, *wait);
            if *everywhere {
                state.next_free_at = state.next_free_at.max(until);
            }
            again(row, until, None);
        }
        // Somebody deleted it: the item is still there, and so is its post, anew.
        ChatRefused::GonePost => {
            row.message_id = None;
            row.posted_hash = None;
            row.generation += 1;
            row.attempts = 0;
            row.error = None;
            again_now(row, now);
        }
        ChatRefused::Unreached { .. } | ChatRefused::InDoubt { .. } | ChatRefused::Place { .. } => {
            row.state = PostState::Due;
            row.due_at = after_attempts(now, row.attempts);
            row.error = Some(why);
        }
        ChatRefused::Everything { why: halted } => {
            state.halted_at.get_or_insert(now);
            state.halted_why = Some(halted.clone());
            state.next_free_at = now.plus(LONGEST_WAIT);
            again(row, now.plus(LONGEST_WAIT), Some(why));
        }
        ChatRefused::Person { .. } | ChatRefused::Request { .. } | ChatRefused::TooLate | ChatRefused::Answered => {
            row.state = PostState::Failed;
            row.live = row.live && row.kind == PostKind::Item;
            row.error = Some(why);
        }
    }
}

/// The text that a direct message stands for: dropped when the message stands there, hastened when it cannot.
pub(super) async fn stand_in(tx: &mut Tx, row: &ChatPost, now: Moment) -> Stored<()> {
    let Some(text) = &row.stands_for else { return Ok(()) };
    match row.state {
        PostState::Posted => {
            if tx.cancel_stood_for(&row.program, text).await?
                && let (Some(athlete), Some(date)) = (&row.athlete, row.date)
            {
                tx.checks_sent(&row.program, date, &[athlete.as_str()]).await?;
            }
        }
        PostState::Failed => _ = tx.hasten_stood_for(&row.program, text, now).await?,
        _ => {}
    }
    Ok(())
}

pub(super) fn after(now: Moment, wait: Duration) -> Moment {
    now.plus(TimeDelta::from_std(wait).unwrap_or(LONGEST_WAIT) + TimeDelta::milliseconds(1))
}

/// Two seconds, four, eight, up to five minutes.
pub(super) fn after_attempts(now: Moment, attempts: i64) -> Moment {
    let doublings = u32::try_from(attempts.clamp(1, 10)).unwrap_or(10);
    now.plus(TimeDelta::seconds(2_i64.pow(doublings)).min(LONGEST_WAIT))
}
