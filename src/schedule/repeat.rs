//! Repeats that staff set: a cron line ("0 7 * * mon") or a rule of RFC 5545 ("FREQ=WEEKLY;BYDAY=MO;BYHOUR=7;BYMINUTE=0").
//!
//! Both are followed on local wall time, as if every day had every hour, and each local time is then placed by
//! [`resolve`]. So a time that daylight saving skips still comes, once, and one that it repeats comes once: one reminder a
//! day. (cron daemons and libraries differ here; RFC 5545 section 3.3.5 with erratum 4271 is the rule followed.)

use std::fmt;
use std::str::FromStr;

use chrono::{NaiveDate, NaiveDateTime, TimeDelta, TimeZone as _, Utc};
use chrono_tz::Tz;
use rrule::{RRule, RRuleSet, Tz as RuleZone, Unvalidated};
use serde::{Deserialize, Deserializer};

use crate::trade::time::{Moment, resolve};

/// How often a repeat is looked at before it is taken to have no further time.
const MOST_STEPS: usize = 20_000;

/// A repeat.
#[derive(Clone)]
pub struct Repeat {
    text: String,
    kind: Kind,
}

#[derive(Clone)]
enum Kind {
    Cron(Box<croner::Cron>),
    Rule(Box<RRuleSet>),
}

/// Why a text is no repeat.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "`{text}` is no repeat ({why}); write a cron line such as `0 7 * * mon`, or a rule such as `FREQ=WEEKLY;BYDAY=MO;BYHOUR=7;BYMINUTE=0`"
)]
pub struct NoRepeat {
    /// What was written.
    pub text: String,
    /// What is wrong with it.
    pub why: String,
}

impl FromStr for Repeat {
    type Err = NoRepeat;

    /// Reads a cron line of five fields, or a rule, with or without `RRULE:` before it. A rule counts from Monday, 1
    /// January 2024, unless `DTSTART:20260803T070000;` stands before it.
    fn from_str(text: &str) -> Result<Self, NoRepeat> {
        let wrong = |why: String| NoRepeat { text: text.to_owned(), why };
        let trimmed = text.trim();
        let upper = trimmed.to_ascii_uppercase();
        let kind = if upper.contains("FREQ=") { rule(&upper).map(Kind::Rule) } else { cron(trimmed).map(Kind::Cron) };
        let repeat = Self { text: trimmed.to_owned(), kind: kind.map_err(wrong)? };
        Ok(repeat)
    }
}

fn cron(line: &str) -> Result<Box<croner::Cron>, String> {
    if line.split_whitespace().count() != 5 {
        return Err("a cron line has five fields: minute, hour, day, month, weekday".to_owned());
    }
    let cron: croner::Cron = line.parse().map_err(|error: croner::errors::CronError| error.to_string())?;
    let often = line.split_whitespace().take(2).any(|field| field.contains(['*', '/']) || field.contains('-'));
    if often {
        return Err("minute and hour are single times, or lists of them: nobody is reminded every minute".to_owned());
    }
    Ok(Box::new(cron))
}

fn rule(text: &str) -> Result<Box<RRuleSet>, String> {
    let (start, rule) = match text.strip_prefix("DTSTART:") {
        Some(rest) => {
            let (start, rule) = rest.split_once([';', ' ', '\n']).ok_or("no rule follows DTSTART")?;
            let start = NaiveDateTime::parse_from_str(start.trim(), "%Y%m%dT%H%M%S");
            (start.map_err(|_| "DTSTART is written as 20260803T070000".to_owned())?, rule)
        }
        None => (monday(), text),
    };
    let rule = rule.trim().trim_start_matches("RRULE:");
    if ["SECONDLY", "MINUTELY", "HOURLY"].iter().any(|often| rule.contains(often)) {
        return Err("it repeats within the hour".to_owned());
    }
    let start = RuleZone::UTC.from_utc_datetime(&start);
    let rule: RRule<Unvalidated> = rule.parse().map_err(|error: rrule::RRuleError| error.to_string())?;
    let rule = rule.validate(start).map_err(|error| error.to_string())?;
    Ok(Box::new(RRuleSet::new(start).rrule(rule)))
}

fn monday() -> NaiveDateTime {
    NaiveDate::from_ymd_opt(2024, 1, 1).unwrap_or_default().into()
}

impl Repeat {
    /// The first time after a moment, in a zone; none when there is no further one.
    #[must_use]
    pub fn next_after(&self, after: Moment, zone: Tz) -> Option<Moment> {
        // A gap or an overlap moves a local time by some hours at most.
        let from = after.local(zone) - TimeDelta::hours(4);
        self.locals(from).map(|local| resolve(local, zone)).find(|at| *at > after)
    }

    /// All times in a span, its end included, its beginning not.
    #[must_use]
    pub fn between(&self, after: Moment, until: Moment, zone: Tz) -> Vec<Moment> {
        let from = after.local(zone) - TimeDelta::hours(4);
        let times = self.locals(from).map(|local| resolve(local, zone)).skip_while(|at| *at <= after);
        times.take_while(|at| *at <= until).collect()
    }

    /// Local times after `from`, in order.
    fn locals(&self, from: NaiveDateTime) -> Box<dyn Iterator<Item = NaiveDateTime> + '_> {
        match &self.kind {
            Kind::Cron(cron) => {
                let next = move |after: &NaiveDateTime| {
                    let after = Utc.from_utc_datetime(after);
                    cron.find_next_occurrence(&after, false).ok().map(|time| time.naive_utc())
                };
                Box::new(std::iter::successors(next(&from), next).take(MOST_STEPS))
            }
            Kind::Rule(set) => {
                let set: &RRuleSet = set;
                let all = set.into_iter().take(MOST_STEPS).map(|time| time.naive_utc());
                Box::new(all.skip_while(move |local| *local <= from))
            }
        }
    }
}

impl fmt::Debug for Repeat {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.debug_tuple("Repeat").field(&self.text).finish()
    }
}

impl fmt::Display for Repeat {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.text)
    }
}

impl PartialEq for Repeat {
    fn eq(&self, other: &Self) -> bool {
        self.text == other.text
    }
}

impl Eq for Repeat {}

impl<'de> Deserialize<'de> for Repeat {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono_tz::America::New_York;

    fn at(text: &str) -> Moment {
        Moment::parse(text).unwrap()
    }

    fn times(repeat: &str, from: &str, count: usize) -> Vec<String> {
        let repeat: Repeat = repeat.parse().unwrap();
        let next = |after: &Moment| repeat.next_after(*after, New_York);
        std::iter::successors(next(&at(from)), next).take(count).map(|at| at.to_string()).collect()
    }

    #[test]
    fn a_cron_line_keeps_its_wall_time_and_weekdays_are_those_of_cron() {
        // 1 November 2026 ends daylight saving; Monday is 1 in cron, and so it is here.
        let expected = ["2026-10-26T11:00:00Z", "2026-11-02T12:00:00Z", "2026-11-09T12:00:00Z"];
        assert_eq!(times("0 7 * * 1", "2026-10-20T00:00:00Z", 3), expected);
        assert_eq!(times("0 7 * * mon", "2026-10-20T00:00:00Z", 3), expected);
        assert_eq!(times("0 7 * * 0", "2026-10-20T00:00:00Z", 1), ["2026-10-25T11:00:00Z"]);
    }

    /// RFC 5545 section 3.3.5 and erratum 4271: the skipped time comes, the repeated one comes once.
    #[test]
    fn skipped_and_repeated_times_come_once() {
        for daily in ["30 2 * * *", "FREQ=DAILY;BYHOUR=2;BYMINUTE=30;BYSECOND=0"] {
            let expected = ["2026-03-07T07:30:00Z", "2026-03-08T07:30:00Z", "2026-03-09T06:30:00Z"];
            assert_eq!(times(daily, "2026-03-07T00:00:00Z", 3), expected, "{daily}");
        }
        for daily in ["30 1 * * *", "FREQ=DAILY;BYHOUR=1;BYMINUTE=30;BYSECOND=0"] {
            let expected = ["2026-11-01T05:30:00Z", "2026-11-02T06:30:00Z"];
            assert_eq!(times(daily, "2026-11-01T00:00:00Z", 2), expected, "{daily}");
            // Asked between the two passes, the next is tomorrow's.
            assert_eq!(times(daily, "2026-11-01T06:10:00Z", 1), ["2026-11-02T06:30:00Z"], "{daily}");
        }
    }

    /// RFC 5545 section 3.8.5.3: every other week on Tuesday and Thursday, 8 times.
    #[test]
    fn a_rule_of_the_standard_is_followed() {
        let rule = "DTSTART:19970902T090000;FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH";
        let days: Vec<String> =
            times(rule, "1997-09-01T00:00:00Z", 20).iter().map(|time| time[5..10].to_owned()).collect();
        assert_eq!(days, ["09-02", "09-04", "09-16", "09-18", "09-30", "10-02", "10-14", "10-16"]);
    }

    #[test]
    fn what_is_no_repeat_says_how_one_is_written() {
        for wrong in
            ["", "every monday", "* * * * *", "0 */2 * * *", "0 25 * * *", "FREQ=HOURLY", "FREQ=NEVER", "0 7 * *"]
        {
            let error = wrong.parse::<Repeat>().unwrap_err().to_string();
            assert!(error.contains("0 7 * * mon"), "{error}");
        }
    }

    #[test]
    fn a_span_has_all_its_times_and_its_end() {
        let repeat: Repeat = "0 7,19 * * *".parse().unwrap();
        let all = repeat.between(at("2026-09-01T11:00:00Z"), at("2026-09-02T11:00:00Z"), New_York);
        assert_eq!(all, [at("2026-09-01T23:00:00Z"), at("2026-09-02T11:00:00Z")]);
    }
}
