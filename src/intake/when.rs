//! Dates, times of day and weekdays as people write them in a cell.
//!
//! Where a writing has two meanings (3/4/09, a bare 3:30) it is a fault and not a guess.

use chrono::{NaiveDate, NaiveTime};

use super::Fault;
use super::cell::key;
use crate::trade::roster::{DutyDay, DutyHours};

const DATE_HINT: &str = "write it as 2026-09-01, or as 9/1/2026 with the month first";

/// A date: ISO 8601, US order, or with the month in letters. Two-digit years are refused.
pub(super) fn date(text: &str) -> Result<NaiveDate, Fault> {
    let text = midnight_off(text);
    let numeric = ["%Y-%m-%d", "%Y/%m/%d", "%m/%d/%Y", "%m-%d-%Y"];
    let lettered = ["%b %d %Y", "%d %b %Y", "%B %d %Y", "%d %B %Y"];
    let spaced = text.replace([',', '-'], " ").split_whitespace().collect::<Vec<_>>().join(" ");
    let parsed = numeric
        .iter()
        .find_map(|form| NaiveDate::parse_from_str(text, form).ok())
        .or_else(|| lettered.iter().find_map(|form| NaiveDate::parse_from_str(&spaced, form).ok()));
    if let Some(date) = parsed.filter(|date| (1900..=2200).contains(&chrono::Datelike::year(date))) {
        return Ok(date);
    }
    let mend = match text.parse::<u32>() {
        Ok(serial) if (10_000..100_000).contains(&serial) => {
            "it is a spreadsheet's inner day count: format the column as a date and save again"
        }
        _ if two_digit_year(text) => "write the year with four digits",
        _ => DATE_HINT,
    };
    Err(Fault::new(format!("`{text}` is not a date"), mend))
}

/// Databases and data tools write dates with a midnight behind them.
fn midnight_off(text: &str) -> &str {
    let stripped = ["T00:00:00Z", "T00:00:00", " 00:00:00", " 0:00", " 00:00"];
    stripped.iter().find_map(|end| text.strip_suffix(end)).unwrap_or(text)
}

fn two_digit_year(text: &str) -> bool {
    let parts: Vec<_> = text.split(['/', '-', '.']).collect();
    parts.len() == 3 && parts.iter().all(|part| part.len() <= 2 && part.parse::<u8>().is_ok())
}

/// A date that may be known by month or year alone; then its first day.
pub(super) fn rough_date(text: &str) -> Result<NaiveDate, Fault> {
    let year = |text: &str| text.parse::<i32>().ok().filter(|year| (1950..=2200).contains(year));
    let month = |year_text: &str, month: &str| {
        let month = month.parse().ok().filter(|_| month.len() <= 2)?;
        NaiveDate::from_ymd_opt(year(year_text)?, month, 1)
    };
    let rough = match text.split(['-', '/']).collect::<Vec<_>>().as_slice() {
        [alone] => year(alone.strip_suffix(".0").unwrap_or(alone)).and_then(|year| NaiveDate::from_ymd_opt(year, 1, 1)),
        [a, b] => month(a, b).or_else(|| month(b, a)),
        _ => None,
    };
    rough.map_or_else(|| date(text), Ok)
}

/// A time of day: 24 hours, or with am and pm. A bare 1:00 to 6:59 is refused, since nobody can tell which half of the
/// day it means; 03:30 with its zero is taken as written.
pub(super) fn time(text: &str) -> Result<NaiveTime, Fault> {
    let fault = || Fault::new(format!("`{text}` is not a time of day"), "write it as 15:30 or 3:30 PM");
    let mut rest = text.to_lowercase().replace(['.', ' '], "");
    let half = ["am", "pm"].into_iter().find(|half| rest.ends_with(half));
    if half.is_some() {
        rest.truncate(rest.len() - 2);
    }
    if half.is_none() && text.contains('.') && !text.contains(':') {
        rest = text.trim().replace('.', ":");
    }
    let zero = rest.starts_with('0');
    let mut parts = rest.split(':').map(|part| {
        let plain = (1..=2).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
        if plain { part.parse::<u32>().ok() } else { None }
    });
    let hour = parts.next().flatten().ok_or_else(fault)?;
    let minute = match (parts.next(), half) {
        (Some(minute), _) => minute.ok_or_else(fault)?,
        (None, Some(_)) => 0,
        (None, None) => return Err(fault()),
    };
    if parts.next().is_some_and(|second| second != Some(0)) || parts.next().is_some() {
        return Err(fault());
    }
    let hour = match (half, hour) {
        (Some("am"), 12) => 0,
        (Some("pm"), 1..=11) => hour + 12,
        (Some(_), 1..=12) | (None, _) => hour,
        (Some(_), _) => return Err(fault()),
    };
    if half.is_none() && !zero && (1..7).contains(&hour) {
        return Err(Fault::new(
            format!("`{text}` may be morning or afternoon"),
            format!(
                "write {hour}:{minute:02} PM or {}:{minute:02} ({hour}:{minute:02} AM or 0{hour}:{minute:02} for the morning)",
                hour + 12
            ),
        ));
    }
    NaiveTime::from_hms_opt(hour, minute, 0).ok_or_else(fault)
}

/// Hours on duty: "14:00-18:30", "2 PM to 6:30 PM".
pub(super) fn hours(text: &str) -> Result<DutyHours, Fault> {
    let fault = || Fault::new(format!("`{text}` are no hours of duty"), "write them as 14:00-18:30 or 2 PM - 6:30 PM");
    let plain = text.to_lowercase().replace(['–', '—'], "-").replace(" to ", "-").replace(" a ", "-");
    let (from, until) = plain.split_once('-').ok_or_else(fault)?;
    let hours = DutyHours { from: time(from.trim())?, until: time(until.trim())? };
    if hours.from == hours.until { Err(fault()) } else { Ok(hours) }
}

const WEEK: [DutyDay; 7] =
    [DutyDay::Mon, DutyDay::Tue, DutyDay::Wed, DutyDay::Thu, DutyDay::Fri, DutyDay::Sat, DutyDay::Sun];

/// Weekdays on duty, Monday first; empty for every day.
pub(super) fn duty(text: &str) -> Result<Vec<DutyDay>, Fault> {
    let whole = key(text);
    if matches!(whole.as_str(), "all" | "daily" | "everyday" | "everyweek" | "todos" | "todoslosdias") {
        return Ok(Vec::new());
    }
    let mut on = [false; 7];
    let text = text.to_lowercase().replace(['–', '—'], "-").replace(" to ", "-").replace(" - ", "-");
    for part in text.split([',', ';', '/', '|', ' ', '&', '+']).filter(|part| !part.is_empty()) {
        let (first, last) = match (key(part).as_str(), part.split_once('-')) {
            ("and" | "y", _) => continue,
            ("weekdays", _) => (0, 4),
            ("weekends" | "weekend", _) => (5, 6),
            (_, Some((first, last))) => (weekday(first)?, weekday(last)?),
            (_, None) => (weekday(part)?, weekday(part)?),
        };
        let length = (last + 7 - first) % 7;
        for step in 0..=length {
            on[(first + step) % 7] = true;
        }
    }
    let days: Vec<_> = WEEK.into_iter().zip(on).filter_map(|(day, on)| on.then_some(day)).collect();
    Ok(if days.len() == 7 { Vec::new() } else { days })
}

fn weekday(text: &str) -> Result<usize, Fault> {
    let names: [&[&str]; 7] = [
        &["monday", "lunes"],
        &["tuesday", "martes"],
        &["wednesday", "miercoles"],
        &["thursday", "jueves"],
        &["friday", "viernes"],
        &["saturday", "sabado"],
        &["sunday", "domingo"],
    ];
    let word = key(text);
    let letter = match word.as_str() {
        "m" => Some(0),
        "w" => Some(2),
        "f" => Some(4),
        _ => None,
    };
    let by_name = || {
        let short = |name: &&str| word.len() >= 2 && (name.starts_with(&word) || word == format!("{name}s"));
        let mut fits = (0..7).filter(|day| names[*day].iter().any(short) || extra(&word) == Some(*day));
        fits.next().filter(|_| fits.next().is_none())
    };
    letter.or_else(by_name).ok_or_else(|| {
        Fault::new(
            format!("`{text}` is not a weekday"),
            "write days as mon, tue, wed, or a span as mon-fri; leave the cell blank for every day",
        )
    })
}

fn extra(word: &str) -> Option<usize> {
    match word {
        "tues" => Some(1),
        "thur" | "thurs" => Some(3),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> Option<String> {
        date(text).ok().map(|date| date.to_string())
    }

    #[test]
    fn dates_as_people_write_them() {
        for text in [
            "2026-09-01",
            "9/1/2026",
            "09/01/2026",
            "Sep 1, 2026",
            "1 September 2026",
            "1-Sep-2026",
            "2026-09-01 00:00:00",
        ] {
            assert_eq!(day(text).as_deref(), Some("2026-09-01"), "{text}");
        }
        for text in ["31/12/2026", "2/30/2026", "2026-13-01", "9/1/26", "46266", "tomorrow", "0026-09-01"] {
            assert_eq!(day(text), None, "{text}");
        }
        assert!(date("9/1/26").unwrap_err().mend.contains("four digits"));
        assert!(date("46266").unwrap_err().mend.contains("format the column"));
        assert_eq!(rough_date("2023").unwrap().to_string(), "2023-01-01");
        assert_eq!(rough_date("05/2023").unwrap().to_string(), "2023-05-01");
        assert_eq!(rough_date("2023-05").unwrap().to_string(), "2023-05-01");
        assert!(rough_date("23").is_err());
    }

    #[test]
    fn times_as_people_write_them() {
        for text in ["15:30", "3:30 PM", "3:30pm", "3:30 p.m.", "15.30", "15:30:00", "03:30 PM"] {
            assert_eq!(time(text).unwrap().to_string(), "15:30:00", "{text}");
        }
        assert_eq!(time("3pm").unwrap().to_string(), "15:00:00");
        assert_eq!(time("12:05 am").unwrap().to_string(), "00:05:00");
        assert_eq!(time("12pm").unwrap().to_string(), "12:00:00");
        assert_eq!(time("06:15").unwrap().to_string(), "06:15:00");
        assert_eq!(time("7:15").unwrap().to_string(), "07:15:00");
        for text in ["3:30", "15", "25:00", "13:00 pm", "0:00 am", "after school", "15:3x", "15:30:10", "+3:30 PM", ""]
        {
            assert!(time(text).is_err(), "{text}");
        }
        assert!(time("3:30").unwrap_err().mend.contains("15:30"));
    }

    #[test]
    fn weekdays_and_spans() {
        use DutyDay::{Fri, Mon, Sat, Sun, Thu, Tue, Wed};
        assert_eq!(duty("mon-fri").unwrap(), [Mon, Tue, Wed, Thu, Fri]);
        assert_eq!(duty("Mon, Wed & Fri").unwrap(), [Mon, Wed, Fri]);
        assert_eq!(duty("M W F").unwrap(), [Mon, Wed, Fri]);
        assert_eq!(duty("Fri - Sun").unwrap(), [Fri, Sat, Sun]);
        assert_eq!(duty("sat–mon").unwrap(), [Mon, Sat, Sun]);
        assert_eq!(duty("lunes, miércoles y sábado").unwrap(), [Mon, Wed, Sat]);
        assert_eq!(duty("Tuesdays/Thurs").unwrap(), [Tue, Thu]);
        for text in ["14:00-18:30", "2 PM - 6:30 PM", "14:00 to 18:30", "2pm–6:30 pm"] {
            assert_eq!(hours(text).unwrap().to_string(), "14:00-18:30", "{text}");
        }
        for text in ["", "14:00", "2-6", "14:00-14:00", "soon-later"] {
            assert!(hours(text).is_err(), "{text}");
        }
        assert!(duty("every day").unwrap().is_empty());
        assert!(duty("mon-sun").unwrap().is_empty());
        assert!(duty("T").is_err());
        assert!(duty("ma").is_ok_and(|days| days == [Tue]));
    }
}
