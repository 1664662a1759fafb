//! A team's times: when the check goes out, when the lists do, and when nothing may.

use chrono::{NaiveTime, TimeDelta};
use serde::{Deserialize, Serialize};

/// When something happens on an event's day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// At a local wall-clock time.
    At(NaiveTime),
    /// So long before the start.
    Before(TimeDelta),
}

impl When {
    /// Reads "06:45", "6:45 am", "90 min before", "3 h before", "1 h 30 min before".
    ///
    /// # Errors
    /// A sentence that says what is expected.
    pub fn parse(text: &str) -> Result<Self, String> {
        let lower = text.trim().to_lowercase();
        if let Some(lead) = lower.strip_suffix("before") {
            return parse_lead(lead).map(Self::Before).ok_or_else(|| expected(text));
        }
        parse_clock(&lower).map(Self::At).ok_or_else(|| expected(text))
    }
}

fn expected(text: &str) -> String {
    format!("`{text}` is neither a time such as `06:45` nor a lead such as `90 min before` or `3 h before`")
}

/// Reads "06:45", "6:45 am", "3pm".
#[must_use]
pub fn parse_clock(text: &str) -> Option<NaiveTime> {
    let text = text.trim().to_lowercase().replace('.', "");
    let (digits, half) = if let Some(digits) = text.strip_suffix("am") {
        (digits, Some(0))
    } else if let Some(digits) = text.strip_suffix("pm") {
        (digits, Some(12))
    } else {
        (text.as_str(), None)
    };
    let (hour, minute) = digits.trim().split_once(':').unwrap_or((digits.trim(), "0"));
    let (hour, minute): (u32, u32) = (hour.parse().ok()?, minute.parse().ok()?);
    let hour = match half {
        Some(_) if hour == 0 || hour > 12 => return None,
        Some(offset) => hour % 12 + offset,
        None => hour,
    };
    NaiveTime::from_hms_opt(hour, minute, 0)
}

fn parse_lead(text: &str) -> Option<TimeDelta> {
    let spaced: String = text
        .chars()
        .flat_map(|c| if c.is_ascii_digit() { [None, Some(c)] } else { [Some(c), None] })
        .flatten()
        .collect();
    let mut minutes = 0_i64;
    let mut number = String::new();
    let mut unit = String::new();
    let mut found = false;
    let mut close = |number: &mut String, unit: &mut String| -> Option<()> {
        if number.is_empty() && unit.is_empty() {
            return Some(());
        }
        let value: i64 = number.parse().ok()?;
        minutes = minutes.checked_add(match unit.as_str() {
            "m" | "min" | "mins" | "minute" | "minutes" => value,
            "h" | "hr" | "hrs" | "hour" | "hours" => value.checked_mul(60)?,
            _ => return None,
        })?;
        found = true;
        number.clear();
        unit.clear();
        Some(())
    };
    for c in spaced.chars() {
        if c.is_ascii_digit() {
            if !unit.is_empty() {
                close(&mut number, &mut unit)?;
            }
            number.push(c);
        } else if c.is_alphabetic() {
            unit.push(c);
        }
    }
    close(&mut number, &mut unit)?;
    (found && minutes <= 7 * 24 * 60).then(|| TimeDelta::minutes(minutes))
}

impl<'de> Deserialize<'de> for When {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

/// Minutes, as a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Minutes(pub u32);

impl Minutes {
    /// As a span of time.
    #[must_use]
    pub const fn span(self) -> TimeDelta {
        TimeDelta::minutes(self.0 as i64)
    }
}

/// The hours in which only a medical alert, a confirmation of somebody's rights, or an answer to staff goes out.
///
/// 47 CFR 64.1200(c)(1) bars telephone solicitations before 8 a.m. and after 9 p.m. at the called party's location. A
/// school's helmet check is not a solicitation; those hours are the default, and a program may widen its day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietHours {
    /// The last minute in which texts go out; quiet begins after it.
    pub from: NaiveTime,
    /// The first minute in which texts go out again.
    pub until: NaiveTime,
}

impl QuietHours {
    /// Whether a local time is quiet: after `from` (21:00 itself is not), or before `until` (08:00 itself is not).
    #[must_use]
    pub fn covers(self, time: NaiveTime) -> bool {
        if self.from == self.until {
            return false;
        }
        if self.from < self.until {
            time > self.from && time < self.until
        } else {
            time > self.from || time < self.until
        }
    }
}

/// A team's times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TeamTimes {
    /// When the morning check goes out.
    pub check: When,
    /// The whole roster is texted within this time of the check's, or the texts start earlier.
    pub spread: Minutes,
    /// How long after the check the silent are reminded.
    pub nudge_after: Minutes,
    /// A check is of no use later than this before the start.
    pub check_closes_before: Minutes,
    /// When equipment staff get the fix list, before the start.
    pub fix_list_before: Minutes,
    /// When staff get the list of those who have not answered, before the start.
    pub silent_before: Minutes,
    /// When the coach hears who may not wear a helmet, before the start.
    pub availability_before: Minutes,
    /// When athletes with a helmet to be fixed should be at the equipment room, before the start.
    pub fix_by_before: Minutes,
    /// Hours without texts.
    pub quiet: QuietHours,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(text: &str) -> NaiveTime {
        text.parse().unwrap()
    }

    #[test]
    fn times_are_read_as_people_write_them() {
        assert_eq!(When::parse("06:45"), Ok(When::At(time("06:45:00"))));
        assert_eq!(When::parse("6:45 AM"), Ok(When::At(time("06:45:00"))));
        assert_eq!(When::parse("3 p.m."), Ok(When::At(time("15:00:00"))));
        assert_eq!(When::parse("12am"), Ok(When::At(time("00:00:00"))));
        assert_eq!(When::parse("90 min before"), Ok(When::Before(TimeDelta::minutes(90))));
        assert_eq!(When::parse("1h 30 min before"), Ok(When::Before(TimeDelta::minutes(90))));
        assert_eq!(When::parse("2h30m before"), Ok(When::Before(TimeDelta::minutes(150))));
        for wrong in ["", "soon", "25:00", "13pm", "90 before", "min before", "9 days before"] {
            assert!(When::parse(wrong).is_err(), "{wrong}");
        }
    }

    /// The hours of 47 CFR 64.1200(c)(1): before 8 a.m. or after 9 p.m.
    #[test]
    fn quiet_hours_begin_after_nine_and_end_at_eight() {
        let quiet = QuietHours { from: time("21:00:00"), until: time("08:00:00") };
        assert!(quiet.covers(time("07:59:00")));
        assert!(!quiet.covers(time("08:00:00")));
        assert!(!quiet.covers(time("21:00:00")));
        assert!(quiet.covers(time("21:01:00")));
        assert!(quiet.covers(time("00:00:00")));
        let none = QuietHours { from: time("08:00:00"), until: time("08:00:00") };
        assert!(!none.covers(time("08:00:00")));
    }
}
