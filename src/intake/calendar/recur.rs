//! Recurrence rules on local wall time, bounded.
//!
//! The `rrule` crate expands; the rule is given to it as if in UTC, so that it sees wall time alone and every day has
//! every hour. UNTIL is taken out and applied here, on moments, since it is most often given in UTC.

use std::fmt::Write as _;

use chrono::{Datelike, NaiveDate, NaiveDateTime, TimeZone};
use rrule::{RRule, RRuleSet, Tz as RuleZone, Unvalidated};

use super::super::Fault;
use super::value::{self, Zoned};
use crate::trade::time::{Moment, resolve};
use chrono_tz::Tz;

/// Occurrences looked at for one rule before it is refused: daily for more than fifty years.
const MOST_STEPS: usize = 20_000;
/// Occurrences of one rule on a day before it is refused.
const MOST_A_DAY: usize = 8;

/// A rule, read and checked.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    text: String,
    until: Option<Until>,
    count: Option<usize>,
}

/// The last moment of a rule.
#[derive(Debug, Clone, Copy)]
enum Until {
    /// In UTC.
    Moment(Moment),
    /// In the zone of the start.
    Local(NaiveDateTime),
    /// A day, meant to its end: a rule that stops at its midnight would lose that day's practice.
    Day(NaiveDate),
}

impl Rule {
    /// Reads the value of an RRULE property.
    ///
    /// # Errors
    /// A [`Fault`] when it is no rule, or repeats more often than practices do.
    pub(super) fn parse(text: &str) -> Result<Self, Fault> {
        let wrong =
            |why: &str| Fault::new(format!("the rule `{text}` {why}"), "set the repeat again in the calendar program");
        let allowed = |c: char| c.is_ascii_alphanumeric() || "=;,+-".contains(c);
        let compact: String = text.chars().filter(|c| !c.is_ascii_whitespace()).collect();
        if !compact.chars().all(allowed) {
            return Err(wrong("cannot be read"));
        }
        let mut rule = Self { text: String::new(), until: None, count: None };
        let mut a_day = 1_usize;
        for part in compact.to_ascii_uppercase().split(';').filter(|part| !part.is_empty()) {
            let (name, value) = part.split_once('=').ok_or_else(|| wrong("cannot be read"))?;
            if matches!(name, "BYHOUR" | "BYMINUTE" | "BYSECOND") {
                a_day = a_day.saturating_mul(value.split(',').count());
            }
            rule.take(name, value).map_err(wrong)?;
        }
        if a_day > MOST_A_DAY {
            return Err(wrong("repeats too often in a day"));
        }
        if rule.until.is_some() && rule.count.is_some() {
            return Err(wrong("has both COUNT and UNTIL"));
        }
        let compiled = rule.compile(NaiveDateTime::default());
        compiled.map_err(|why| wrong(&format!("cannot be used ({why})")))?;
        Ok(rule)
    }

    /// Takes one part: the end to itself, the rest to the text that the crate reads.
    fn take(&mut self, name: &str, value: &str) -> Result<(), &'static str> {
        match name {
            "UNTIL" => {
                self.until = Some(until(value).ok_or("has no readable UNTIL")?);
                return Ok(());
            }
            "COUNT" => {
                let count = value.parse().ok().filter(|count| *count > 0);
                self.count = Some(count.ok_or("has no usable COUNT")?);
                return Ok(());
            }
            "INTERVAL" if value.parse().ok().is_none_or(|interval: u16| interval == 0) => {
                return Err("has no usable INTERVAL");
            }
            "FREQ" if !matches!(value, "DAILY" | "WEEKLY" | "MONTHLY" | "YEARLY") => {
                return Err("repeats within the day");
            }
            _ => {}
        }
        let separator = if self.text.is_empty() { "" } else { ";" };
        // Writing to a String does not fail.
        let _ = write!(self.text, "{separator}{name}={value}");
        Ok(())
    }

    /// Whether the rule ends on a day and not at a time.
    pub(super) fn ends_on_a_day(&self) -> bool {
        matches!(self.until, Some(Until::Day(_)))
    }

    fn compile(&self, start: NaiveDateTime) -> Result<RRuleSet, String> {
        let start = RuleZone::UTC.from_utc_datetime(&start);
        let rule: RRule<Unvalidated> = self.text.parse().map_err(|error: rrule::RRuleError| error.to_string())?;
        let rule = rule.validate(start).map_err(|error| error.to_string())?;
        Ok(RRuleSet::new(start).rrule(rule).limit())
    }

    /// The local starts from `start` through the end of `window`, in order, `start` first: it belongs to the set
    /// and to COUNT even where the rule alone would not give it (RFC 5545 sections 3.8.2.4 and 3.3.10). Empty when
    /// the rule is over before it starts, which is how calendar programs write a series cut off at its first occurrence.
    ///
    /// # Errors
    /// A [`Fault`] when there are too many to be practices.
    pub(super) fn expand(&self, start: Zoned, window_end: Moment) -> Result<Expansion, Fault> {
        let again = "set the repeat again in the calendar program";
        let year = start.local.year();
        if !(1970..=2200).contains(&year) {
            let what = format!("a repeat from the year {year} cannot be meant");
            return Err(Fault::new(what, again));
        }
        let set = self.compile(start.local).map_err(|why| Fault::new(why, again))?;
        if self.is_over(start.local, start.zone) {
            return Ok(Expansion { starts: Vec::new(), irregular: false });
        }
        let mut expansion = Expansion { starts: vec![start.local], irregular: true };
        let ends = |local: NaiveDateTime| resolve(local, start.zone) > window_end || self.is_over(local, start.zone);
        for (step, time) in (&set).into_iter().enumerate() {
            let local = time.naive_utc();
            if step == 0 {
                expansion.irregular = local != start.local;
            }
            if self.count.is_some_and(|count| expansion.starts.len() >= count) || ends(local) {
                break;
            }
            if step >= MOST_STEPS {
                let what = "the rule gives too many occurrences";
                return Err(Fault::new(what, "give the repeat an end, or a later start"));
            }
            if local != start.local {
                expansion.starts.push(local);
            }
        }
        Ok(expansion)
    }

    fn is_over(&self, local: NaiveDateTime, zone: Tz) -> bool {
        match self.until {
            None => false,
            Some(Until::Moment(until)) => resolve(local, zone) > until,
            Some(Until::Local(until)) => local > until,
            Some(Until::Day(until)) => local.date() > until,
        }
    }
}

/// Local starts of a rule.
#[derive(Debug)]
pub(super) struct Expansion {
    /// In order.
    pub(super) starts: Vec<NaiveDateTime>,
    /// The start is not one that the rule gives.
    pub(super) irregular: bool,
}

fn until(text: &str) -> Option<Until> {
    match text.strip_suffix('Z') {
        Some(utc) => value::date_time(utc).map(|utc| Until::Moment(resolve(utc, Tz::UTC))),
        None => value::date_time(text).map(Until::Local).or_else(|| value::day(text).map(Until::Day)),
    }
}
