//! What is due at a moment: pure functions from events and a team's times to steps, and from open items to alerts.
//!
//! Nothing here knows what has been done already; the desk keeps that by natural key, so that asking twice does nothing
//! twice.

pub mod repeat;

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use chrono_tz::Tz;

use crate::trade::flag::Flag;
use crate::trade::queue::{Item, ItemState, Queue};
use crate::trade::roster::{Event, TeamId};
use crate::trade::time::{Moment, resolve};
use crate::trade::times::{Minutes, QuietHours, TeamTimes, When};

/// A step of an event's day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// The morning check goes to the team.
    Check,
    /// The silent are reminded, once.
    Nudge,
    /// Equipment staff get the fix list.
    FixList,
    /// Helmets that nobody has taken: again to equipment staff on duty.
    FixAgain,
    /// Helmets that nobody has taken: to the next person there is.
    FixSecond,
    /// Helmets that nobody has taken: to everyone who can fix one.
    FixEveryone,
    /// Staff get the list of those who have not answered.
    Silent,
    /// The coach hears who may not wear a helmet.
    Availability,
}

impl Step {
    /// The word for it in natural keys.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Check => "check",
            Self::Nudge => "nudge",
            Self::FixList => "fix-list",
            Self::FixAgain => "fix-again",
            Self::FixSecond => "fix-second",
            Self::FixEveryone => "fix-everyone",
            Self::Silent => "silent",
            Self::Availability => "availability",
        }
    }
}

/// A step with its time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due<'a> {
    /// Which step.
    pub step: Step,
    /// For which event; a check is for the first of the day.
    pub event: &'a Event,
    /// When it is due.
    pub at: Moment,
    /// From when on it is of no use any more.
    pub until: Moment,
}

impl Due<'_> {
    /// Natural key: kind, subject and day.
    #[must_use]
    pub fn key(&self) -> String {
        let date = self.event.date;
        match self.step {
            Step::Check | Step::Nudge => format!("{}/{}/{date}", self.step.name(), self.event.team),
            _ => format!("{}/{}/{date}", self.step.name(), self.event.id),
        }
    }
}

/// How much a check's texts load the sending number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// Segments to send.
    pub segments: u32,
    /// Segments a second; 0 is unlimited.
    pub per_second: f64,
}

impl Load {
    /// How long sending takes, in whole seconds.
    #[must_use]
    pub fn takes(self) -> TimeDelta {
        if self.per_second <= 0.0 {
            return TimeDelta::zero();
        }
        #[expect(clippy::cast_possible_truncation, reason = "seconds of a morning")]
        TimeDelta::seconds((f64::from(self.segments) / self.per_second).ceil() as i64)
    }
}

/// The steps of one team's day, from its events of that day. Events that are called off, or without helmets, have none.
#[must_use]
pub fn day<'a>(events: &[&'a Event], times: &TeamTimes, zone: Tz, load: Load) -> Vec<Due<'a>> {
    let mut worn: Vec<&'a Event> = events.iter().copied().filter(|event| event.helmets && !event.cancelled).collect();
    worn.sort_by_key(|event| (event.starts_at, event.id.clone()));
    let mut due = Vec::new();
    if let Some(first) = worn.first() {
        due.extend(check_steps(first, times, zone, load));
    }
    for event in worn {
        let list = times.fix_list_before.span();
        let lists = [
            (Step::FixList, list),
            // What nobody takes climbs while there is still time to fix it.
            (Step::FixAgain, list * 2 / 3),
            (Step::FixSecond, list / 2),
            (Step::FixEveryone, list / 3),
            (Step::Silent, times.silent_before.span()),
            (Step::Availability, times.availability_before.span()),
        ];
        due.extend(lists.into_iter().map(|(step, before)| Due {
            step,
            event,
            at: after_quiet(event.starts_at.minus(before), times.quiet, zone),
            until: event.starts_at,
        }));
    }
    due
}

fn check_steps<'a>(event: &'a Event, times: &TeamTimes, zone: Tz, load: Load) -> [Due<'a>; 2] {
    /// An early event pulls a check that is set to a clock time forward: this long stays to answer it.
    const TIME_TO_ANSWER: TimeDelta = TimeDelta::minutes(60);
    let until = event.starts_at.minus(times.check_closes_before.span());
    let wanted = match times.check {
        When::At(time) => resolve(event.date.and_time(time), zone).min(until.minus(TIME_TO_ANSWER)),
        When::Before(lead) => event.starts_at.minus(lead),
    };
    let wanted = after_quiet(wanted, times.quiet, zone);
    let over = (load.takes() - times.spread.span()).max(TimeDelta::zero());
    let at = after_quiet(wanted.minus(over), times.quiet, zone);
    let nudge = after_quiet(wanted.plus(times.nudge_after.span()), times.quiet, zone);
    [Due { step: Step::Check, event, at, until }, Due { step: Step::Nudge, event, at: nudge, until }]
}

/// The steps of many events, grouped by team and day. `load` is asked for each team.
pub fn steps<'a>(
    events: &'a [Event],
    zone: Tz,
    times: impl Fn(&TeamId) -> Option<TeamTimes>,
    load: impl Fn(&TeamId) -> Load,
) -> Vec<Due<'a>> {
    let mut days: BTreeMap<(&TeamId, NaiveDate), Vec<&Event>> = BTreeMap::new();
    for event in events {
        days.entry((&event.team, event.date)).or_default().push(event);
    }
    let mut due: Vec<Due<'_>> = days
        .into_iter()
        .filter_map(|((team, _), events)| Some(day(&events, &times(team)?, zone, load(team))))
        .flatten()
        .collect();
    due.sort_by_key(|due| (due.at, due.step, due.event.id.clone()));
    due
}

/// This moment, or the end of the quiet hours it falls in.
#[must_use]
pub fn after_quiet(at: Moment, quiet: QuietHours, zone: Tz) -> Moment {
    let local = at.local(zone);
    if !quiet.covers(local.time()) {
        return at;
    }
    let today = resolve(local.date().and_time(quiet.until), zone);
    if today >= at {
        return today;
    }
    resolve((local.date() + TimeDelta::days(1)).and_time(quiet.until), zone)
}

/// How far up the ladder of alerts an unacknowledged body report should be by now: 1 the trainer on duty, 2 again, 3 the
/// next trainer, 4 every trainer. What was acknowledged, or is not pressing, stays where it is.
#[must_use]
pub fn alert_rung(item: &Item, again_after: Minutes, now: Moment) -> i64 {
    if item.queue != Queue::Medical || item.state != ItemState::Open {
        return item.alerts;
    }
    if !is_pressing(item) {
        return item.alerts.max(1);
    }
    let waited = now.since(item.opened_at);
    let rung = if waited >= again_after.span() * 2 {
        4
    } else if waited >= again_after.span() * 3 / 2 {
        3
    } else if waited >= again_after.span() {
        2
    } else {
        1
    };
    item.alerts.max(rung)
}

/// Whether a body report climbs the ladder: a possible concussion sign, or "I don't feel right" with nothing more said.
#[must_use]
pub fn is_pressing(item: &Item) -> bool {
    item.red_flag || item.flags.contains(Flag::Symptom) || item.flags.contains(Flag::Unwell)
}

/// When the next rung is due, if there is one.
#[must_use]
pub fn next_rung_at(item: &Item, again_after: Minutes) -> Option<Moment> {
    if item.queue != Queue::Medical || item.state != ItemState::Open || !is_pressing(item) {
        return None;
    }
    match item.alerts {
        0 => Some(item.opened_at),
        1 => Some(item.opened_at.plus(again_after.span())),
        2 => Some(item.opened_at.plus(again_after.span() * 3 / 2)),
        3 => Some(item.opened_at.plus(again_after.span() * 2)),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
