//! Times of drills: how they go, and whether they get slower.

use chrono::NaiveDate;

use super::{Competence, Drill, competences};
use crate::trade::model::Model;

/// Times of one competence, in the order of their days.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// Of what.
    pub competence: Competence,
    /// Day and seconds.
    pub times: Vec<(NaiveDate, u32)>,
}

/// The times of each competence that has any.
#[must_use]
pub fn series(drills: &[Drill], models: &[Model]) -> Vec<Series> {
    let mut all: std::collections::BTreeMap<Competence, Vec<(NaiveDate, u32)>> = std::collections::BTreeMap::new();
    for drill in drills.iter().filter(|drill| !drill.undone) {
        let Some(seconds) = drill.seconds else { continue };
        for competence in competences(drill, models) {
            all.entry(competence).or_default().push((drill.date, seconds));
        }
    }
    all.into_iter()
        .map(|(competence, mut times)| {
            times.sort_unstable();
            Series { competence, times }
        })
        .collect()
}

/// Seconds a day by which times change: the median slope between all pairs of days (Theil 1950, Sen 1968), which single
/// bad days do not bend. None with fewer than three days.
#[must_use]
pub fn slope(times: &[(NaiveDate, u32)]) -> Option<f64> {
    let mut slopes: Vec<f64> = Vec::new();
    for (index, (day, seconds)) in times.iter().enumerate() {
        for (later, more) in &times[index + 1..] {
            #[expect(clippy::cast_precision_loss, reason = "days of a few years")]
            let days = (*later - *day).num_days() as f64;
            if days > 0.0 {
                slopes.push((f64::from(*more) - f64::from(*seconds)) / days);
            }
        }
    }
    if times.len() < 3 { None } else { median(&mut slopes) }
}

/// How much slower the last time is than it used to be, in percent, where that is worth a word: at least a fifth and five
/// seconds above the median of the times before it, of which there are three or more.
#[must_use]
pub fn slower_by(times: &[(NaiveDate, u32)]) -> Option<u32> {
    let ((_, last), before) = times.split_last()?;
    if before.len() < 3 {
        return None;
    }
    let mut before: Vec<f64> = before.iter().map(|(_, seconds)| f64::from(*seconds)).collect();
    let usual = median(&mut before)?;
    let more = f64::from(*last) - usual;
    if usual <= 0.0 || more < 5.0 || more / usual < 0.2 {
        return None;
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "positive percents")]
    Some((more / usual * 100.0).round() as u32)
}

/// "42", "42s", "42 sec", "1:05", "1m5s": seconds, up to an hour.
#[must_use]
pub fn seconds(text: &str) -> Option<u32> {
    let text: String = text.trim().to_lowercase().split_whitespace().collect();
    let bare = ["seconds", "secs", "sec", "s"].iter().find_map(|unit| text.strip_suffix(unit)).unwrap_or(&text);
    let parts = bare.split_once(':').or_else(|| bare.split_once('m'));
    let total = match parts {
        None => bare.parse().ok()?,
        Some((minutes, rest)) => {
            let rest: u32 = if rest.is_empty() { 0 } else { rest.parse().ok().filter(|rest| *rest < 60)? };
            minutes.parse::<u32>().ok()?.checked_mul(60)?.checked_add(rest)?
        }
    };
    (1..=3_600).contains(&total).then_some(total)
}

fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    if values.len() % 2 == 1 {
        return values.get(middle).copied();
    }
    Some(f64::midpoint(*values.get(middle.checked_sub(1)?)?, *values.get(middle)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(seconds: &[u32]) -> Vec<(NaiveDate, u32)> {
        let first: NaiveDate = "2026-08-01".parse().unwrap();
        let days = first.iter_days().step_by(10);
        days.zip(seconds.iter().copied()).collect()
    }

    #[test]
    fn times_are_read_as_people_write_them() {
        for (text, expected) in [("42", 42), ("42s", 42), ("42 sec", 42), ("1:05", 65), ("1m5s", 65), ("2m", 120)] {
            assert_eq!(seconds(text), Some(expected), "{text}");
        }
        for wrong in ["", "s", "0", "fast", "1:75", "4000", "-3"] {
            assert_eq!(seconds(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn one_bad_day_does_not_bend_the_slope() {
        assert_eq!(slope(&times(&[50, 49, 48, 47, 46])), Some(-0.1));
        assert_eq!(slope(&times(&[50, 49, 148, 47, 46])).map(|slope| slope < 0.0), Some(true));
        assert_eq!(slope(&times(&[50, 40])), None);
    }

    #[test]
    fn a_slow_down_is_said_when_it_is_one() {
        assert_eq!(slower_by(&times(&[40, 42, 38, 60])), Some(50));
        assert_eq!(slower_by(&times(&[40, 42, 38, 44])), None);
        assert_eq!(slower_by(&times(&[40, 60])), None, "too few to say so");
        assert_eq!(slower_by(&[]), None);
    }
}
