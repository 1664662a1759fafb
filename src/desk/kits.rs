//! Kits: what they hold and lack, what is to be ordered, and what becomes of it.

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::scene::{Kept, Scene};
use crate::config::Kits as Settings;
use crate::store::{Result, Tx};
use crate::trade::drill::{Venue, venue_of};
use crate::trade::kit::{Kit, Move, Need, Stock, StockMove, key, needs, unmet};
use crate::trade::model::Model;
use crate::trade::restock::{Use, order, policy};
use crate::trade::roster::{Event, EventKind, StaffMember, TeamId};
use crate::trade::time::{Moment, resolve};

pub mod record;
pub(super) mod remind;
pub mod say;

/// Use is learned from so much of the past: a season and its spring.
const LOOK_BACK: TimeDelta = TimeDelta::weeks(40);

/// All kits, with what they have to hold.
#[derive(Debug, Default)]
pub struct Cupboard {
    /// Kits by their short names.
    pub kits: Kept<String, Kit>,
    /// What they hold, by kit and item.
    pub stock: Kept<(String, String), Stock>,
    /// What moved lately, the oldest first.
    pub moves: Vec<StockMove>,
    /// Moves to write.
    pub new_moves: Vec<StockMove>,
    /// Helmet models.
    pub models: Vec<Model>,
    /// Helmets worn, by team and model.
    pub worn: BTreeMap<TeamId, BTreeMap<String, usize>>,
    /// Venues: a game at one of them is at home.
    pub venues: Vec<Venue>,
}

/// Loads all kits, without what moved; none when the program has none.
pub async fn load(tx: &mut Tx, scene: &Scene<'_>) -> Result<Option<Cupboard>> {
    let program = &scene.program.id;
    let kits = tx.kits(program).await?;
    if kits.is_empty() {
        return Ok(None);
    }
    let mut cupboard = Cupboard::default();
    cupboard.kits.load(kits.into_iter().map(|kit| (kit.id.clone(), kit)));
    let stock = tx.stock(program).await?;
    cupboard.stock.load(stock.into_iter().map(|row| ((row.kit.clone(), row.item.clone()), row)));
    cupboard.models = tx.models(program).await?;
    cupboard.venues = tx.venues(program).await?;
    for line in tx.worn_by_model(program).await? {
        let mut parts = line.split('\t');
        let (Some(team), Some(model), Some(count)) = (parts.next(), parts.next(), parts.next()) else { continue };
        let count = count.parse().unwrap_or(0);
        cupboard.worn.entry(TeamId::from(team)).or_default().insert(model.to_owned(), count);
    }
    Ok(Some(cupboard))
}

/// As [`load`], with what moved lately: what orders are reckoned from.
pub async fn load_with_moves(tx: &mut Tx, scene: &Scene<'_>) -> Result<Option<Cupboard>> {
    let Some(mut cupboard) = load(tx, scene).await? else { return Ok(None) };
    cupboard.moves = tx.stock_moves_since(&scene.program.id, scene.now.minus(LOOK_BACK)).await?;
    Ok(Some(cupboard))
}

/// What kits lack at an event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lacking {
    /// Kits that go there; none when no kit does.
    pub kits: Vec<String>,
    /// What none of them holds.
    pub needs: Vec<Need>,
    /// Where some of it is: item, and kit that stays behind.
    pub elsewhere: Vec<(String, String)>,
}

/// One line of the order list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Order {
    /// What.
    pub item: String,
    /// In all kits together, without what has expired.
    pub have: i64,
    /// Par of all kits together.
    pub par: i64,
    /// Ordered and not here yet.
    pub on_order: i64,
    /// How many to order now.
    pub order: i64,
    /// Used a week on average, once there is enough to learn from.
    pub per_week: Option<f64>,
    /// Days that ordering takes.
    pub lead_days: i64,
    /// When the newest of what is on order was ordered.
    pub ordered_on: Option<NaiveDate>,
    /// What is on order should have come.
    pub late: bool,
}

impl Cupboard {
    /// What a kit holds.
    pub fn of<'c>(&'c self, kit: &'c str) -> impl Iterator<Item = &'c Stock> + Clone {
        let rows: Vec<&Stock> = self.stock.values().filter(|row| row.kit == kit).collect();
        rows.into_iter()
    }

    /// What a kit holds fewer of than it should.
    pub fn below_par<'c>(&'c self, kit: &'c str) -> impl Iterator<Item = &'c Stock> {
        self.of(kit).filter(|row| row.count < row.par)
    }

    /// Whether an event is at home: a practice, a game at a venue of ours, or one that says no place.
    #[must_use]
    pub fn is_at_home(&self, event: &Event) -> bool {
        let place = event.place.as_deref();
        event.kind == EventKind::Practice || place.is_none_or(|place| venue_of(&self.venues, place).is_some())
    }

    /// The kits that go to an event.
    #[must_use]
    pub fn going(&self, event: &Event) -> Vec<&Kit> {
        let home = self.is_at_home(event);
        self.kits.values().filter(|kit| kit.goes_to(&event.team, event.kind, home)).collect()
    }

    /// What is lacking at an event: what the helmets worn there need and no kit that goes there holds.
    #[must_use]
    pub fn lacking(&self, event: &Event) -> Option<Lacking> {
        let none = BTreeMap::new();
        let worn = self.worn.get(&event.team).unwrap_or(&none);
        let needs = needs(worn, &self.models);
        let going = self.going(event);
        let taken: Vec<&Stock> = going.iter().flat_map(|kit| self.of(&kit.id)).collect();
        let needs = unmet(&needs, taken.into_iter(), event.date);
        if needs.is_empty() && !going.is_empty() {
            return None;
        }
        let stays = |row: &&Stock| going.iter().all(|kit| kit.id != row.kit) && row.is_there(event.date);
        let elsewhere = needs
            .iter()
            .filter_map(|need| {
                let mut there = self.stock.values().filter(stays).filter(|row| key(&row.item) == key(&need.item));
                there.next().map(|row| (need.item.clone(), row.kit.clone()))
            })
            .collect();
        Some(Lacking { kits: going.iter().map(|kit| kit.id.clone()).collect(), needs, elsewhere })
    }

    /// One order list for all kits: an item is reckoned over all of them together.
    #[must_use]
    pub fn orders(&self, settings: &Settings, today: NaiveDate, zone: chrono_tz::Tz) -> Vec<Order> {
        let mut items: BTreeMap<String, Vec<&Stock>> = BTreeMap::new();
        for row in self.stock.values() {
            items.entry(key(&row.item)).or_default().push(row);
        }
        let since = self.moves.first().map(|first| first.at.date(zone));
        items
            .into_iter()
            .filter_map(|(key_of, rows)| {
                let first = *rows.first()?;
                let sum = |of: fn(&Stock) -> i64| rows.iter().map(|row| of(row)).sum::<i64>();
                let have = rows.iter().filter(|row| row.is_there(today)).map(|row| row.count).sum();
                let (par, on_order) = (sum(|row| row.par), sum(|row| row.on_order));
                let lead_days = rows.iter().filter_map(|row| row.lead_days).max().unwrap_or(settings.terms.lead_days);
                let used: Vec<(NaiveDate, i64)> = self
                    .moves
                    .iter()
                    .filter(|moved| key(&moved.item) == key_of && moved.kind != Move::Received)
                    .map(|moved| (moved.at.date(zone), -moved.change))
                    .collect();
                let used = since.and_then(|since| Use::learn(&used, since, today));
                let policy = policy(par, lead_days, &settings.terms, used);
                let ordered_on = rows.iter().filter_map(|row| row.ordered_at).max().map(|at| at.date(zone));
                let late = on_order > 0 && ordered_on.is_some_and(|on| on + TimeDelta::days(lead_days) < today);
                Some(Order {
                    item: first.item.clone(),
                    have,
                    par,
                    on_order,
                    order: order(have, on_order, policy),
                    per_week: used.filter(|_| policy.learned).map(|used| used.mean),
                    lead_days,
                    ordered_on: ordered_on.filter(|_| on_order > 0),
                    late,
                })
            })
            .filter(|order| order.order > 0 || order.on_order > 0)
            .collect()
    }

    /// The kits that a member keeps.
    #[must_use]
    pub fn kept_by(&self, member: &StaffMember) -> Vec<&Kit> {
        self.kits.values().filter(|kit| kit.keeper.as_ref() == Some(&member.id)).collect()
    }
}

/// Nine in the morning of a day: when things of no hour are told.
fn morning_of(day: NaiveDate, zone: chrono_tz::Tz) -> Moment {
    resolve(day.and_time(chrono::NaiveTime::from_hms_opt(9, 0, 0).unwrap_or_default()), zone)
}
