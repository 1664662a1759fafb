//! One VEVENT with its values read: still a rule or a change to one, not yet events on days.

use chrono::TimeDelta;

use super::super::{Fault, Findings};
use super::Calendar;
use super::lines::{Component, Property};
use super::recur::Rule;
use super::value::{self, When, Zoned};
use super::words::{self, Told};
use crate::trade::roster::TeamId;
use crate::trade::time::{Moment, resolve};

/// A calendar entry.
#[derive(Debug)]
pub(super) struct Entry {
    pub(super) uid: String,
    pub(super) line: u64,
    pub(super) start: When,
    pub(super) rules: Vec<Placed<Rule>>,
    pub(super) added: Vec<Placed<When>>,
    pub(super) removed: Vec<Placed<When>>,
    pub(super) changes: Option<Placed<When>>,
    /// The change holds for all later occurrences too.
    pub(super) following: bool,
    pub(super) cancelled: bool,
    pub(super) summary: String,
    pub(super) place: Option<String>,
    pub(super) told: Told,
    pub(super) teams: Vec<TeamId>,
    sequence: i64,
    length: Option<Length>,
}

/// A value with the line it stands on.
#[derive(Debug, Clone)]
pub(super) struct Placed<T> {
    pub(super) value: T,
    pub(super) line: u64,
}

/// From start to end.
#[derive(Debug, Clone, Copy)]
enum Length {
    /// On the wall clock.
    Wall(TimeDelta),
    /// Elapsed.
    Exact(TimeDelta),
}

impl Entry {
    /// The end of an occurrence that starts so.
    pub(super) fn ends_at(&self, start: Zoned) -> Option<Moment> {
        match self.length? {
            Length::Wall(length) => Some(resolve(start.local.checked_add_signed(length)?, start.zone)),
            Length::Exact(length) => Some(start.moment().plus(length)),
        }
    }

    /// Whether this is the entry itself and not a change to an occurrence, and has a time: a file that holds it tells
    /// all its occurrences.
    pub(super) fn is_whole(&self) -> bool {
        self.changes.is_none() && matches!(self.start, When::Time(_))
    }

    /// Whether this entry replaces an earlier one for the same thing.
    pub(super) fn supersedes(&self, earlier: &Self) -> bool {
        self.sequence >= earlier.sequence
    }

    /// The summary for notes.
    pub(super) fn title(&self) -> &str {
        if self.summary.is_empty() { &self.uid } else { &self.summary }
    }
}

/// Reads the entries of a calendar; those with problems are left out.
pub(super) fn read_all(calendar: &Calendar<'_>, component: &Component, found: &mut Findings) -> Vec<Entry> {
    let events = component.children.iter().filter(|child| child.name == "VEVENT");
    events.filter_map(|event| Reader { calendar, event, found }.entry()).collect()
}

struct Reader<'a, 'f> {
    calendar: &'a Calendar<'a>,
    event: &'a Component,
    found: &'f mut Findings,
}

impl Reader<'_, '_> {
    fn entry(mut self) -> Option<Entry> {
        let event = self.event;
        let uid = event.text("UID").map(str::to_owned);
        if uid.is_none() {
            let mend = "export the calendar from a program that writes them";
            self.problem(event.line, Fault::new("the entry has no UID", mend));
        }
        let start = self.start();
        let rules = self.rules();
        let added = self.dates("RDATE");
        let removed = self.dates("EXDATE");
        let (changes, following) = self.changes(&rules);
        let (uid, start) = (uid?, start?);
        let length = self.length(start);
        let categories: Vec<_> = event.all("CATEGORIES").flat_map(|property| value::list(&property.value)).collect();
        let summary = event.text("SUMMARY").map(super::super::cell::clean).unwrap_or_default();
        Some(Entry {
            line: event.line,
            told: words::tell(&categories, &summary),
            teams: words::teams(&categories, self.calendar.frame),
            cancelled: self.calendar.cancelled || self.says("STATUS", "CANCELLED"),
            place: event.text("LOCATION").map(super::super::cell::clean).filter(|place| !place.is_empty()),
            sequence: event.text("SEQUENCE").and_then(|text| text.parse().ok()).unwrap_or(0),
            uid,
            start,
            rules,
            added,
            removed,
            changes,
            following,
            summary,
            length,
        })
    }

    fn start(&mut self) -> Option<When> {
        if let Some(property) = self.event.property("DTSTART") {
            return self.value(property, value::when);
        }
        let fault = Fault::new("the entry has no DTSTART", "give it a start and export it again");
        self.problem(self.event.line, fault);
        None
    }

    /// The occurrence that the entry changes, and whether it changes all later ones too.
    fn changes(&mut self, rules: &[Placed<Rule>]) -> (Option<Placed<When>>, bool) {
        let Some(property) = self.event.property("RECURRENCE-ID") else {
            return (None, false);
        };
        if let Some(rule) = rules.first() {
            let what = "a changed occurrence repeats by a rule of its own";
            let fault = Fault::new(what, "make it an event of its own in the calendar program");
            self.problem(rule.line, fault);
        }
        let range = property.parameter("RANGE");
        let following = range.is_some_and(|range| range.eq_ignore_ascii_case("THISANDFUTURE"));
        let value = self.value(property, value::when);
        (value.map(|value| Placed { value, line: property.line }), following)
    }

    fn says(&self, name: &str, wanted: &str) -> bool {
        self.event.text(name).is_some_and(|text| text.eq_ignore_ascii_case(wanted))
    }

    fn problem(&mut self, line: u64, fault: Fault) {
        self.found.problem(self.calendar.file, line, 1, fault);
    }

    fn value<T>(&mut self, property: &Property, parse: fn(&Property, &Calendar<'_>) -> Result<T, Fault>) -> Option<T> {
        parse(property, self.calendar).map_err(|fault| self.problem(property.line, fault)).ok()
    }

    fn rules(&mut self) -> Vec<Placed<Rule>> {
        if let Some(rule) = self.event.property("EXRULE") {
            let what = "EXRULE is not read (RFC 5545 dropped it)";
            self.problem(rule.line, Fault::new(what, "remove single dates instead"));
        }
        let mut rules = Vec::new();
        for property in self.event.all("RRULE") {
            match Rule::parse(&property.value) {
                Ok(value) => rules.push(Placed { value, line: property.line }),
                Err(fault) => self.problem(property.line, fault),
            }
        }
        rules
    }

    fn dates(&mut self, name: &str) -> Vec<Placed<When>> {
        let mut dates = Vec::new();
        for property in self.event.all(name) {
            let line = property.line;
            let values = self.value(property, value::whens).unwrap_or_default();
            dates.extend(values.into_iter().map(|value| Placed { value, line }));
        }
        dates
    }

    fn length(&mut self, start: When) -> Option<Length> {
        let When::Time(start) = start else {
            return None;
        };
        if let Some(property) = self.event.property("DTEND") {
            let When::Time(end) = self.value(property, value::when)? else {
                return None;
            };
            let wall = end.local.signed_duration_since(start.local);
            let exact = end.moment().since(start.moment());
            if exact < TimeDelta::zero() {
                self.problem(property.line, Fault::new("the entry ends before it starts", "correct one of the two"));
            }
            let length = if end.zone == start.zone { Length::Wall(wall) } else { Length::Exact(exact) };
            return (exact > TimeDelta::zero()).then_some(length);
        }
        let property = self.event.property("DURATION")?;
        let length = value::duration(&property.value).map_err(|fault| self.problem(property.line, fault)).ok()?;
        (length > TimeDelta::zero()).then_some(Length::Exact(length))
    }
}
