//! From entries to events: each series expanded, with its additions, removals and changed occurrences.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};

use super::super::{Fault, Findings, LOOK_BACK_DAYS, Note, days};
use super::Calendar;
use super::entry::{Entry, Placed};
use super::recur::Rule;
use super::value::{When, Zoned};
use crate::trade::roster::{Event, EventId};
use crate::trade::time::Moment;

/// Events of one calendar file before it is refused.
const MOST_EVENTS: usize = 20_000;

/// The events of a calendar within the span of the import.
pub(super) fn events(calendar: &Calendar<'_>, entries: Vec<Entry>, found: &mut Findings) -> Vec<Event> {
    let mut by_uid: BTreeMap<String, Series> = BTreeMap::new();
    for entry in entries {
        by_uid.entry(entry.uid.clone()).or_default().add(entry, calendar, found);
    }
    let mut expander = Expander { calendar, found, events: Vec::new(), said: BTreeSet::new() };
    for series in by_uid.values() {
        expander.series(series);
        if expander.events.len() > MOST_EVENTS {
            let fault =
                Fault::new(format!("the calendar gives more than {MOST_EVENTS} events"), "give its repeats an end");
            expander.found.problem(calendar.file, 1, 1, fault);
            break;
        }
    }
    expander.events
}

/// What one UID stands for: the entry itself, and changes to occurrences of it.
#[derive(Default)]
struct Series {
    master: Option<Entry>,
    changes: Vec<Entry>,
}

impl Series {
    fn add(&mut self, entry: Entry, calendar: &Calendar<'_>, found: &mut Findings) {
        let same = |other: &&mut Entry| {
            let place = |entry: &Entry| entry.changes.as_ref().map(|change| (change.value, entry.following));
            place(other) == place(&entry)
        };
        let earlier = match entry.changes {
            None => self.master.as_mut(),
            Some(_) => self.changes.iter_mut().find(same),
        };
        match (earlier, &entry.changes) {
            (Some(earlier), _) => {
                let what = format!("`{}` is in the file twice; the later version counts", entry.title());
                found.note(calendar.file, Some(entry.line), what);
                if entry.supersedes(earlier) {
                    *earlier = entry;
                }
            }
            (None, None) => self.master = Some(entry),
            (None, Some(_)) => self.changes.push(entry),
        }
    }
}

/// An occurrence before changes: its local start as the series gives it.
#[derive(Clone, Copy)]
struct Original {
    start: Zoned,
    /// Another occurrence of the series falls on the same date.
    shared_date: bool,
}

struct Expander<'a, 'f> {
    calendar: &'a Calendar<'a>,
    found: &'f mut Findings,
    events: Vec<Event>,
    said: BTreeSet<Note>,
}

impl Expander<'_, '_> {
    fn series(&mut self, series: &Series) {
        let zone = series.master.as_ref().and_then(|master| match master.start {
            When::Time(start) => Some(start.zone),
            When::Day(_) => None,
        });
        let originals = match &series.master {
            Some(master) => {
                let Some(starts) = self.originals(master) else {
                    return;
                };
                starts
            }
            None => Vec::new(),
        };
        let mut used = vec![false; series.changes.len()];
        for original in &originals {
            let changed = single_change(series, original.start);
            if let Some(place) = changed {
                used[place] = true;
            }
            let removed = series.master.as_ref().is_some_and(|master| is_removed(master, original.start));
            match (changed.and_then(|place| series.changes.get(place)), &series.master) {
                (Some(change), _) => self.emit_change(series, change, *original),
                (None, Some(master)) if !removed => {
                    let (entry, start) = following_change(series, original.start).unwrap_or((master, original.start));
                    self.emit(series, entry, *original, start);
                }
                _ => {}
            }
        }
        // Changes of occurrences that the rule does not give, or whose series is in another file.
        for (change, used) in series.changes.iter().zip(used) {
            if used || (change.following && series.master.is_some()) {
                continue;
            }
            if let Some(original) = original_of(change, zone) {
                self.emit_change(series, change, original);
            }
        }
    }

    /// The occurrences that the entry and its rules give, removed ones included; none when it cannot be timed.
    fn originals(&mut self, master: &Entry) -> Option<Vec<Original>> {
        let start = match master.start {
            When::Time(start) => start,
            When::Day(_) => {
                if !master.cancelled {
                    self.note(master.line, format!("`{}` is all day and has no time; not taken", master.title()));
                }
                return None;
            }
        };
        let mut starts = if master.rules.is_empty() { vec![start.local] } else { Vec::new() };
        for rule in &master.rules {
            starts.extend(self.expand(master, rule, start));
        }
        starts.extend(self.additions(master, start));
        starts.sort_unstable();
        starts.dedup();
        self.note_idle_removals(master, &starts, start);
        let mut on_date: BTreeMap<NaiveDate, usize> = BTreeMap::new();
        for local in &starts {
            *on_date.entry(local.date()).or_default() += 1;
        }
        let original = |local: NaiveDateTime| Original {
            start: Zoned { local, zone: start.zone },
            shared_date: on_date.get(&local.date()).is_some_and(|count| *count > 1),
        };
        Some(starts.into_iter().map(original).collect())
    }

    fn expand(&mut self, master: &Entry, rule: &Placed<Rule>, start: Zoned) -> Vec<NaiveDateTime> {
        let title = master.title();
        if rule.value.ends_on_a_day() {
            self.note(rule.line, "the rule ends on a day; that day's occurrence is taken");
        }
        if start.zone == chrono_tz::Tz::UTC {
            self.note(rule.line, "repeats in UTC: its local time moves at daylight saving");
        }
        match rule.value.expand(start, self.window_end()) {
            Ok(expansion) => {
                if expansion.starts.is_empty() {
                    self.note(rule.line, format!("`{title}` ends before it starts; nothing is taken"));
                } else if expansion.irregular {
                    let what = "starts on a day that its rule does not give; both are taken";
                    self.note(rule.line, format!("`{title}` {what}"));
                }
                expansion.starts
            }
            Err(fault) => {
                self.found.problem(self.calendar.file, rule.line, 1, fault);
                Vec::new()
            }
        }
    }

    fn additions(&mut self, master: &Entry, start: Zoned) -> Vec<NaiveDateTime> {
        let mut starts = Vec::new();
        for added in &master.added {
            match added.value {
                When::Time(time) => starts.push(local_in(time, start)),
                When::Day(day) => self.note(added.line, format!("the added {day} has no time; not taken")),
            }
        }
        starts
    }

    fn note_idle_removals(&mut self, master: &Entry, starts: &[NaiveDateTime], start: Zoned) {
        for removed in &master.removed {
            let hits = |local: &NaiveDateTime| removes(&removed.value, Zoned { local: *local, zone: start.zone });
            let (what, moment) = match removed.value {
                When::Day(day) => {
                    (day.to_string(), Zoned { local: day.and_time(start.local.time()), zone: start.zone }.moment())
                }
                When::Time(time) => (time.local.to_string(), time.moment()),
            };
            // Beyond the span the rule was not followed, and behind it nothing is decided any more.
            let within = moment >= self.calendar.frame.now && moment <= self.window_end();
            if within && !starts.iter().any(hits) {
                self.note(
                    removed.line,
                    format!("`{}`: the removed {what} is no occurrence; nothing is removed", master.title()),
                );
            }
        }
    }

    /// An occurrence that has an entry of its own.
    fn emit_change(&mut self, series: &Series, change: &Entry, original: Original) {
        let start = match change.start {
            When::Time(start) => start,
            When::Day(day) => {
                let what = format!("`{}` was changed to all day; its time is kept", change.title());
                self.note(change.line, what);
                Zoned { local: day.and_time(original.start.local.time()), zone: original.start.zone }
            }
        };
        self.emit(series, change, original, start);
    }

    fn emit(&mut self, series: &Series, entry: &Entry, original: Original, start: Zoned) {
        let moment = start.moment();
        let window_start = self.calendar.frame.now.minus(days(LOOK_BACK_DAYS));
        if moment < window_start || moment > self.window_end() {
            return;
        }
        self.note_what_was_made(entry, start, moment);
        let id = identifier(series, entry, original);
        let teams =
            if entry.teams.is_empty() { self.calendar.team.clone().into_iter().collect() } else { entry.teams.clone() };
        let frame = self.calendar.frame;
        for team in &teams {
            let id = if teams.len() > 1 { format!("{id}/{team}") } else { id.clone() };
            self.events.push(Event {
                program: frame.program.clone(),
                id: EventId(id),
                team: team.clone(),
                kind: entry.told.kind,
                starts_at: moment,
                ends_at: entry.ends_at(start),
                date: moment.date(frame.zone),
                place: entry.place.clone(),
                helmets: entry.told.helmets,
                cancelled: entry.cancelled,
                source: self.calendar.source.clone(),
            });
        }
    }

    fn note_what_was_made(&mut self, entry: &Entry, start: Zoned, moment: Moment) {
        if moment.local(start.zone) != start.local {
            let what = format!("daylight saving skips {}; taken as {}", start.local, moment.local(start.zone));
            self.note(entry.line, what);
        }
        if let Some(word) = &entry.told.game_by {
            self.note(entry.line, format!("`{}` is taken as a game ({word})", entry.title()));
        }
        if let Some(word) = &entry.told.bare_by {
            self.note(entry.line, format!("`{}` is taken as without helmets ({word})", entry.title()));
        }
    }

    fn note(&mut self, line: u64, what: impl Into<String>) {
        let note = Note { file: self.calendar.file.to_owned(), line: Some(line), what: what.into() };
        // A series would say the same of each occurrence.
        if self.said.insert(note.clone()) {
            self.found.notes.push(note);
        }
    }

    fn window_end(&self) -> Moment {
        self.calendar.frame.now.plus(days(self.calendar.frame.horizon_days))
    }
}

/// The UID, with the date that the series gave the occurrence, and the time where it gave two on that date.
fn identifier(series: &Series, entry: &Entry, original: Original) -> String {
    let repeats = series.changes.iter().any(|change| change.changes.is_some())
        || series.master.as_ref().is_some_and(|master| !master.rules.is_empty() || !master.added.is_empty());
    let local = original.start.local;
    match (repeats, original.shared_date) {
        (false, _) => entry.uid.clone(),
        (true, false) => format!("{}/{}", entry.uid, local.format("%Y%m%d")),
        (true, true) => format!("{}/{}", entry.uid, local.format("%Y%m%dT%H%M")),
    }
}

/// A moment as local time of the series.
fn local_in(time: Zoned, series: Zoned) -> NaiveDateTime {
    if time.zone == series.zone { time.local } else { time.moment().local(series.zone) }
}

/// Whether a date or time names this occurrence; a date names every occurrence on it.
fn removes(when: &When, start: Zoned) -> bool {
    match when {
        When::Day(day) => start.local.date() == *day,
        When::Time(time) => time.moment() == start.moment(),
    }
}

fn is_removed(master: &Entry, start: Zoned) -> bool {
    master.removed.iter().any(|removed: &Placed<When>| removes(&removed.value, start))
}

/// The change made to this one occurrence.
fn single_change(series: &Series, start: Zoned) -> Option<usize> {
    let is_for = |entry: &Entry| entry.changes.as_ref().is_some_and(|change| removes(&change.value, start));
    series.changes.iter().position(|entry| !entry.following && is_for(entry))
}

/// The latest change that holds from an occurrence on, and where it moves this one: all by the same wall time
/// (RFC 5545 section 3.2.13). One that names only a day changes no time.
fn following_change(series: &Series, start: Zoned) -> Option<(&Entry, Zoned)> {
    let from = |entry: &Entry| match entry.changes.as_ref()?.value {
        When::Time(time) => Some(local_in(time, start)),
        When::Day(day) => Some(day.and_time(start.local.time())),
    };
    let holds = series.changes.iter().filter(|entry| entry.following);
    let (local, entry) = holds
        .filter_map(|entry| Some((from(entry)?, entry)))
        .filter(|(local, _)| *local <= start.local)
        .max_by_key(|(local, _)| *local)?;
    let When::Time(time) = entry.start else {
        return Some((entry, start));
    };
    let shift = time.local.signed_duration_since(local);
    let local = start.local.checked_add_signed(shift)?;
    Some((entry, Zoned { local, zone: time.zone }))
}

/// The occurrence that a change without its series is about.
fn original_of(change: &Entry, zone: Option<chrono_tz::Tz>) -> Option<Original> {
    let start = match (change.changes.as_ref()?.value, change.start) {
        (When::Time(time), _) => {
            let zone = zone.unwrap_or(time.zone);
            Zoned { local: time.moment().local(zone), zone }
        }
        (When::Day(day), When::Time(time)) => Zoned { local: day.and_time(time.local.time()), zone: time.zone },
        (When::Day(_), When::Day(_)) => return None,
    };
    Some(Original { start, shared_date: false })
}
