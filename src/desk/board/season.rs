//! The season at a glance: answers by day, flags by check point and helmet model, minutes to fix. Sums alone, of helmets
//! alone: nobody's name, and nothing of the body.

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use crate::desk::{Desk, DeskError};
use crate::trade::flag::{Flag, Flags};
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// How far back a season goes.
const SEASON: TimeDelta = TimeDelta::days(150);

/// Answers of a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Day {
    /// The day.
    pub date: NaiveDate,
    /// Checks that went out or were to.
    pub asked: u64,
    /// Checks with an answer that could be read.
    pub answered: u64,
}

impl Day {
    /// Answered, of a hundred.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "a season's checks")]
    pub fn rate(&self) -> f64 {
        if self.asked == 0 { 0.0 } else { 100.0 * self.answered as f64 / self.asked as f64 }
    }
}

/// How long fixes of a kind took.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FixTime {
    /// The flag, by its short name.
    pub flag: String,
    /// How many.
    pub fixes: usize,
    /// The middle one, in minutes.
    pub median: f64,
    /// Three in four took at most so many.
    pub most: f64,
}

/// A table of flags by helmet model.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Models {
    /// The models, the one with most flags first.
    pub models: Vec<String>,
    /// For each flag, by its short name: how often, by model in their order.
    pub rows: Vec<(String, Vec<u64>)>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeasonView {
    /// Since when.
    pub since: NaiveDate,
    /// Answers by day.
    pub days: Vec<Day>,
    /// Flags by check point and model.
    pub models: Models,
    /// Minutes to fix.
    pub fixes: Vec<FixTime>,
}

impl Desk {
    /// The season page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_season(&self, program: &ProgramId, now: Moment) -> Result<SeasonView, DeskError> {
        let program = self.program(program)?;
        let since = now.date(program.zone) - SEASON;
        let mut tx = self.core.store.read().await?;
        let days = tx.checks_by_day(&program.id, since).await?;
        let models = tx.flags_by_model(&program.id, since).await?;
        let fixes = tx.fix_durations(&program.id, since).await?;
        let days = days_of(&days);
        Ok(SeasonView {
            since: days.first().map_or(since, |day| day.date),
            days,
            models: models_of(&models),
            fixes: fixes_of(&fixes),
        })
    }
}

/// "2026-09-15|clear|61": of those asked by text, how many answered so that it could be read.
fn days_of(rows: &[String]) -> Vec<Day> {
    let mut days: BTreeMap<NaiveDate, Day> = BTreeMap::new();
    for row in rows {
        let mut fields = row.split('|');
        let (Some(date), Some(state), Some(count)) = (fields.next(), fields.next(), fields.next()) else { continue };
        let (Ok(date), Ok(count)) = (date.parse::<NaiveDate>(), count.parse::<u64>()) else { continue };
        let day = days.entry(date).or_insert(Day { date, asked: 0, answered: 0 });
        match state {
            "clear" | "flagged" | "absent" => {
                day.asked += count;
                day.answered += count;
            }
            "planned" | "sent" | "unclear" | "later" | "missed" => day.asked += count,
            // Not asked by text, or called off.
            _ => {}
        }
    }
    days.into_values().filter(|day| day.asked > 0).collect()
}

/// "Tern|4|[\"strap\"]".
fn models_of(rows: &[String]) -> Models {
    let mut counts: BTreeMap<(Flag, String), u64> = BTreeMap::new();
    let mut totals: BTreeMap<String, u64> = BTreeMap::new();
    for row in rows {
        let mut fields = row.splitn(3, '|');
        let (Some(model), Some(count), Some(flags)) = (fields.next(), fields.next(), fields.next()) else { continue };
        let (Ok(count), Ok(flags)) = (count.parse::<u64>(), serde_json::from_str::<Flags>(flags)) else { continue };
        let model = if model.is_empty() { "no helmet on file" } else { model };
        for flag in flags.helmet().iter() {
            *counts.entry((flag, model.to_owned())).or_default() += count;
            *totals.entry(model.to_owned()).or_default() += count;
        }
    }
    let mut models: Vec<String> = totals.keys().cloned().collect();
    models.sort_by_key(|model| std::cmp::Reverse(totals[model]));
    let rows = Flag::ALL
        .into_iter()
        .filter(|flag| !flag.is_body())
        .map(|flag| {
            let by_model =
                models.iter().map(|model| counts.get(&(flag, model.clone())).copied().unwrap_or(0)).collect();
            (super::flag_words(std::iter::once(flag)), by_model)
        })
        .filter(|(_, by_model): &(String, Vec<u64>)| by_model.iter().any(|count| *count > 0))
        .collect();
    Models { models, rows }
}

/// "240000|[\"strap\"]": fixes of one flag alone, since minutes of several cannot be told apart.
fn fixes_of(rows: &[String]) -> Vec<FixTime> {
    let mut minutes: BTreeMap<Flag, Vec<f64>> = BTreeMap::new();
    for row in rows {
        let Some((millis, flags)) = row.split_once('|') else { continue };
        let (Ok(millis), Ok(flags)) = (millis.parse::<u32>(), serde_json::from_str::<Flags>(flags)) else { continue };
        let mut flags = flags.helmet().iter();
        if let (Some(only), None) = (flags.next(), flags.next()) {
            minutes.entry(only).or_default().push(f64::from(millis) / 60_000.0);
        }
    }
    minutes
        .into_iter()
        .map(|(flag, mut times)| {
            times.sort_by(f64::total_cmp);
            FixTime {
                flag: super::flag_words(std::iter::once(flag)),
                fixes: times.len(),
                median: quantile(&times, 1, 2),
                most: quantile(&times, 3, 4),
            }
        })
        .collect()
}

/// The smallest of sorted values with at least `part` of `of` at or below it, to a tenth.
fn quantile(sorted: &[f64], part: usize, of: usize) -> f64 {
    let rank = (sorted.len() * part).div_ceil(of).max(1);
    sorted.get(rank - 1).map_or(0.0, |value| (value * 10.0).round() / 10.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(of: &[&str]) -> Vec<String> {
        of.iter().map(|row| (*row).to_owned()).collect()
    }

    #[test]
    fn an_answer_that_was_not_understood_is_no_answer_and_who_was_not_asked_does_not_count() {
        let days = days_of(&rows(&[
            "2026-09-14|by_hand|3",
            "2026-09-15|clear|60",
            "2026-09-15|flagged|10",
            "2026-09-15|sent|20",
            "2026-09-15|unclear|10",
            "2026-09-15|held|2",
        ]));
        assert_eq!(days.len(), 1, "a day on which nobody was asked has no rate");
        assert_eq!((days[0].asked, days[0].answered), (100, 70));
        assert!((days[0].rate() - 70.0).abs() < 1e-9);
    }

    #[test]
    fn flags_are_counted_for_each_model_and_body_flags_are_not() {
        let models = models_of(&rows(&[
            "Tern|2|[\"strap\",\"symptom\"]",
            "Tern|1|[\"strap\",\"hardware\"]",
            "|1|[\"missing\"]",
            "Halyard|5|[\"symptom\"]",
        ]));
        assert_eq!(models.models, ["Tern", "no helmet on file"]);
        assert_eq!(
            models.rows,
            [("strap".to_owned(), vec![3, 0]), ("hardware".to_owned(), vec![1, 0]), ("missing".to_owned(), vec![0, 1])]
        );
    }

    #[test]
    fn the_middle_fix_is_the_middle_one() {
        let fixes = fixes_of(&rows(&[
            "60000|[\"strap\"]",
            "240000|[\"strap\"]",
            "600000|[\"strap\"]",
            "1|[\"strap\",\"air\"]",
        ]));
        assert_eq!(fixes.len(), 1, "two flags at once say nothing of either");
        assert_eq!((fixes[0].fixes, fixes[0].median, fixes[0].most), (3, 4.0, 10.0));
    }
}
