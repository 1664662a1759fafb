//! Practices and games from events.csv, in the program's local time.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};

use super::cell::{self, slug};
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, Frame, SourceFile, last_part, when};
use crate::trade::roster::{Event, EventId, EventKind, TeamId};
use crate::trade::time::{Moment, resolve};

pub(super) static EVENTS: [Column; 10] = [
    column("id", &["eventid"]),
    column("team", &["squad", "level", "equipo"]),
    column("kind", &["type", "event", "eventtype", "tipo"]),
    column("date", &["day", "eventdate", "fecha"]),
    column("start", &["starttime", "starts", "begin", "time", "from", "hora", "inicio"]),
    column("end", &["endtime", "ends", "until", "to", "fin"]),
    column("place", &["location", "where", "field", "venue", "lugar"]),
    column("helmets", &["helmet", "helmetsworn", "cascos"]),
    column("status", &["estado"]),
    column("cancelled", &["canceled", "calledoff"]),
];

struct Row<'t> {
    record: Record<'t>,
    given: Option<String>,
    event: Event,
}

/// Reads events.csv.
pub(super) fn read(file: &SourceFile, frame: &Frame<'_>, found: &mut Findings) -> Vec<Event> {
    let table = Table::read(file, &EVENTS, found);
    let mut needed = vec!["date", "start"];
    if frame.teams.len() > 1 {
        needed.push("team");
    }
    if !table.require(&needed, found) {
        return Vec::new();
    }
    let mut rows: Vec<_> = table.records().filter_map(|record| row(record, frame, found)).collect();
    identify(&mut rows, frame, found);
    rows.into_iter().map(|row| row.event).collect()
}

fn row<'t>(record: Record<'t>, frame: &Frame<'_>, found: &mut Findings) -> Option<Row<'t>> {
    let given = record.read("id", found, cell::id);
    let team = team(record, frame, found);
    let kind = record.read("kind", found, cell::kind).unwrap_or(EventKind::Practice);
    let date = needed(record, "date", found, when::date);
    let start = needed(record, "start", found, when::time);
    let end = record.read("end", found, when::time);
    let helmets = record.read("helmets", found, cell::yes).unwrap_or(true);
    let cancelled = record.read("status", found, cell::cancelled).unwrap_or(false)
        || record.read("cancelled", found, cell::yes).unwrap_or(false);
    let (team, date, start) = (team?, date?, start?);
    if end.is_some_and(|end| end <= start) {
        let fault = Fault::new("the end is not after the start", "correct one of the two times");
        record.problem("end", fault, found);
    }
    let starts_at = moment(record, date, start, frame, found);
    let event = Event {
        program: frame.program.clone(),
        id: EventId(String::new()),
        team,
        kind,
        starts_at,
        ends_at: end.map(|end| resolve(date.and_time(end), frame.zone)),
        date: starts_at.date(frame.zone),
        place: record.owned("place"),
        helmets,
        cancelled,
        source: last_part(record.file()).to_lowercase(),
    };
    Some(Row { record, given, event })
}

fn team(record: Record<'_>, frame: &Frame<'_>, found: &mut Findings) -> Option<TeamId> {
    match (record.text("team"), frame.teams) {
        (None, [(only, _)]) => Some(only.clone()),
        _ => needed(record, "team", found, |text| cell::team(text, frame)),
    }
}

fn needed<T>(
    record: Record<'_>,
    name: &'static str,
    found: &mut Findings,
    parse: impl FnOnce(&str) -> Result<T, Fault>,
) -> Option<T> {
    if record.text(name).is_none() {
        record.problem(name, Fault::new(format!("no {name}"), "write it, or remove the row"), found);
    }
    record.read(name, found, parse)
}

fn moment(record: Record<'_>, date: NaiveDate, start: NaiveTime, frame: &Frame<'_>, found: &mut Findings) -> Moment {
    let local: NaiveDateTime = date.and_time(start);
    let moment = resolve(local, frame.zone);
    if moment.local(frame.zone) != local {
        let what = format!("daylight saving skips {start} that day; taken as {}", moment.local(frame.zone).time());
        record.note(what, found);
    }
    moment
}

/// Gives identifiers: the row's own, or team, kind and date; with the start behind it where that names two.
fn identify(rows: &mut [Row<'_>], frame: &Frame<'_>, found: &mut Findings) {
    let day = |event: &Event| {
        let kind = if event.kind == EventKind::Game { "game" } else { "practice" };
        format!("{}-{kind}-{}", slug(event.team.as_str()), event.date)
    };
    let mut days: BTreeMap<String, usize> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.given.is_none()) {
        *days.entry(day(&row.event)).or_default() += 1;
    }
    let mut taken = BTreeMap::new();
    for row in rows {
        let derived = || {
            let day = day(&row.event);
            let alone = days.get(&day).is_none_or(|count| *count < 2);
            let start = row.event.starts_at.local(frame.zone).format("%H%M");
            if alone { day } else { format!("{day}-{start}") }
        };
        let id = row.given.clone().unwrap_or_else(derived);
        if let Some(line) = taken.insert(id.clone(), row.record.line()) {
            let fault = Fault::new(
                format!("the event `{id}` is on line {line} already"),
                "remove one of the two rows, or tell them apart in a column `id`",
            );
            row.record.problem("id", fault, found);
        }
        row.event.id = EventId(id);
    }
}

/// Notes two events of one team at one moment: most often one practice told by two files.
pub(super) fn note_overlaps(events: &[Event], found: &mut Findings) {
    let mut seen: BTreeMap<(&TeamId, Moment), &Event> = BTreeMap::new();
    for event in events.iter().filter(|event| !event.cancelled) {
        if let Some(other) = seen.insert((&event.team, event.starts_at), event) {
            let what = format!(
                "`{}` and `{}` of {} are two events of {} at the same time",
                other.id, event.id, other.source, event.team
            );
            found.note(&event.source, None, what);
        }
    }
}
