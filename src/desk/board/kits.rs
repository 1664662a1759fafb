//! Kits on the board: what each holds and lacks, the count, and the order list.

use chrono::TimeDelta;
use serde::Serialize;

use crate::desk::drills::is_looked_after;
use crate::desk::drills::remind::event_name;
use crate::desk::inbound::by_staff;
use crate::desk::kits::record::{self, Said, may};
use crate::desk::kits::say::{self, item_words};
use crate::desk::kits::{Cupboard, Order, load, load_with_moves};
use crate::desk::once::Once;
use crate::desk::scene::Scene;
use crate::desk::{Desk, DeskError};
use crate::trade::kit::Kit;
use crate::trade::roster::{EventKind, Language, ProgramId, StaffMember};
use crate::trade::time::Moment;

/// How far ahead games are looked at, in days.
const AHEAD: TimeDelta = TimeDelta::days(14);

/// One thing of a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Line {
    /// Its exact name, for the form.
    pub item: String,
    /// As it is said.
    pub name: String,
    /// How many there are.
    pub count: i64,
    /// How many there should be.
    pub par: i64,
    /// Ordered and not here yet.
    pub on_order: i64,
    /// "Jun 30 2027".
    pub expires: Option<String>,
    /// It has expired.
    pub expired: bool,
}

/// A kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Held {
    /// Short name.
    pub id: String,
    /// Name.
    pub name: String,
    /// Where it is kept.
    pub place: Option<String>,
    /// Who keeps it.
    pub keeper: Option<String>,
    /// "practice, home".
    pub goes: String,
    /// "Monday, September 14".
    pub counted: Option<String>,
    /// What it holds.
    pub lines: Vec<Line>,
    /// This member may count it.
    pub may_count: bool,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct KitsView {
    /// What is lacking at the next games, in sentences.
    pub lacking: Vec<String>,
    /// The kits.
    pub kits: Vec<Held>,
}

/// The order list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrdersView {
    /// Its lines, the exact item in each.
    pub orders: Vec<Order>,
    /// The items as they are said, in the same order.
    pub names: Vec<String>,
    /// Of how many weeks use is known.
    pub weeks: i64,
}

impl Desk {
    /// The kits page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_kits(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        now: Moment,
    ) -> Result<KitsView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let scene = crate::desk::load::look(&mut tx, settings, self.wording(settings), now).await?;
        let Some(cupboard) = load(&mut tx, &scene).await? else {
            return Ok(KitsView { lacking: Vec::new(), kits: Vec::new() });
        };
        let events = tx.events(program, scene.today, scene.today + AHEAD).await?;
        let games = events.iter().filter(|event| {
            is_looked_after(event)
                && event.kind == EventKind::Game
                && event.starts_at > now
                && member.serves(&event.team)
        });
        let lacking = games.filter_map(|game| {
            let lacking = cupboard.lacking(game)?;
            let name = event_name(&scene, game, Language::En);
            if lacking.kits.is_empty() {
                return Some(format!("{name}: no kit goes there."));
            }
            let (kits, needs) =
                (say::kit_names(&lacking.kits, Language::En), say::lacking(&lacking.needs, Language::En));
            let there = say::elsewhere(&lacking, Language::En);
            let there = there.map(|there| format!(" There is {there}.")).unwrap_or_default();
            Some(format!("{name}, {kits}: {needs}.{there}"))
        });
        let lacking = lacking.collect();
        let kits = cupboard.kits.values().map(|kit| held(&scene, &cupboard, kit, member)).collect();
        Ok(KitsView { lacking, kits })
    }

    /// The order list of all kits.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn orders(&self, program: &ProgramId, now: Moment) -> Result<OrdersView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let scene = crate::desk::load::look(&mut tx, settings, self.wording(settings), now).await?;
        let Some(cupboard) = load_with_moves(&mut tx, &scene).await? else {
            return Ok(OrdersView { orders: Vec::new(), names: Vec::new(), weeks: 0 });
        };
        let orders = cupboard.orders(&settings.kits, scene.today, settings.zone);
        let names = orders.iter().map(|order| item_words(&order.item, Language::En)).collect();
        let first = cupboard.moves.first().map(|moved| moved.at.date(settings.zone));
        let weeks = first.map_or(0, |first| (scene.today - first).num_days() / 7);
        Ok(OrdersView { orders, names, weeks })
    }

    /// Notes what a form on the board says of a kit; a form sent twice counts once. False, and nothing noted, when this
    /// member may not or the kit has no such thing.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn note_kit(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        (kit, said, whole): (&str, &[(String, Said)], bool),
        key: &str,
        now: Moment,
    ) -> Result<bool, DeskError> {
        let Once::Do(mut open) = self.begin_once(program, key, now).await? else { return Ok(true) };
        let Some(cupboard) = load(&mut open.tx, &open.scene).await? else { return Ok(false) };
        // An order is for an item, whichever kit has it: the room's stock first.
        let place = if kit.is_empty() { place_of(&cupboard, said) } else { Some(kit.to_owned()) };
        let Some(kit) = place else { return Ok(false) };
        let has = |item: &String| cupboard.stock.get(&(kit.clone(), item.clone())).is_some();
        if !may(&cupboard, member, Some(&kit)) || !said.iter().all(|(item, _)| has(item)) {
            return Ok(false);
        }
        open.scene.kits = Some(cupboard);
        record::note(&mut open.scene, &by_staff(member), &kit, said, whole, key);
        self.end_once(open, key, "noted".to_owned()).await?;
        Ok(true)
    }
}

fn place_of(cupboard: &Cupboard, said: &[(String, Said)]) -> Option<String> {
    let (item, _) = said.first()?;
    let mut with: Vec<&Kit> =
        cupboard.kits.values().filter(|kit| cupboard.of(&kit.id).any(|row| row.item == *item)).collect();
    with.sort_by_key(|kit| !kit.goes.contains(&crate::trade::kit::Goes::Room));
    with.first().map(|kit| kit.id.clone())
}

fn held(scene: &Scene<'_>, cupboard: &Cupboard, kit: &Kit, member: &StaffMember) -> Held {
    let keeper = kit.keeper.as_ref().and_then(|id| scene.staff.iter().find(|member| member.id == *id));
    let goes: Vec<&str> = kit.goes.iter().map(|goes| goes.name()).collect();
    let counted = kit.counted_at.map(|at| at.local(scene.program.zone).format("%A, %B %-d").to_string());
    let mut lines: Vec<Line> = cupboard
        .of(&kit.id)
        .map(|row| Line {
            item: row.item.clone(),
            name: item_words(&row.item, Language::En),
            count: row.count,
            par: row.par,
            on_order: row.on_order,
            expires: row.expires.map(|day| day.format("%b %-d %Y").to_string()),
            expired: row.expires.is_some_and(|day| day < scene.today),
        })
        .collect();
    lines.sort_by_key(|line| line.name.to_lowercase());
    Held {
        id: kit.id.clone(),
        name: kit.name.clone(),
        place: kit.place.clone(),
        keeper: keeper.map(|member| member.first.clone()),
        goes: goes.join(", "),
        counted,
        lines,
        may_count: may(cupboard, member, Some(&kit.id)),
    }
}
