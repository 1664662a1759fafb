//! Values of calendar properties: dates, date-times, durations, lists (RFC 5545 section 3.3).

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use chrono_tz::Tz;
use icalendar::parser::ParseString;

use super::super::Fault;
use super::Calendar;
use super::lines::Property;
use crate::trade::time::{Moment, resolve};

/// A wall-clock time in a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Zoned {
    pub(super) local: NaiveDateTime,
    pub(super) zone: Tz,
}

impl Zoned {
    /// The moment it names.
    pub(super) fn moment(self) -> Moment {
        resolve(self.local, self.zone)
    }
}

/// What a date property holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum When {
    /// A date alone.
    Day(NaiveDate),
    /// A date and time.
    Time(Zoned),
}

/// The one value of a property such as DTSTART.
pub(super) fn when(property: &Property, calendar: &Calendar<'_>) -> Result<When, Fault> {
    one(property.value.trim(), property, calendar)
}

/// The values of a property such as EXDATE; of a period, its start.
pub(super) fn whens(property: &Property, calendar: &Calendar<'_>) -> Result<Vec<When>, Fault> {
    let values = property.value.split(',').map(str::trim).filter(|text| !text.is_empty());
    values.map(|text| one(text.split('/').next().unwrap_or(text), property, calendar)).collect()
}

fn one(text: &str, property: &Property, calendar: &Calendar<'_>) -> Result<When, Fault> {
    if let Some(day) = day(text) {
        return Ok(When::Day(day));
    }
    let local = date_time(text.trim_end_matches(['Z', 'z']))
        .ok_or_else(|| Fault::new(format!("`{text}` is not a date and time"), "write it as 20260901T153000"))?;
    let zone = match property.parameter("TZID") {
        _ if text.ends_with(['Z', 'z']) => Tz::UTC,
        None | Some("") => calendar.frame.zone,
        Some(name) => calendar.zones.find(name)?,
    };
    Ok(When::Time(Zoned { local, zone }))
}

/// `YYYYMMDD`.
pub(super) fn day(text: &str) -> Option<NaiveDate> {
    let plain = text.len() == 8 && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| NaiveDate::parse_from_str(text, "%Y%m%d").ok()).flatten()
}

/// `YYYYMMDDTHHMMSS`.
pub(super) fn date_time(text: &str) -> Option<NaiveDateTime> {
    let (date, time) = text.split_once(['T', 't'])?;
    let plain = time.len() == 6 && time.bytes().all(|byte| byte.is_ascii_digit());
    let number = |range: std::ops::Range<usize>| time.get(range)?.parse().ok();
    day(date).filter(|_| plain)?.and_hms_opt(number(0..2)?, number(2..4)?, number(4..6)?)
}

/// A duration such as `PT1H30M` or `P1D`; negative ones are refused, for nothing ends before it starts.
pub(super) fn duration(text: &str) -> Result<TimeDelta, Fault> {
    parse_duration(text).ok_or_else(|| Fault::new(format!("`{text}` is not a duration"), "write it as PT2H or PT1H30M"))
}

fn parse_duration(text: &str) -> Option<TimeDelta> {
    let mut rest = text.trim().strip_prefix('+').unwrap_or(text.trim()).strip_prefix(['P', 'p'])?;
    let (mut in_time, mut seconds) = (false, 0_i64);
    if rest.is_empty() {
        return None;
    }
    while !rest.is_empty() {
        if let Some(after) = rest.strip_prefix(['T', 't']).filter(|_| !in_time) {
            (in_time, rest) = (true, after);
            continue;
        }
        let end = rest.find(|c: char| !c.is_ascii_digit()).filter(|end| (1..=6).contains(end))?;
        let number: i64 = rest.get(..end)?.parse().ok()?;
        let unit = rest.get(end..=end)?.to_ascii_uppercase();
        seconds += number
            * match (in_time, unit.as_str()) {
                (false, "W") => 7 * 86_400,
                (false, "D") => 86_400,
                (true, "H") => 3_600,
                (true, "M") => 60,
                (true, "S") => 1,
                _ => return None,
            };
        rest = rest.get(end + 1..)?;
    }
    TimeDelta::try_seconds(seconds)
}

/// A list of texts: split at commas that are not escaped, each then unescaped.
pub(super) fn list(text: &str) -> Vec<String> {
    let mut items = vec![String::new()];
    let mut escaped = false;
    for c in text.chars() {
        if c == ',' && !escaped {
            items.push(String::new());
            continue;
        }
        escaped = c == '\\' && !escaped;
        if let Some(item) = items.last_mut() {
            item.push(c);
        }
    }
    let plain = items.iter().map(|item| ParseString::from(item.trim()).unescape_text().as_str().to_owned());
    plain.filter(|item| !item.is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations() {
        let minutes = |text: &str| parse_duration(text).map(|delta| delta.num_minutes());
        assert_eq!(minutes("PT1H30M"), Some(90));
        assert_eq!(minutes("P1DT1H"), Some(25 * 60));
        assert_eq!(minutes("P2W"), Some(14 * 24 * 60));
        for text in ["", "P", "1H", "PT1X", "-PT1H", "P1H", "PT9999999999H", "PTé"] {
            assert_eq!(minutes(text), None, "{text}");
        }
    }

    #[test]
    fn dates_and_lists() {
        assert_eq!(date_time("20260308T023000").unwrap().to_string(), "2026-03-08 02:30:00");
        for text in ["20260230T010000", "20260308T2400", "20260308T023000Z", "2026-03-08T02:30:00", "20260308T+23000"] {
            assert_eq!(date_time(text), None, "{text}");
        }
        assert_eq!(list("GAME, No Helmets,Room A\\, upstairs"), ["GAME", "No Helmets", "Room A, upstairs"]);
    }
}
