//! What is said of kits, in a reader's language. The names of items are the program's own and stay as they are.

use super::{Cupboard, Lacking, Order};
use crate::trade::kit::{Kit, Need, Stock};
use crate::trade::roster::Language;
use crate::wording::words::joined;

use Language::{En, Es};

/// An item as it is said: "chin strap: high" is a "high chin strap".
#[must_use]
pub fn item_words(item: &str, language: Language) -> String {
    match (item.split_once(':'), language) {
        (Some((thing, kind)), En) => format!("{} {}", kind.trim(), thing.trim()),
        (Some((thing, kind)), Es) => format!("{} {}", thing.trim(), kind.trim()),
        (None, _) => item.to_owned(),
    }
}

/// "long needle 3, pump 1": how many of each, the first `most` of them.
#[must_use]
pub fn counts<'s>(rows: impl Iterator<Item = &'s Stock>, most: usize, language: Language) -> String {
    let all: Vec<String> = rows.map(|row| format!("{} {}", item_words(&row.item, language), row.count)).collect();
    shortened(&all, most, language)
}

/// "long needle 1 of 3, pump 0 of 1": what is below par.
#[must_use]
pub fn below<'s>(rows: impl Iterator<Item = &'s Stock>, most: usize, language: Language) -> Option<String> {
    let of = if language == Es { "de" } else { "of" };
    let all: Vec<String> =
        rows.map(|row| format!("{} {} {of} {}", item_words(&row.item, language), row.count, row.par)).collect();
    (!all.is_empty()).then(|| shortened(&all, most, language))
}

/// The first of a list, and how many more there are.
fn shortened(all: &[String], most: usize, language: Language) -> String {
    let said = all.iter().take(most).cloned().collect::<Vec<_>>().join(", ");
    let more = all.len().saturating_sub(most);
    match (more, language) {
        (0, _) => said,
        (more, En) => format!("{said} and {more} more"),
        (more, Es) => format!("{said} y {more} más"),
    }
}

/// "9 Halyard helmets and no long needle; no cutter": what is lacking, by the helmets that need it.
#[must_use]
pub fn lacking(needs: &[Need], language: Language) -> String {
    /// Models with how many helmets, and the items that they need.
    type Group<'n> = (&'n [(String, usize)], Vec<String>);
    let mut groups: Vec<Group<'_>> = Vec::new();
    for need in needs {
        let item = item_words(&need.item, language);
        match groups.iter_mut().find(|(models, _)| *models == need.models.as_slice()) {
            Some((_, items)) => items.push(item),
            None => groups.push((&need.models, vec![item])),
        }
    }
    // What only some helmets need says which; what every kit must hold stands alone.
    groups.sort_by_key(|(models, _)| models.is_empty());
    let none = |items: &[String]| match language {
        En => format!("no {}", items.join(", no ")),
        Es => format!("sin {}", items.join(", sin ")),
    };
    let said: Vec<String> = groups
        .iter()
        .map(|(models, items)| {
            let one = models.iter().map(|(_, count)| count).sum::<usize>() == 1;
            let worn: Vec<String> = models.iter().map(|(model, count)| format!("{count} {model}")).collect();
            let worn: Vec<&str> = worn.iter().map(String::as_str).collect();
            match (worn.as_slice(), language) {
                ([], _) => none(items),
                (worn, En) if one => format!("{} helmet and {}", joined(worn, En), none(items)),
                (worn, En) => format!("{} helmets and {}", joined(worn, En), none(items)),
                (worn, Es) if one => format!("casco {} y {}", joined(worn, Es), none(items)),
                (worn, Es) => format!("cascos {} y {}", joined(worn, Es), none(items)),
            }
        })
        .collect();
    said.join("; ")
}

/// "long needle in kit room": where something is that a kit lacks.
#[must_use]
pub fn elsewhere(lacking: &Lacking, language: Language) -> Option<String> {
    let said: Vec<String> = lacking
        .elsewhere
        .iter()
        .map(|(item, kit)| match language {
            En => format!("{} (kit {kit})", item_words(item, En)),
            Es => format!("{} (maletín {kit})", item_words(item, Es)),
        })
        .collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// "kit 2", "kits 1 and 2".
#[must_use]
pub fn kit_names(kits: &[String], language: Language) -> String {
    let names: Vec<&str> = kits.iter().map(String::as_str).collect();
    match (names.as_slice(), language) {
        ([one], En) => format!("kit {one}"),
        ([one], Es) => format!("maletín {one}"),
        (several, En) => format!("kits {}", joined(several, En)),
        (several, Es) => format!("maletines {}", joined(several, Es)),
    }
}

/// "8 high chin strap (4 left), 2 cutter (0 left)".
#[must_use]
pub fn order_words(orders: &[Order], most: usize, language: Language) -> String {
    let left = |order: &Order| match language {
        En => format!("{} {} ({} left)", order.order, item_words(&order.item, En), order.have),
        Es => format!("{} {} (quedan {})", order.order, item_words(&order.item, Es), order.have),
    };
    let all: Vec<String> = orders.iter().filter(|order| order.order > 0).map(left).collect();
    shortened(&all, most, language)
}

/// Everything that a kit holds, what is below par first.
#[must_use]
pub fn holds(cupboard: &Cupboard, kit: &Kit, most: usize, language: Language) -> String {
    let mut rows: Vec<&Stock> = cupboard.of(&kit.id).collect();
    rows.sort_by_key(|row| row.count >= row.par);
    counts(rows.into_iter(), most, language)
}

/// The order list as CSV, every line that has something to order or on its way.
///
/// # Errors
/// When a line cannot be written, which memory alone can cause.
pub fn orders_csv(orders: &[Order]) -> Result<String, csv::Error> {
    let mut out = csv::Writer::from_writer(Vec::new());
    out.write_record(["item", "order", "have", "par", "on_order", "ordered_on", "late", "used_a_week", "lead_days"])?;
    for order in orders {
        let ordered_on = order.ordered_on.map(|day| day.to_string()).unwrap_or_default();
        let per_week = order.per_week.map(|mean| format!("{mean:.2}")).unwrap_or_default();
        let late = if order.late { "yes" } else { "" };
        let numbers = [order.order, order.have, order.par, order.on_order].map(|number| number.to_string());
        let [wanted, have, par, on_order] = numbers;
        let lead = order.lead_days.to_string();
        out.write_record([&order.item, &wanted, &have, &par, &on_order, &ordered_on, late, &per_week, &lead])?;
    }
    let bytes = out.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
