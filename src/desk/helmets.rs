//! Helmets over the years: how each stands, which have to go to the shop and by when, and which have to be replaced.

use std::collections::BTreeMap;

use chrono::{Datelike as _, NaiveDate};
use serde::Serialize;

use super::scene::{Kept, Scene};
use crate::config::Reconditioning;
use crate::store::{Result, Tx};
use crate::trade::batches::{Going, NoPlan, Plan, Terms, Work, plan};
use crate::trade::model::{Model, find};
use crate::trade::roster::{Athlete, AthleteId, Helmet};
use crate::trade::service::{Limits, Standing, Way, has_to_go, limits, standing};
use crate::trade::size::fitting;

pub mod record;
pub(super) mod remind;
pub mod say;

/// All helmets, with whom they fit.
#[derive(Debug, Default)]
pub struct Rack {
    /// Helmets by tag.
    pub helmets: Kept<String, Helmet>,
    /// Helmet models.
    pub models: Vec<Model>,
    /// Active athletes.
    pub athletes: BTreeMap<AthleteId, Athlete>,
}

/// Loads all helmets; none when the program has none.
pub async fn load(tx: &mut Tx, scene: &Scene<'_>) -> Result<Option<Rack>> {
    let program = &scene.program.id;
    let helmets = tx.all_helmets(program).await?;
    if helmets.is_empty() {
        return Ok(None);
    }
    let mut rack = Rack::default();
    rack.helmets.load(helmets.into_iter().map(|helmet| (helmet.tag.0.clone(), helmet)));
    rack.models = tx.models(program).await?;
    let athletes = tx.all_athletes(program).await?.into_iter().filter(|athlete| athlete.active);
    rack.athletes = athletes.map(|athlete| (athlete.id.clone(), athlete)).collect();
    Ok(Some(rack))
}

/// How many helmets of a size there will be for a season, and how many athletes need one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SizeCount {
    /// Shell size; empty where it is not known.
    pub size: String,
    /// Helmets that still serve.
    pub serve: usize,
    /// Helmets that retire before the season.
    pub retire: usize,
    /// Athletes whom the size fits.
    pub needed: usize,
    /// Helmets to replace: athletes without one.
    pub replace: usize,
}

/// What retires before a season.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Retirements {
    /// The season's year.
    pub season: i32,
    /// Tags of the helmets that serve no more from then on and did the season before.
    pub tags: Vec<String>,
    /// By shell size.
    pub sizes: Vec<SizeCount>,
}

impl Rack {
    /// The dates that bound a helmet's service.
    #[must_use]
    pub fn limits(&self, helmet: &Helmet, settings: &Reconditioning) -> Limits {
        limits(helmet, &self.models, &settings.rules)
    }

    /// How a helmet stands on a day.
    #[must_use]
    pub fn standing(&self, helmet: &Helmet, settings: &Reconditioning, on: NaiveDate) -> Standing {
        standing(helmet, &self.limits(helmet, settings), on)
    }

    /// The helmet that an athlete wears.
    #[must_use]
    pub fn worn_by(&self, athlete: &AthleteId) -> Option<&Helmet> {
        self.helmets.values().find(|helmet| helmet.athlete.as_ref() == Some(athlete))
    }

    /// Helmets that have to go to the shop before the next season; none without one.
    #[must_use]
    pub fn to_go(&self, settings: &Reconditioning) -> Vec<&Helmet> {
        let Some(season) = settings.season() else { return Vec::new() };
        self.helmets.values().filter(|helmet| has_to_go(helmet, &self.limits(helmet, settings), season)).collect()
    }

    /// The dates of the way to the shop and back, when the next season's first practice is known and lies ahead.
    #[must_use]
    pub fn way(&self, settings: &Reconditioning, today: NaiveDate) -> Option<Way> {
        settings.first_practice.filter(|first| *first > today).map(|first| settings.lead.backward(first))
    }

    /// The shell size that an athlete needs: by the head and the chart of the model worn, else the size worn.
    #[must_use]
    pub fn size_of(&self, athlete: &Athlete) -> Option<String> {
        let worn = self.worn_by(&athlete.id);
        let chart = worn.and_then(|helmet| find(&self.models, &helmet.model));
        let chart = chart.or_else(|| self.models.iter().find(|model| !model.sizes.is_empty()));
        let by_head = chart.zip(athlete.head_mm).and_then(|(model, head)| fitting(model, head));
        by_head.map(ToOwned::to_owned).or_else(|| worn.and_then(|helmet| helmet.size.clone()))
    }

    /// The shell size of a helmet's model that an athlete's head asks for, where both are known.
    #[must_use]
    pub fn size_asked(&self, athlete: &Athlete, helmet: &Helmet) -> Option<&str> {
        fitting(find(&self.models, &helmet.model)?, athlete.head_mm?)
    }

    /// The plan of batches.
    ///
    /// # Errors
    /// [`NoPlan`]; none when there is no season to plan for.
    pub fn plan(&self, settings: &Reconditioning, today: NaiveDate) -> Option<std::result::Result<Plan, NoPlan>> {
        let way = self.way(settings, today)?;
        let season = settings.season()?;
        let helmets: Vec<Going> = self
            .helmets
            .values()
            .filter(|helmet| helmet.failed.is_none() && helmet.shipped.is_none())
            .map(|helmet| {
                let limits = self.limits(helmet, settings);
                let ends = [limits.certified, limits.serves].into_iter().flatten().min();
                let goes = has_to_go(helmet, &limits, season);
                Going { tag: helmet.tag.0.clone(), size: helmet.size.clone().unwrap_or_default(), until: ends, goes }
            })
            .collect();
        let works: Vec<Work> = settings
            .work
            .iter()
            .filter(|(from, ..)| *from > today)
            .map(|(from, until, teams)| {
                let mut needs = BTreeMap::new();
                let works = |athlete: &&Athlete| teams.is_empty() || teams.contains(&athlete.team);
                for athlete in self.athletes.values().filter(works) {
                    if let Some(size) = self.size_of(athlete) {
                        *needs.entry(size).or_default() += 1;
                    }
                }
                Work { from: *from, until: *until, needs }
            })
            .collect();
        let (batch_cost, helmet_cost, new_cost) = settings.costs;
        let terms = Terms {
            from: today,
            ship_by: way.ship_by,
            away_days: settings.lead.away(),
            pick_up: settings.pick_up,
            most: settings.batch_most,
            batch_cost,
            helmet_cost,
            new_cost,
        };
        Some(plan(&helmets, &works, &terms))
    }

    /// What retires before each of the coming seasons, with the helmets to replace by size.
    #[must_use]
    pub fn retirements(&self, settings: &Reconditioning, today: NaiveDate, seasons: i32) -> Vec<Retirements> {
        let first =
            settings.first_practice.filter(|first| *first > today).map_or(today.year() + 1, |first| first.year());
        (first..first + seasons).map(|season| self.retirement(settings, season)).collect()
    }

    fn retirement(&self, settings: &Reconditioning, season: i32) -> Retirements {
        let serves = |helmet: &Helmet, year: i32| {
            let limit = self.limits(helmet, settings).serves;
            helmet.failed.is_none() && limit.is_none_or(|limit| limit.year() >= year)
        };
        let mut sizes: BTreeMap<String, SizeCount> = BTreeMap::new();
        let mut tags = Vec::new();
        let of = |sizes: &mut BTreeMap<String, SizeCount>, size: String, count: fn(&mut SizeCount)| {
            let new = SizeCount { size: size.clone(), serve: 0, retire: 0, needed: 0, replace: 0 };
            count(sizes.entry(size).or_insert(new));
        };
        for helmet in self.helmets.values() {
            let size = helmet.size.clone().unwrap_or_default();
            if serves(helmet, season) {
                of(&mut sizes, size, |row| row.serve += 1);
            } else if serves(helmet, season - 1) {
                tags.push(helmet.tag.0.clone());
                of(&mut sizes, size, |row| row.retire += 1);
            }
        }
        for athlete in self.athletes.values() {
            if let Some(size) = self.size_of(athlete) {
                of(&mut sizes, size, |row| row.needed += 1);
            }
        }
        let sizes = sizes.into_values().map(|row| SizeCount { replace: row.needed.saturating_sub(row.serve), ..row });
        Retirements { season, tags, sizes: sizes.collect() }
    }

    /// The day on which a helmet that is away is expected back.
    #[must_use]
    pub fn expected(&self, helmet: &Helmet, settings: &Reconditioning) -> Option<NaiveDate> {
        let shipped = helmet.shipped?;
        Some(helmet.promised.unwrap_or_else(|| shipped + chrono::TimeDelta::days(settings.lead.away())))
    }

    /// The one helmet that a word means: its tag, or a tag with the same number behind the same beginning, or any beginning
    /// where that alone tells ("h12", "12" for LV-012).
    #[must_use]
    pub fn tagged(&self, word: &str) -> Option<&Helmet> {
        let said = plain(word);
        if let Some(exact) = self.helmets.values().find(|helmet| plain(helmet.tag.as_str()) == said) {
            return Some(exact);
        }
        let number = number_of(&said)?;
        let bare = said.trim_end_matches(|c: char| c.is_ascii_digit());
        let same = |helmet: &&Helmet| {
            let tag = plain(helmet.tag.as_str());
            let head = tag.trim_end_matches(|c: char| c.is_ascii_digit());
            number_of(&tag) == Some(number) && (matches!(bare, "" | "h") || head == bare)
        };
        let mut fits = self.helmets.values().filter(same);
        let first = fits.next()?;
        fits.next().is_none().then_some(first)
    }
}

/// A tag's letters and digits, small.
fn plain(tag: &str) -> String {
    tag.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect()
}

/// The number at the end of a tag.
fn number_of(tag: &str) -> Option<u32> {
    let digits = tag.len() - tag.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    tag.get(tag.len() - digits..)?.parse().ok()
}
