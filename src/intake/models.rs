//! Helmet models: hardware, tools, spares, and how long they serve.

use std::collections::{BTreeMap, BTreeSet};

use super::cell::key;
use super::table::{Column, Record, Table, column};
use super::{Dataset, Fault, Findings, Frame, SourceFile};
use crate::trade::model::{Model, find};
use crate::trade::size::chart;

static MODELS: [Column; 8] = [
    column("model", &["name", "helmetmodel", "modelo"]),
    column("hardware", &["maskhardware", "facemaskhardware", "mask", "clips", "screws"]),
    column("tools", &["tool", "herramientas"]),
    column("spares", &["spare", "spareparts", "parts", "repuestos"]),
    column(
        "recertify_months",
        &["recertify", "recertifymonths", "recertifyeverymonths", "recertifyevery", "recertification"],
    ),
    column("retire_years", &["retireyears", "retireafteryears", "retireafter", "maxage", "life"]),
    column("sizes", &["size", "shellsizes", "sizechart", "tallas"]),
    column("notes", &["note", "comment", "comments", "remarks", "notas"]),
];

/// Reads models.csv.
pub(super) fn read(file: &SourceFile, frame: &Frame<'_>, found: &mut Findings) -> Vec<Model> {
    let table = Table::read(file, &MODELS, found);
    let mut models = Vec::new();
    if !table.require(&["model"], found) {
        return models;
    }
    let mut names = BTreeMap::new();
    for record in table.records() {
        let Some(model) = model(record, frame, found) else { continue };
        if let Some(line) = names.insert(key(&model.name), record.line()) {
            let what = format!("model `{}` is on line {line} already", model.name);
            record.problem("model", Fault::new(what, "keep one row for each model"), found);
        }
        models.push(model);
    }
    models
}

fn model(record: Record<'_>, frame: &Frame<'_>, found: &mut Findings) -> Option<Model> {
    if record.text("model").is_none() {
        record.problem("model", Fault::new("no model", "write its name, or remove the row"), found);
    }
    let recertify_months = record.read("recertify_months", found, interval);
    let retire_years = record.read("retire_years", found, |text| number(text, 1, 30, "years", "10"));
    let sizes = record.read("sizes", found, |text| {
        chart(text).ok_or_else(|| {
            let what = format!("`{text}` is no list of sizes with the heads that they fit");
            Fault::new(what, "write it as `S 20-21; M 21-22 1/2; L 57-60 cm`, or leave it blank")
        })
    });
    Some(Model {
        program: frame.program.clone(),
        name: record.owned("model")?,
        hardware: record.owned("hardware"),
        tools: listed(record.text("tools")),
        spares: listed(record.text("spares")),
        recertify_months,
        retire_years,
        sizes: sizes.unwrap_or_default(),
        notes: record.owned("notes"),
    })
}

/// "pump; needle, long": things between semicolons, each once.
fn listed(cell: Option<&str>) -> Vec<String> {
    let mut seen = BTreeSet::new();
    let things = cell.unwrap_or_default().split([';', '|']).map(str::trim).filter(|thing| !thing.is_empty());
    things.filter(|thing| seen.insert(key(thing))).map(ToOwned::to_owned).collect()
}

/// A whole number within bounds; the unit may be written behind it.
fn number(text: &str, least: i64, most: i64, unit: &str, example: &str) -> Result<i64, Fault> {
    let bare = text.trim().trim_end_matches(|c: char| c.is_alphabetic() || c == '.').trim();
    bare.parse::<i64>().ok().filter(|number| (least..=most).contains(number)).ok_or_else(|| {
        Fault::new(
            format!("`{text}` is not a number of {unit} from {least} to {most}"),
            format!("write it as `{example}`, or leave the cell blank for the program's own rule"),
        )
    })
}

/// Months, or `2 seasons`. A season comes once a year, so one is twelve months: what was recertified between two seasons is due
/// again between two.
fn interval(text: &str) -> Result<i64, Fault> {
    let small = text.to_lowercase();
    if small.contains("season") || small.contains("temporada") {
        return Ok(12 * number(text, 1, 10, "seasons", "2 seasons")?);
    }
    number(text, 1, 120, "months", "24")
}

/// Notes which models helmets name that this file does not have.
pub(super) fn note_unknown(data: &Dataset, file: &SourceFile, found: &mut Findings) {
    let unknown: BTreeSet<&str> = data
        .helmets
        .iter()
        .map(|helmet| helmet.model.as_str())
        .filter(|model| find(&data.models, model).is_none())
        .collect();
    if !unknown.is_empty() {
        let names: Vec<&str> = unknown.into_iter().collect();
        let what =
            format!("helmets.csv names models that are not here: {}; the program's rules hold", names.join(", "));
        found.note(&file.name, None, what);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn things_are_split_and_kept_once() {
        assert_eq!(listed(Some("pump; needle, long ;Pump;; ")), ["pump", "needle, long"]);
        assert_eq!(listed(None), Vec::<String>::new());
    }

    #[test]
    fn a_number_may_carry_its_unit_and_has_bounds() {
        assert_eq!(number("24 months", 1, 120, "months", "24"), Ok(24));
        assert_eq!((interval("18 months"), interval("2 seasons"), interval("1 temporada")), (Ok(18), Ok(24), Ok(12)));
        assert!(interval("11 seasons").is_err_and(|fault| format!("{fault:?}").contains("from 1 to 10")));
        assert_eq!(number("10", 1, 30, "years", "10"), Ok(10));
        assert!(number("0", 1, 30, "years", "10").is_err());
        assert!(number("ten", 1, 30, "years", "10").is_err());
    }
}
