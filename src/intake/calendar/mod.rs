//! Practice calendars: iCalendar files (RFC 5545) to the events of each team.
//!
//! Lines and components come from [`lines`], values from [`value`], zones from [`zone`], repeats from [`recur`], what a
//! summary says about kind and helmets from [`words`], events from [`occurrences`]. Rules are expanded on local wall
//! time and each occurrence is then placed by [`crate::trade::time::resolve`], so that a time which daylight saving
//! skips is kept and counted (RFC 5545 section 3.3.5 and erratum 4271).
//!
//! An event's identifier is its UID; for a repeating one, with the date that the rule gave it (`UID/20260901`), so that
//! a moved occurrence, and a series moved to another hour, keep theirs.

mod entry;
mod lines;
mod occurrences;
mod recur;
mod value;
mod words;
mod zone;

use std::collections::{BTreeMap, BTreeSet};

use self::entry::Entry;
use self::lines::Component;
use super::cell::{find_team, team_names};
use super::{Dataset, Fault, Findings, Frame, SourceFile, last_part, text};
use crate::trade::roster::{EventId, TeamId};

/// One calendar file while it is read.
struct Calendar<'a> {
    file: &'a str,
    source: String,
    frame: &'a Frame<'a>,
    zones: zone::Zones,
    /// The team of the whole file, by its own name or by the file's.
    team: Option<TeamId>,
    /// Everything in it is cancelled (METHOD:CANCEL).
    cancelled: bool,
}

/// Reads the calendar files into `data`.
pub(super) fn read(files: &[&SourceFile], frame: &Frame<'_>, data: &mut Dataset, found: &mut Findings) {
    let mut taken: BTreeMap<EventId, String> = data.events.iter().map(|e| (e.id.clone(), e.source.clone())).collect();
    for file in files {
        let source = last_part(&file.name).to_lowercase();
        let mut uids = BTreeSet::new();
        for event in read_file(file, &source, frame, &mut uids, found) {
            if let Some(other) = taken.insert(event.id.clone(), source.clone()) {
                let fault = Fault::new(
                    format!("the event `{}` is in {other} too", event.id),
                    "keep it in one of the two files",
                );
                found.problem(&file.name, 1, 1, fault);
                continue;
            }
            data.events.push(event);
        }
        data.scope.calendars.insert(source, uids);
    }
}

fn read_file(
    file: &SourceFile,
    source: &str,
    frame: &Frame<'_>,
    uids: &mut BTreeSet<String>,
    found: &mut Findings,
) -> Vec<crate::trade::roster::Event> {
    let decoded = match text::decode(&file.bytes) {
        Ok(decoded) => decoded,
        Err(fault) => {
            found.problem(&file.name, 1, 1, fault);
            return Vec::new();
        }
    };
    let components = lines::read(&decoded.text, &file.name, found);
    let mut events = Vec::new();
    for component in components.iter().filter(|component| component.name == "VCALENDAR") {
        let calendar = Calendar::new(file, source, component, frame, found);
        let entries = entry::read_all(&calendar, component, found);
        uids.extend(entries.iter().filter(|entry| entry.is_whole()).map(|entry| entry.uid.clone()));
        calendar.check_teams(&entries, found);
        events.extend(occurrences::events(&calendar, entries, found));
    }
    if !components.iter().any(|component| component.name == "VCALENDAR") {
        let fault = Fault::new("this is not a calendar", "export it again as iCalendar (.ics)");
        found.problem(&file.name, 1, 1, fault);
    }
    events
}

impl<'a> Calendar<'a> {
    fn new(
        file: &'a SourceFile,
        source: &str,
        component: &Component,
        frame: &'a Frame<'a>,
        found: &mut Findings,
    ) -> Self {
        let stem = source.strip_suffix(".ics").unwrap_or(source);
        let name = component.text("X-WR-CALNAME");
        let mut team = name.and_then(|name| find_team(name, frame)).or_else(|| find_team(stem, frame));
        if let (None, [(only, _)]) = (&team, frame.teams) {
            found.note(&file.name, None, format!("names no team; taken for `{only}`, the only one"));
            team = Some(only.clone());
        }
        if let Some(zone) = component.text("X-WR-TIMEZONE").filter(|zone| *zone != frame.zone.name()) {
            let what = format!("says it is shown in {zone}; times without a zone are taken in {}", frame.zone.name());
            found.note(&file.name, None, what);
        }
        let cancelled = component.text("METHOD").is_some_and(|method| method.eq_ignore_ascii_case("CANCEL"));
        let zones = zone::Zones::new(component);
        Self { file: &file.name, source: source.to_owned(), frame, zones, team, cancelled }
    }

    /// Notes one problem for all entries whose team nothing names.
    fn check_teams(&self, entries: &[Entry], found: &mut Findings) {
        let mut homeless = entries.iter().filter(|entry| entry.teams.is_empty());
        if self.team.is_some() {
            return;
        }
        if let Some(first) = homeless.next() {
            let what = format!("nothing says which team this is for ({} entries)", homeless.count() + 1);
            let mend = format!(
                "name the file or the calendar after a team, or give each entry one as a category: {}",
                team_names(self.frame)
            );
            found.problem(self.file, first.line, 1, Fault::new(what, mend));
        }
    }
}
