//! Moments, zones, local wall-clock times.
//!
//! A [`Moment`] is what is stored and compared; a local time is what people say. Between the two stands
//! [`resolve`], which treats skipped and repeated local times as RFC 5545 does.

use std::fmt;

use chrono::{DateTime, LocalResult, NaiveDate, NaiveDateTime, Offset, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;
use serde::{Deserialize, Serialize};

/// An instant: milliseconds since 1970-01-01T00:00:00Z, leap seconds not counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Moment(i64);

impl Moment {
    /// From milliseconds since the epoch.
    #[must_use]
    pub const fn from_millis(millis: i64) -> Self {
        Self(millis)
    }

    /// Milliseconds since the epoch.
    #[must_use]
    pub const fn millis(self) -> i64 {
        self.0
    }

    /// This much later (or earlier, when negative); saturates at the ends of time.
    #[must_use]
    pub const fn plus(self, delta: TimeDelta) -> Self {
        Self(self.0.saturating_add(delta.num_milliseconds()))
    }

    /// This much earlier.
    #[must_use]
    pub const fn minus(self, delta: TimeDelta) -> Self {
        Self(self.0.saturating_sub(delta.num_milliseconds()))
    }

    /// How long after `earlier` this is; negative when it is before.
    #[must_use]
    pub const fn since(self, earlier: Self) -> TimeDelta {
        TimeDelta::milliseconds(self.0.saturating_sub(earlier.0))
    }

    /// As a UTC date and time. Moments outside chrono's range (some 262,000 years) come out as the epoch.
    #[must_use]
    pub fn utc(self) -> DateTime<Utc> {
        DateTime::from_timestamp_millis(self.0).unwrap_or_default()
    }

    /// The wall-clock time in a zone.
    #[must_use]
    pub fn local(self, zone: Tz) -> NaiveDateTime {
        self.utc().with_timezone(&zone).naive_local()
    }

    /// The calendar date in a zone.
    #[must_use]
    pub fn date(self, zone: Tz) -> NaiveDate {
        self.local(zone).date()
    }

    /// Reads RFC 3339 ("2026-09-01T06:30:00-05:00").
    ///
    /// # Errors
    /// The parser's own message when the text is not RFC 3339.
    pub fn parse(text: &str) -> Result<Self, chrono::ParseError> {
        Ok(DateTime::parse_from_rfc3339(text)?.into())
    }
}

impl<Z: TimeZone> From<DateTime<Z>> for Moment {
    fn from(time: DateTime<Z>) -> Self {
        Self(time.timestamp_millis())
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let utc = self.utc();
        write!(formatter, "{}", utc.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true))
    }
}

/// The moment that a local time names in a zone.
///
/// A local time that daylight saving repeats is the first pass; one that it skips is read with the offset in force
/// before the gap (RFC 5545 section 3.3.5, and for recurrences its verified erratum 4271).
#[must_use]
pub fn resolve(local: NaiveDateTime, zone: Tz) -> Moment {
    match zone.from_local_datetime(&local) {
        LocalResult::Single(time) | LocalResult::Ambiguous(time, _) => time.into(),
        LocalResult::None => {
            // The offset before the gap is the one in force a day earlier: no zone has two gaps in a day.
            let before = local - TimeDelta::days(1);
            let offset = match zone.offset_from_local_datetime(&before) {
                LocalResult::Single(offset) | LocalResult::Ambiguous(offset, _) => offset.fix(),
                LocalResult::None => return Utc.from_utc_datetime(&local).into(),
            };
            let utc = local - TimeDelta::seconds(i64::from(offset.local_minus_utc()));
            Utc.from_utc_datetime(&utc).into()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(zone: Tz, text: &str) -> String {
        let local = NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").unwrap();
        resolve(local, zone).to_string()
    }

    /// RFC 5545 section 3.3.5, both worked examples.
    #[test]
    fn skipped_and_repeated_local_times_follow_the_standard() {
        let new_york = chrono_tz::America::New_York;
        assert_eq!(at(new_york, "2007-11-04 01:30"), "2007-11-04T05:30:00Z");
        assert_eq!(at(new_york, "2007-03-11 02:30"), "2007-03-11T07:30:00Z");
    }

    /// Values of the tz database for 2026.
    #[test]
    fn a_morning_keeps_its_wall_time_across_daylight_saving() {
        let new_york = chrono_tz::America::New_York;
        assert_eq!(at(new_york, "2026-10-31 07:00"), "2026-10-31T11:00:00Z");
        assert_eq!(at(new_york, "2026-11-01 07:00"), "2026-11-01T12:00:00Z");
        assert_eq!(at(new_york, "2026-11-01 01:30"), "2026-11-01T05:30:00Z");
        assert_eq!(at(new_york, "2026-03-08 02:30"), "2026-03-08T07:30:00Z");
        assert_eq!(at(chrono_tz::America::Phoenix, "2026-03-08 07:00"), "2026-03-08T14:00:00Z");
    }

    #[test]
    fn a_moment_round_trips_through_its_text() {
        let moment = Moment::from_millis(1_788_000_123_456);
        assert_eq!(Moment::parse(&moment.to_string()).unwrap(), moment);
    }
}
