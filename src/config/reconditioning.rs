//! The settings of reconditioning and service life.

use chrono::{NaiveDate, TimeDelta, Weekday};
use serde::Deserialize;

use super::{ConfigError, Reader};
use crate::trade::roster::TeamId;
use crate::trade::service::{Lead, Rules};

/// How a program has its helmets reconditioned.
#[derive(Debug, Clone, PartialEq)]
pub struct Reconditioning {
    /// How long helmets serve.
    pub rules: Rules,
    /// The first practice of the next season; without it nothing is reckoned backward.
    pub first_practice: Option<NaiveDate>,
    /// Days that a season lasts.
    pub season_days: i64,
    /// How long the way to the shop and back takes.
    pub lead: Lead,
    /// The weekday on which batches are picked up.
    pub pick_up: Option<Weekday>,
    /// Helmets that the shop takes in one batch.
    pub batch_most: usize,
    /// Cost of a batch, of a helmet at the shop, and of a new one.
    pub costs: (f64, f64, f64),
    /// Spans of spring and summer work, each with its teams; none means all.
    pub work: Vec<(NaiveDate, NaiveDate, Vec<TeamId>)>,
}

impl Default for Reconditioning {
    /// Costs are round numbers to be replaced by the shop's own.
    fn default() -> Self {
        Self {
            rules: Rules::default(),
            first_practice: None,
            season_days: 120,
            lead: Lead::default(),
            pick_up: None,
            batch_most: 100,
            costs: (150.0, 50.0, 400.0),
            work: Vec::new(),
        }
    }
}

impl Reconditioning {
    /// The next season: its first and its last day.
    #[must_use]
    pub fn season(&self) -> Option<(NaiveDate, NaiveDate)> {
        self.first_practice.map(|first| (first, first + TimeDelta::days(self.season_days)))
    }
}

/// `[programs.KEY.reconditioning]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct ReconditioningTable {
    recertify_months: Option<u32>,
    certified_months: Option<u32>,
    retire_years: Option<i32>,
    first_practice: Option<String>,
    season_days: Option<i64>,
    packing_days: Option<i64>,
    outbound_days: Option<i64>,
    turnaround_days: Option<i64>,
    inbound_days: Option<i64>,
    fitting_days: Option<i64>,
    pick_up: Option<String>,
    batch_most: Option<usize>,
    batch_cost: Option<f64>,
    helmet_cost: Option<f64>,
    new_cost: Option<f64>,
    work: Vec<WorkTable>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct WorkTable {
    from: String,
    until: String,
    #[serde(default)]
    teams: Vec<String>,
}

impl Reader<'_> {
    pub(super) fn reconditioning(&self, key: &str, table: ReconditioningTable) -> Result<Reconditioning, ConfigError> {
        let mut settings = Reconditioning::default();
        self.rules(key, &table, &mut settings.rules)?;
        if let Some(text) = &table.first_practice {
            settings.first_practice = Some(self.day(&format!("{key}.first_practice"), text)?);
        }
        let lead = &mut settings.lead;
        for (name, given, days) in [
            ("season_days", table.season_days, &mut settings.season_days),
            ("packing_days", table.packing_days, &mut lead.packing),
            ("outbound_days", table.outbound_days, &mut lead.outbound),
            ("turnaround_days", table.turnaround_days, &mut lead.turnaround),
            ("inbound_days", table.inbound_days, &mut lead.inbound),
            ("fitting_days", table.fitting_days, &mut lead.fitting),
        ] {
            let Some(given) = given else { continue };
            if !(0..=365).contains(&given) {
                return Err(
                    self.wrong(format!("{key}.{name}"), format!("`{given}` is not a number of days from 0 to 365"))
                );
            }
            *days = given;
        }
        if let Some(text) = &table.pick_up {
            let weekday = text.parse().map_err(|_| {
                self.wrong(format!("{key}.pick_up"), format!("`{text}` is no weekday; write it as `mon`"))
            })?;
            settings.pick_up = Some(weekday);
        }
        if let Some(most) = table.batch_most {
            if most == 0 {
                return Err(self.wrong(format!("{key}.batch_most"), "a batch holds at least 1 helmet".to_owned()));
            }
            settings.batch_most = most;
        }
        let (batch, helmet, new) = &mut settings.costs;
        for (name, given, cost) in [
            ("batch_cost", table.batch_cost, batch),
            ("helmet_cost", table.helmet_cost, helmet),
            ("new_cost", table.new_cost, new),
        ] {
            let Some(given) = given else { continue };
            if !(0.0..=1e6).contains(&given) {
                return Err(self.wrong(format!("{key}.{name}"), format!("`{given}` is no cost from 0 to 1000000")));
            }
            *cost = given;
        }
        for (nth, work) in table.work.iter().enumerate() {
            let place = format!("{key}.work.{}", nth + 1);
            let (from, until) = (self.day(&place, &work.from)?, self.day(&place, &work.until)?);
            if until < from {
                return Err(self.wrong(place, format!("it ends ({until}) before it begins ({from})")));
            }
            settings.work.push((from, until, work.teams.iter().map(|team| TeamId(team.clone())).collect()));
        }
        Ok(settings)
    }

    fn rules(&self, key: &str, table: &ReconditioningTable, rules: &mut Rules) -> Result<(), ConfigError> {
        let months = |name: &str, months: u32| match months {
            1..=120 => Ok(months),
            _ => {
                Err(self.wrong(format!("{key}.{name}"), format!("`{months}` is not a number of months from 1 to 120")))
            }
        };
        if let Some(given) = table.recertify_months {
            rules.recertify_months = months("recertify_months", given)?;
        }
        if let Some(given) = table.certified_months {
            rules.certified_months = months("certified_months", given)?;
        }
        if let Some(years) = table.retire_years {
            // Reconditioners take none of ten years or older; a program may be stricter, not laxer.
            if !(1..=10).contains(&years) {
                let what =
                    format!("`{years}` is not a number of years from 1 to 10; reconditioners take no older helmet");
                return Err(self.wrong(format!("{key}.retire_years"), what));
            }
            rules.retire_years = years;
        }
        Ok(())
    }

    fn day(&self, place: &str, text: &str) -> Result<NaiveDate, ConfigError> {
        text.parse().map_err(|_| self.wrong(place.to_owned(), format!("`{text}` is no date; write it as `2027-08-02`")))
    }
}
