//! Kits and what they hold.

use std::collections::BTreeMap;

use super::cell::{self, key};
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, Frame, SourceFile, when};
use crate::trade::kit::{Goes, Kit, Stock};
use crate::trade::roster::{StaffMember, TeamId};

static KITS: [Column; 11] = [
    column("kit", &["id", "kitid", "number", "botiquin"]),
    column("name", &["kitname", "called", "nombre"]),
    column("place", &["where", "location", "kept", "lugar"]),
    column("keeper", &["who", "staff", "kept by", "keptby", "encargado"]),
    column("goes", &["goesto", "for", "to", "va"]),
    column("teams", &["team", "equipos"]),
    column("item", &["what", "thing", "articulo"]),
    column("par", &["parlevel", "level", "shouldhold", "minimum", "min"]),
    column("count", &["have", "quantity", "qty", "holds", "cantidad"]),
    column("expires", &["expiry", "expiration", "expirationdate", "useby", "vence"]),
    column("lead_days", &["leaddays", "leadtime", "leadtimedays", "delivery"]),
];

/// Reads kits.csv: a row for each item; what is of the kit itself may stand on its first row alone, and so may its number.
pub(super) fn read(
    file: &SourceFile,
    frame: &Frame<'_>,
    staff: &[StaffMember],
    found: &mut Findings,
) -> (Vec<Kit>, Vec<Stock>) {
    let table = Table::read(file, &KITS, found);
    let (mut kits, mut stock): (Vec<Kit>, Vec<Stock>) = (Vec::new(), Vec::new());
    if !table.require(&["kit", "item"], found) {
        return (kits, stock);
    }
    let mut lines: BTreeMap<(String, String), u64> = BTreeMap::new();
    for record in table.records() {
        let said = record.read("kit", found, kit_id);
        let Some(id) = said.or_else(|| kits.last().map(|kit| kit.id.clone())) else {
            record.problem("kit", Fault::new("no kit", "write its number or short name, such as `2`"), found);
            continue;
        };
        if !kits.iter().any(|kit| kit.id == id) {
            kits.push(Kit {
                program: frame.program.clone(),
                name: format!("Kit {id}"),
                id: id.clone(),
                place: None,
                keeper: None,
                goes: Vec::new(),
                teams: Vec::new(),
                counted_at: None,
            });
        }
        if let Some(kit) = kits.iter_mut().find(|kit| kit.id == id) {
            of_the_kit(record, frame, staff, kit, found);
        }
        let Some(row) = item(record, frame, &id, found) else { continue };
        if let Some(line) = lines.insert((id.clone(), key(&row.item)), record.line()) {
            let what = format!("kit {id} has `{}` on line {line} already", row.item);
            record.problem("item", Fault::new(what, "keep one row for each item of a kit"), found);
        }
        stock.push(row);
    }
    for kit in &mut kits {
        if kit.goes.is_empty() {
            found.note(&file.name, None, format!("kit {} goes nowhere; it is taken to practices", kit.id));
            kit.goes.push(Goes::Practice);
        }
    }
    (kits, stock)
}

fn of_the_kit(record: Record<'_>, frame: &Frame<'_>, staff: &[StaffMember], kit: &mut Kit, found: &mut Findings) {
    if let Some(name) = record.owned("name") {
        kit.name = name;
    }
    if let Some(place) = record.owned("place") {
        kit.place = Some(place);
    }
    if let Some(keeper) = record.read("keeper", found, |text| super::drills::named(text, staff)) {
        kit.keeper = Some(keeper);
    }
    if let Some(goes) = record.read("goes", found, goes) {
        kit.goes = goes;
    }
    if let Some(teams) = record.read("teams", found, |text| teams(text, frame)) {
        kit.teams = teams;
    }
}

fn item(record: Record<'_>, frame: &Frame<'_>, kit: &str, found: &mut Findings) -> Option<Stock> {
    if record.text("item").is_none() {
        record.problem("item", Fault::new("no item", "write what the kit holds, or remove the row"), found);
    }
    let par = record.read("par", found, |text| pieces(text, "par")).unwrap_or(1);
    let count = record.read("count", found, |text| pieces(text, "count")).unwrap_or(0);
    let expires = record.read("expires", found, when::date);
    let lead_days = record.read("lead_days", found, |text| {
        let days = pieces(text, "days")?;
        if (1..=365).contains(&days) { Ok(days) } else { Err(Fault::new(format!("`{text}` days"), "write 1 to 365")) }
    });
    Some(Stock {
        program: frame.program.clone(),
        kit: kit.to_owned(),
        item: record.owned("item")?,
        par,
        count,
        on_order: 0,
        ordered_at: None,
        expires,
        lead_days,
    })
}

/// A kit's number or short name, as it is texted: letters and digits, no spaces.
fn kit_id(text: &str) -> Result<String, Fault> {
    let bare = text.trim().to_lowercase();
    let bare = bare.strip_prefix("kit ").unwrap_or(&bare).trim().to_owned();
    if !bare.is_empty() && bare.len() <= 12 && bare.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
        return Ok(bare);
    }
    Err(Fault::new(
        format!("`{text}` cannot be texted as a kit"),
        "write a number or one short word, such as `2` or `game`; its name has a column of its own",
    ))
}

fn goes(text: &str) -> Result<Vec<Goes>, Fault> {
    let parts = text.split([';', '|', ',']).map(str::trim).filter(|part| !part.is_empty());
    parts
        .map(|part| match key(part).as_str() {
            "practice" | "practices" => Ok(Goes::Practice),
            "home" | "homegame" | "homegames" => Ok(Goes::Home),
            "away" | "awaygame" | "awaygames" => Ok(Goes::Away),
            "room" | "equipmentroom" => Ok(Goes::Room),
            _ => {
                let names: Vec<&str> = Goes::ALL.iter().map(|goes| goes.name()).collect();
                Err(Fault::new(format!("`{part}` is nowhere that a kit goes"), format!("write {}", names.join("; "))))
            }
        })
        .collect()
}

fn teams(text: &str, frame: &Frame<'_>) -> Result<Vec<TeamId>, Fault> {
    text.split([';', '|', ',']).map(str::trim).filter(|part| !part.is_empty()).map(|p| cell::team(p, frame)).collect()
}

/// A whole number of pieces.
fn pieces(text: &str, what: &str) -> Result<i64, Fault> {
    text.trim().parse::<i64>().ok().filter(|number| (0..=9_999).contains(number)).ok_or_else(|| {
        Fault::new(format!("`{text}` is not a whole number for {what}"), "write it as `4`, from 0 to 9999")
    })
}
