//! Athletes who are held already when the program is set up: `holds.csv`. A file opens holds and never ends one.

use std::collections::BTreeMap;

use super::consent::not_after_today;
use super::index::Index;
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, Frame, SourceFile, cell, when};
use crate::trade::clearance::Brought;
use crate::trade::queue::HoldKind;

static HOLDS: [Column; 8] = [
    column("athlete", &["id", "name", "player", "atleta"]),
    column("team", &["squad", "equipo"]),
    column("since", &["held", "date", "from", "desde"]),
    column("kind", &["type", "hold", "tipo"]),
    column("category", &["reason", "why", "motivo"]),
    column("steps", &["progression", "protocol", "pasos"]),
    column("step", &["stage", "instep", "paso"]),
    column("step_since", &["stepdate", "stepfrom", "desdepaso"]),
];

/// Reads holds.csv.
pub(super) fn read(file: &SourceFile, frame: &Frame<'_>, index: &Index, found: &mut Findings) -> Vec<Brought> {
    let table = Table::read(file, &HOLDS, found);
    let mut all = Vec::new();
    if !table.require(&["athlete", "since"], found) {
        return all;
    }
    let mut lines = BTreeMap::new();
    for record in table.records() {
        let Some(brought) = brought(record, frame, index, found) else { continue };
        if let Some(line) = lines.insert(brought.athlete.clone(), record.line()) {
            let what = format!("`{}` is on line {line} already", brought.athlete);
            record.problem("athlete", Fault::new(what, "keep one row for each athlete"), found);
        }
        all.push(brought);
    }
    all
}

fn brought(record: Record<'_>, frame: &Frame<'_>, index: &Index, found: &mut Findings) -> Option<Brought> {
    for name in ["athlete", "since"] {
        if record.text(name).is_none() {
            record.problem(name, Fault::new(format!("no {name}"), "write it, or remove the row"), found);
        }
    }
    let team = record.read("team", found, |text| cell::team(text, frame));
    let athlete = record.read("athlete", found, |text| index.find(text, team.as_ref(), frame)).flatten();
    let since = record.read("since", found, |text| not_after_today(when::date(text)?, frame));
    let kind = record.read("kind", found, kind);
    let progression = record.read("steps", found, |text| {
        let known = frame.progressions.iter().find(|known| cell::key(known) == cell::key(text));
        known.cloned().ok_or_else(|| {
            let what = format!("`{text}` is no way back that is known here");
            Fault::new(what, format!("write {}, or leave it blank", frame.progressions.join(" or ")))
        })
    });
    let step = record.read("step", found, |text| {
        text.parse::<i64>().ok().filter(|step| (0..=20).contains(step)).ok_or_else(|| {
            Fault::new(format!("`{text}` is no step"), "write its number, such as 2, or 0 before the first")
        })
    });
    let step_since = record.read("step_since", found, |text| not_after_today(when::date(text)?, frame));
    let (athlete, since) = (athlete?, since?);
    if step_since.is_some_and(|day| day < since) {
        record.problem("step_since", Fault::new("before the hold began", "correct one of the two dates"), found);
    }
    if step.is_some_and(|step| step > 0) && (step_since.is_none() || progression.is_none()) {
        let fault = Fault::new("a step without the way back and the day that it began", "fill in steps and step_since");
        record.problem("step", fault, found);
    }
    Some(Brought {
        athlete,
        since,
        kind: kind.unwrap_or(HoldKind::Medical),
        category: record.owned("category"),
        progression,
        step: step.unwrap_or(0),
        step_since,
    })
}

/// Without a word it is a medical hold: the graver one.
fn kind(text: &str) -> Result<HoldKind, Fault> {
    match cell::key(text).as_str() {
        "medical" | "medico" | "concussion" => Ok(HoldKind::Medical),
        "trainer" | "entrenador" | "illness" | "injury" => Ok(HoldKind::Trainer),
        _ => Err(Fault::new(format!("`{text}` is no kind of hold"), "write medical or trainer")),
    }
}
