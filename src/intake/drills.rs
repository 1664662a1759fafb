//! Drills that were held, and venues.

use std::collections::BTreeMap;

use super::cell::{self, key};
use super::consent::not_after_today;
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, Frame, SourceFile, when};
use crate::trade::drill::{Drill, Part, Position, Skill, Venue};
use crate::trade::roster::{StaffId, StaffMember};

pub(super) static DRILLS: [Column; 7] = [
    column("date", &["day", "on", "fecha"]),
    column("skill", &["drill", "what", "rehearsed"]),
    column("people", &["who", "staff", "participants", "personas"]),
    column("place", &["venue", "location", "where", "lugar"]),
    column("models", &["model", "helmets", "helmetmodels", "modelos"]),
    column("seconds", &["time", "timeseconds", "segundos"]),
    column("notes", &["note", "comment", "comments", "notas"]),
];

pub(super) static VENUES: [Column; 7] = [
    column("name", &["venue", "place", "lugar"]),
    column("address", &["streetaddress", "direccion"]),
    column("entrance", &["ambulanceentrance", "ambulance", "gate", "entrada"]),
    column("aed", &["aedplace", "defibrillator", "dea"]),
    column("kit", &["kitplace", "sidelinekit"]),
    column("hospital", &["receivinghospital"]),
    column("notes", &["note", "comments", "hazards", "notas"]),
];

/// Reads drills.csv.
pub(super) fn read(file: &SourceFile, frame: &Frame<'_>, staff: &[StaffMember], found: &mut Findings) -> Vec<Drill> {
    let table = Table::read(file, &DRILLS, found);
    let mut drills: Vec<Drill> = Vec::new();
    if !table.require(&["date", "skill", "people"], found) {
        return drills;
    }
    let mut counted: BTreeMap<String, usize> = BTreeMap::new();
    for record in table.records() {
        let Some(mut drill) = drill(record, frame, staff, found) else { continue };
        let nth = counted.entry(drill.id.clone()).or_default();
        *nth += 1;
        drill.id = format!("{}/csv-{nth}", drill.id);
        drills.push(drill);
    }
    drills
}

fn drill(record: Record<'_>, frame: &Frame<'_>, staff: &[StaffMember], found: &mut Findings) -> Option<Drill> {
    for name in ["date", "skill", "people"] {
        if record.text(name).is_none() {
            record.problem(name, Fault::new(format!("no {name}"), "write it, or remove the row"), found);
        }
    }
    let date = record.read("date", found, |text| not_after_today(when::date(text)?, frame));
    let skill = record.read("skill", found, skill);
    let people = record.read("people", found, |text| people(text, staff));
    let seconds = record.read("seconds", found, seconds);
    let (date, skill, people) = (date?, skill?, people?);
    let models = record.text("models").unwrap_or_default().split([';', '|']).map(str::trim);
    Some(Drill {
        program: frame.program.clone(),
        id: format!("{date}/{}", skill.name()),
        date,
        skill,
        place: record.owned("place"),
        people,
        models: models.filter(|model| !model.is_empty()).map(ToOwned::to_owned).collect(),
        seconds,
        notes: record.owned("notes"),
        recorded_by: "import".to_owned(),
        // The day it was held: the same file imported twice is the same row.
        recorded_at: crate::trade::time::resolve(date.and_time(chrono::NaiveTime::MIN), frame.zone),
        undone: false,
    })
}

fn skill(text: &str) -> Result<Skill, Fault> {
    Skill::read(text).ok_or_else(|| {
        let names: Vec<&str> = Skill::ALL.iter().map(|skill| skill.name()).collect();
        Fault::new(format!("`{text}` is not a skill"), format!("write one of {}", names.join(", ")))
    })
}

/// "Ana: head; Ben; Cole: cutter".
fn people(text: &str, staff: &[StaffMember]) -> Result<Vec<Part>, Fault> {
    let parts = text.split([';', '|']).map(str::trim).filter(|part| !part.is_empty());
    parts
        .map(|part| {
            let (name, position) = part.split_once(':').map_or((part, None), |(name, position)| (name, Some(position)));
            let position = position.map(|text| {
                Position::from_name(text).ok_or_else(|| {
                    let names: Vec<&str> = Position::ALL.iter().map(|position| position.name()).collect();
                    let what = format!("`{}` is not a position", text.trim());
                    Fault::new(what, format!("write one of {}", names.join(", ")))
                })
            });
            Ok(Part { staff: named(name, staff)?, position: position.transpose()? })
        })
        .collect()
}

/// The one of staff who is meant by an id, a whole name, or a first or last name that nobody else has.
pub(super) fn named(text: &str, staff: &[StaffMember]) -> Result<StaffId, Fault> {
    let wanted = key(text);
    let is = |member: &&StaffMember| {
        let whole = key(&format!("{}{}", member.first, member.last));
        [key(member.id.as_str()), whole, key(&member.first), key(&member.last)].contains(&wanted)
    };
    match staff.iter().filter(is).collect::<Vec<_>>().as_slice() {
        [only] => Ok(only.id.clone()),
        [] => Err(Fault::new(
            format!("there is nobody of staff called `{}`", text.trim()),
            "write a name or id from staff.csv",
        )),
        _ => Err(Fault::new(format!("`{}` may be several of staff", text.trim()), "write the id")),
    }
}

/// "42", "42 s", "1:05".
fn seconds(text: &str) -> Result<u32, Fault> {
    crate::trade::drill::times::seconds(text).ok_or_else(|| {
        Fault::new(format!("`{text}` is not a time of a drill"), "write seconds, such as `42`, or minutes as `1:05`")
    })
}

/// Reads venues.csv.
pub(super) fn venues(file: &SourceFile, frame: &Frame<'_>, found: &mut Findings) -> Vec<Venue> {
    let table = Table::read(file, &VENUES, found);
    let mut venues = Vec::new();
    if !table.require(&["name"], found) {
        return venues;
    }
    let mut names = BTreeMap::new();
    for record in table.records() {
        let Some(name) = record.owned("name") else {
            record.problem("name", Fault::new("no name", "write it, or remove the row"), found);
            continue;
        };
        if let Some(line) = names.insert(cell::key(&name), record.line()) {
            let what = format!("venue `{name}` is on line {line} already");
            record.problem("name", Fault::new(what, "keep one row for each venue"), found);
        }
        venues.push(Venue {
            program: frame.program.clone(),
            name,
            address: record.owned("address"),
            entrance: record.owned("entrance"),
            aed: record.owned("aed"),
            kit: record.owned("kit"),
            hospital: record.owned("hospital"),
            notes: record.owned("notes"),
        });
    }
    venues
}
