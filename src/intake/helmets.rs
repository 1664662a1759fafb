//! Helmets: tag, model, dates, and who wears which.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::cell::{self, key};
use super::consent::not_after_today;
use super::index::Index;
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, Frame, SourceFile, when};
use crate::trade::roster::{AthleteId, Helmet, HelmetTag};

pub(super) static HELMETS: [Column; 14] = [
    column("tag", &["helmettag", "helmetid", "helmetnumber", "helmetno", "helmet", "id", "etiqueta"]),
    column("model", &["helmetmodel", "modelo"]),
    column("size", &["shellsize", "shell", "talla"]),
    column("serial", &["serialnumber", "serialno", "sn"]),
    column("athlete", &["player", "student", "assignedto", "issuedto", "wearer", "athleteid"]),
    column("jersey", &["jerseynumber", "uniform"]),
    column("team", &["squad", "equipo"]),
    column("made", &["manufactured", "dateofmanufacture", "manufacturedate", "year", "yearmade"]),
    column(
        "recertified",
        &["lastrecertified", "recertification", "recertificationdate", "reconditioned", "lastreconditioned"],
    ),
    column("marks", &["condition", "conditionmarks", "mark", "damage", "estado"]),
    column("failed", &["failedinspection", "rejected", "outofservice", "rechazado"]),
    column("shipped", &["shippedon", "sent", "senton", "atshopsince", "enviado"]),
    column("promised", &["promisedon", "expectedback", "dueback", "prometido"]),
    column("notes", &["note", "comment", "comments", "remarks", "notas"]),
];

/// Reads helmets.csv.
pub(super) fn read(file: &SourceFile, frame: &Frame<'_>, index: &Index, found: &mut Findings) -> Vec<Helmet> {
    let table = Table::read(file, &HELMETS, found);
    let mut helmets: Vec<Helmet> = Vec::new();
    if !table.require(&["tag", "model"], found) {
        return helmets;
    }
    let mut tags = BTreeMap::new();
    let mut wearers: BTreeMap<AthleteId, Vec<String>> = BTreeMap::new();
    for record in table.records() {
        let Some(helmet) = helmet(record, frame, index, found) else {
            continue;
        };
        if let Some(line) = tags.insert(key(helmet.tag.as_str()), record.line()) {
            let what = format!("tag `{}` is on line {line} already", helmet.tag);
            record.problem("tag", Fault::new(what, "give each helmet a tag of its own"), found);
        }
        if let Some(athlete) = &helmet.athlete {
            wearers.entry(athlete.clone()).or_default().push(helmet.tag.0.clone());
        }
        helmets.push(helmet);
    }
    for (athlete, tags) in wearers.into_iter().filter(|(_, tags)| tags.len() > 1) {
        found.note(&file.name, None, format!("{athlete} has {} helmets: {}", tags.len(), tags.join(", ")));
    }
    helmets
}

fn helmet(record: Record<'_>, frame: &Frame<'_>, index: &Index, found: &mut Findings) -> Option<Helmet> {
    let past = |text: &str| not_after_today(when::rough_date(text)?, frame);
    let made = record.read("made", found, past);
    let recertified = record.read("recertified", found, past);
    check_order(record, made, recertified, found);
    let shipped = record.read("shipped", found, |text| not_after_today(when::date(text)?, frame));
    let promised = record.read("promised", found, when::date);
    let team = record.read("team", found, |text| cell::team(text, frame));
    let wearer = if record.text("athlete").is_some() { "athlete" } else { "jersey" };
    let athlete = record
        .read(wearer, found, |text| if spare(text) { Ok(None) } else { index.find(text, team.as_ref(), frame) })
        .flatten();
    for name in ["tag", "model"] {
        if record.text(name).is_none() {
            record.problem(name, Fault::new(format!("no {name}"), "write it, or remove the row"), found);
        }
    }
    Some(Helmet {
        program: frame.program.clone(),
        tag: HelmetTag(record.read("tag", found, cell::id)?),
        model: record.owned("model")?,
        size: record.owned("size"),
        serial: record.owned("serial"),
        athlete,
        made,
        recertified,
        marks: record
            .text("marks")
            .map(|text| text.split([';', '|']).map(|mark| mark.trim().to_owned()).collect())
            .unwrap_or_default(),
        failed: record.owned("failed").filter(|text| !cell::says_none(text)),
        shipped,
        promised,
        issued_at: None,
        notes: record.owned("notes"),
    })
}

fn spare(text: &str) -> bool {
    cell::says_none(text) || matches!(key(text).as_str(), "spare" | "unassigned" | "extra" | "loaner")
}

fn check_order(record: Record<'_>, made: Option<NaiveDate>, recertified: Option<NaiveDate>, found: &mut Findings) {
    // A year alone stands for its first day, so only the years can be compared.
    let year = |date: NaiveDate| chrono::Datelike::year(&date);
    if let (Some(made), Some(recertified)) = (made, recertified)
        && year(recertified) < year(made)
    {
        let fault = Fault::new("recertified before it was made", "correct one of the two dates");
        record.problem("recertified", fault, found);
    }
}
