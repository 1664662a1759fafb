//! Numbers: which are check points, and which are times, days, jerseys, measures, counts, ratings.

use super::lexicon::{Concept, Concepts};
use super::tokens::Item;
use crate::trade::flag::Flag;

const POINTS: [Concept; 7] = [
    Concept::Point1,
    Concept::Point2,
    Concept::Point3,
    Concept::Point4,
    Concept::Point5,
    Concept::Point6,
    Concept::Point7,
];

/// Words before a number that make it something else.
const BEFORE: &[&str] = &[
    "at",
    "day",
    "days",
    "week",
    "til",
    "till",
    "until",
    "by",
    "number",
    "numero",
    "jersey",
    "period",
    "grade",
    "las",
    "before",
    "after",
    "like",
    "about",
    "took",
    "for",
    "dia",
    "quarter",
    "room",
    "locker",
    "route",
    "section",
    "vs",
    "age",
    "block",
    "hour",
    "num",
    "the number",
    "combo",
    "around",
    "since",
    "im number",
    "$",
    "exam",
];
/// Words after a number that make it something else.
const AFTER: &[&str] = &[
    "min", "mins", "minutes", "minute", "minutos", "am", "pm", "a.m", "p.m", "oclock", "times", "x", "veces", "inches",
    "inch", "in", "cm", "years", "year", "yrs", "anos", "days", "dias", "day", "weeks", "snaps", "plays", "reps",
    "tackles", "pick", "picks", "st", "nd", "rd", "th", "tacos", "hours", "hrs", "hr", "horas", "seconds", "sec",
    "secs", "lbs", "pounds", "puntos", "points", "stitches", "pads", "guys", "people", "percent", "degrees", "yards",
    "downs", "sets", "more", "of us", "de la", "period", "pulgadas", "dedos", "fingers", "finger", "dedo", "bucks",
    "miles", "laps", "hay",
];
const SPELLED: &[(&str, u8)] = &[
    ("one", 1),
    ("two", 2),
    ("three", 3),
    ("four", 4),
    ("five", 5),
    ("six", 6),
    ("seven", 7),
    ("uno", 1),
    ("dos", 2),
    ("tres", 3),
    ("cuatro", 4),
    ("cinco", 5),
    ("seis", 6),
    ("siete", 7),
    ("umm", 0),
];

fn set(item: &mut Item, points: Vec<u8>) {
    let first = points.first().and_then(|point| POINTS.get(usize::from(*point) - 1)).copied();
    item.concepts = first.map(Concepts::of).unwrap_or_default();
    item.points = points;
}

fn plain(item: &mut Item) {
    item.is_number = true;
    item.concepts = Concepts::of(Concept::Benign);
}

/// Marks the items that are numbers: check points, or numbers of another kind.
pub fn mark(items: &mut [Item]) {
    let count = items.len();
    for at in 0..count {
        let digits = items[at].concepts.is_empty()
            && !items[at].folded.is_empty()
            && items[at].folded.bytes().all(|b| b.is_ascii_digit());
        if digits {
            digit(items, at);
        }
    }
    spelled(items);
    ranges(items);
    first_count(items);
}

fn near(items: &[Item], at: usize, step: isize) -> Option<&Item> {
    at.checked_add_signed(step).and_then(|at| items.get(at))
}

fn is_digits(item: Option<&Item>) -> bool {
    item.is_some_and(|item| !item.folded.is_empty() && item.folded.bytes().all(|b| b.is_ascii_digit()))
}

fn digit(items: &mut [Item], at: usize) {
    let own = items[at].folded.clone();
    let text = |step: isize| near(items, at, step).map_or("", |item| item.folded.as_str());
    let (before, after) = (text(-1).to_owned(), text(1).to_owned());
    let last_word = before.rsplit(' ').next().unwrap_or_default().to_owned();
    // 7:30, 6/6, 100%, 3.5
    let clock = (after == ":" && is_digits(near(items, at, 2))) || (before == ":" && is_digits(near(items, at, -2)));
    let rating = (after == "/" && is_digits(near(items, at, 2))) || (before == "/" && is_digits(near(items, at, -2)));
    if rating {
        return ratio(items, at, &before, &after);
    }
    let points: Vec<u8> = own.bytes().map(|b| b - b'0').collect();
    let all_points = points.iter().all(|point| (1..=7).contains(point)) && points.len() <= 7;
    let distinct = points.iter().enumerate().all(|(i, point)| !points[..i].contains(point));
    let tagged = before == "#";
    let other = clock
        || after == "%"
        || before == "$"
        || (BEFORE.contains(&last_word.as_str()) && !tagged && own.len() <= 2)
        || AFTER.contains(&after.as_str())
        || (own.len() == 2 && matches!(last_word.as_str(), "el" | "the" | "im"));
    // Two digits are points when they run up ("25"), unless they read as a jersey or a time.
    let runs_up = points.windows(2).all(|pair| pair[0] < pair[1]);
    if other || !all_points || !distinct || (points.len() > 1 && !runs_up) {
        plain(&mut items[at]);
    } else {
        set(&mut items[at], points);
    }
}

/// "6/6" is everything; "5/6" leaves something without a name; "10/10" is a rating.
fn ratio(items: &mut [Item], at: usize, before: &str, after: &str) {
    if after != "/" {
        if before == "/" {
            plain(&mut items[at]);
        }
        return;
    }
    let (top, bottom) = (items[at].folded.clone(), items[at + 2].folded.clone());
    let concept = match (top.as_str(), bottom.as_str()) {
        ("6", "6") | ("7", "7") | ("10", "10") | ("100", "100") => Concept::AllGood,
        (_, "6" | "7" | "10" | "100") => Concept::Hedge,
        _ => Concept::Benign,
    };
    plain(&mut items[at]);
    items[at].concepts = Concepts::of(concept);
}

/// "two and five": spelled numbers are points only among numbers, or alone.
fn spelled(items: &mut [Item]) {
    let alone = items.iter().all(|item| {
        SPELLED.iter().any(|(word, _)| *word == item.folded)
            || !item.points.is_empty()
            || matches!(item.folded.as_str(), "and" | "y" | "," | "n" | "&" | "." | "also" | "numbers" | "number")
    });
    if !alone {
        return;
    }
    for item in items.iter_mut() {
        if let Some((_, point)) = SPELLED.iter().find(|(word, _)| *word == item.folded) {
            set(item, vec![*point]);
        }
    }
}

/// "1-3", "4 thru 6", "del 1 al 3".
fn ranges(items: &mut [Item]) {
    for at in 1..items.len().saturating_sub(1) {
        let joint =
            matches!(items[at].folded.as_str(), "-" | "–" | "thru" | "through" | "to" | "al" | "hasta" | "a" | "till");
        let (left, right) = (&items[at - 1].points, &items[at + 1].points);
        if let (true, [from], [to]) = (joint, left.as_slice(), right.as_slice())
            && from < to
        {
            let all: Vec<u8> = (*from..=*to).collect();
            set(&mut items[at - 1], all);
            items[at + 1].points.clear();
            items[at + 1].is_number = true;
            items[at + 1].concepts = Concepts::of(Concept::Benign);
            items[at].concepts = Concepts::of(Concept::Benign);
        }
    }
}

/// "first 3 no good", "last 2 are off".
fn first_count(items: &mut [Item]) {
    for at in 1..items.len() {
        let [count] = *items[at].points.as_slice() else { continue };
        let points: Vec<u8> = match items[at - 1].folded.as_str() {
            "first" | "primeros" | "los primeros" => (1..=count).collect(),
            "last" | "ultimos" | "los ultimos" => (7 - count.min(6)..=6).collect(),
            _ => continue,
        };
        set(&mut items[at], points);
    }
}

/// Marks in a row, by position.
pub struct Marks {
    /// Flags of the marks that say no, with the item.
    pub bad: Vec<(Flag, usize)>,
}

/// "✅✅❌✅✅✅": six or seven marks and nothing else.
pub fn position_marks(items: &[Item]) -> Option<Marks> {
    let said: Vec<(usize, bool)> = items
        .iter()
        .enumerate()
        .filter(|(_, item)| !item.concepts.has(Concept::Break))
        .map(|(index, item)| match item.folded.as_str() {
            "✅" | "✔" | "☑" | "👍" | "👌" | "y" | "✓" => Some((index, true)),
            "❌" | "✖" | "👎" | "n" | "x" | "❎" | "🚫" | "⛔" => Some((index, false)),
            _ => None,
        })
        .collect::<Option<_>>()?;
    if said.len() != 6 && said.len() != 7 {
        return None;
    }
    let bad = said
        .iter()
        .zip(1..)
        .filter(|((_, good), _)| !good)
        .filter_map(|((index, _), point)| Some((Flag::from_check_point(point)?, *index)))
        .collect();
    Some(Marks { bad })
}
