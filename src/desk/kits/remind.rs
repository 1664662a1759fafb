//! What kits remind of: counts, what is lacking before a game, what expires, what is to be ordered.

use chrono::{NaiveDate, TimeDelta};

use super::say::{self, item_words};
use super::{Cupboard, Order, load, load_with_moves, morning_of};
use crate::config::Program;
use crate::desk::drills::is_looked_after;
use crate::desk::drills::remind::event_name;
use crate::desk::morning::TickReport;
use crate::desk::reminders::Reminder;
use crate::desk::scene::{Scene, To};
use crate::desk::{Desk, DeskError};
use crate::store::Tx;
use crate::store::rows::Purpose;
use crate::trade::coming::{Area, Coming, On};
use crate::trade::kit::Kit;
use crate::trade::roster::{Event, EventKind, Language, Role, StaffMember};
use crate::trade::time::{Moment, resolve};
use crate::wording::Message;
use crate::wording::words;

/// A reminder of kits.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A count: the kit, when it was asked for, and how often.
    Count(String, Moment, usize),
    /// What kits lack at a game; late when it is soon.
    Check(Event, bool),
    /// Things of a kit that expire on a day; past it or not.
    Expiry(String, NaiveDate, bool),
    /// The order list.
    Order,
}

/// A count is asked for, asked for again, and then told to the trainer, so many days apart.
const COUNT_STEPS: [i64; 3] = [0, 1, 2];
/// Expiries are told so many days ahead, and the day after.
const EXPIRY_DAYS: [i64; 3] = [30, 7, -1];
/// What a kit lacks is told at noon of the day before a game, and once more so long before it.
const LATE_CHECK: TimeDelta = TimeDelta::hours(4);
/// Items named in a text before the rest is counted.
pub const MOST: usize = 10;

fn reminders(scene: &Scene<'_>, cupboard: &Cupboard) -> Vec<Reminder<What>> {
    let settings = &scene.program.kits;
    let zone = scene.program.zone;
    let span = (scene.now.minus(TimeDelta::days(4)), scene.now.plus(TimeDelta::days(8)));
    let mut all = Vec::new();
    for at in settings.count.between(span.0, span.1, zone) {
        for kit in cupboard.kits.values() {
            all.extend(COUNT_STEPS.into_iter().map(|step| {
                let due = at.plus(TimeDelta::days(step));
                let key = format!("kit-count/{}/{}/{step}", kit.id, at.date(zone));
                let nth = usize::try_from(step).unwrap_or_default();
                // What is later than that is said by the next one: nobody is asked twice within hours.
                Reminder {
                    key,
                    at: due,
                    until: due.plus(TimeDelta::hours(12)),
                    what: What::Count(kit.id.clone(), at, nth),
                }
            }));
        }
    }
    let games = scene.events.values().filter(|event| is_looked_after(event) && event.kind == EventKind::Game);
    for game in games {
        let noon = chrono::NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
        let early = resolve((game.date - TimeDelta::days(1)).and_time(noon), zone);
        let late = game.starts_at.minus(LATE_CHECK);
        let check = |name: &str, at, until, late| {
            let key = format!("kit-check/{}/{name}", game.id);
            Reminder { key, at, until, what: What::Check(game.clone(), late) }
        };
        all.push(check("day-before", early, late, false));
        all.push(check("game-day", late, game.starts_at, true));
    }
    all.extend(expiries(cupboard, zone));
    for at in settings.order.between(span.0, span.1, zone) {
        let key = format!("order-list/{}", at.date(zone));
        all.push(Reminder { key, at, until: at.plus(TimeDelta::days(2)), what: What::Order });
    }
    all
}

fn expiries(cupboard: &Cupboard, zone: chrono_tz::Tz) -> Vec<Reminder<What>> {
    let mut days: Vec<(String, NaiveDate)> = cupboard
        .stock
        .values()
        .filter(|row| row.count > 0)
        .filter_map(|row| Some((row.kit.clone(), row.expires?)))
        .collect();
    days.sort();
    days.dedup();
    let mut all = Vec::new();
    for (kit, expires) in days {
        for (nth, ahead) in EXPIRY_DAYS.into_iter().enumerate() {
            let at = morning_of(expires - TimeDelta::days(ahead), zone);
            // Told late is told once: the later one says it.
            let next = EXPIRY_DAYS.get(nth + 1).map(|next| morning_of(expires - TimeDelta::days(*next), zone));
            let until = next.unwrap_or_else(|| at.plus(TimeDelta::days(30)));
            let key = format!("kit-expiry/{kit}/{expires}/{ahead}");
            all.push(Reminder { key, at, until, what: What::Expiry(kit.clone(), expires, ahead < 0) });
        }
    }
    all
}

impl Desk {
    /// Does what kits remind of.
    pub(in crate::desk) async fn remind_of_kits(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let due = self.not_done(program, self.kit_reminders(program, now).await?, now).await?;
        for reminder in due {
            let Some(mut open) = self.open_reminder(program, &reminder, now, report).await? else { continue };
            if let Some(cupboard) = load_with_moves(&mut open.tx, &open.scene).await? {
                let scene = &mut open.scene;
                match &reminder.what {
                    What::Count(kit, asked, nth) => ask_count(scene, &cupboard, (kit, *asked, *nth), &reminder.key),
                    What::Check(event, late) => tell_lacking(scene, &cupboard, event, *late, &reminder.key),
                    What::Expiry(kit, day, past) => tell_expiry(scene, &cupboard, (kit, *day, *past), &reminder.key),
                    What::Order => tell_orders(scene, &cupboard, &reminder.key),
                }
            }
            self.close_reminder(open, &reminder, report).await?;
        }
        Ok(())
    }

    /// When the next reminder of kits is due.
    pub(in crate::desk) async fn next_kit_reminders(
        &self,
        program: &Program,
        now: Moment,
    ) -> Result<Vec<Moment>, DeskError> {
        Ok(self.kit_reminders(program, now).await?.into_iter().map(|reminder| reminder.at).collect())
    }

    async fn kit_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Reminder<What>>, DeskError> {
        let mut tx = self.store().read().await?;
        let scene = crate::desk::load::look(&mut tx, program, self.wording(program), now).await?;
        Ok(load(&mut tx, &scene).await?.map(|cupboard| reminders(&scene, &cupboard)).unwrap_or_default())
    }
}

/// The keeper of a kit; where there is none, or no number, equipment staff on duty, then trainers.
fn keeper(scene: &Scene<'_>, kit: &Kit) -> Option<StaffMember> {
    let own = kit.keeper.as_ref().and_then(|id| scene.staff.iter().find(|member| member.id == *id));
    let own = own.filter(|member| member.phone.is_some()).cloned();
    own.or_else(|| scene.on_duty(Role::Equipment, None, scene.today).into_iter().next()).or_else(|| above(scene))
}

/// Who hears when a keeper does not answer: the trainer on duty, else any, else an administrator.
fn above(scene: &Scene<'_>) -> Option<StaffMember> {
    let any = |role| scene.staff.iter().find(|member| member.has(role) && member.phone.is_some()).cloned();
    let on_duty = scene.on_duty(Role::Trainer, None, scene.today).into_iter().next();
    on_duty.or_else(|| any(Role::Trainer)).or_else(|| any(Role::Administrator))
}

/// A kit's name as it stands at the head of a text: "kit 2 (Away kit)".
#[must_use]
pub fn kit_name(kit: &Kit, language: Language) -> String {
    let word = if language == Language::Es { "maletín" } else { "kit" };
    let plain = format!("{word} {}", kit.id);
    if kit.name.eq_ignore_ascii_case(&plain) { plain } else { format!("{plain} ({})", kit.name) }
}

/// The next event that a kit goes to, and what is lacking there.
#[must_use]
pub fn lacking_next(scene: &Scene<'_>, cupboard: &Cupboard, kit: &str, language: Language) -> Option<(String, String)> {
    let goes = |event: &&Event| {
        let ahead = event.starts_at > scene.now && is_looked_after(event);
        ahead && cupboard.going(event).iter().any(|going| going.id == kit)
    };
    let next = scene.events.values().filter(goes).min_by_key(|event| event.starts_at)?;
    let lacking = cupboard.lacking(next)?;
    Some((event_name(scene, next, language), say::lacking(&lacking.needs, language)))
}

fn ask_count(scene: &mut Scene<'_>, cupboard: &Cupboard, (id, asked, nth): (&str, Moment, usize), key: &str) {
    let Some(kit) = cupboard.kits.get(&id.to_owned()) else { return };
    // Between seasons nobody is asked.
    let goes_soon = |event: &Event| event.starts_at > scene.now && is_looked_after(event);
    if !scene.events.values().any(goes_soon) {
        return;
    }
    // Who counted on the day before has counted.
    let lately = asked.minus(TimeDelta::days(1));
    if kit.counted_at.is_some_and(|at| at >= lately) {
        return;
    }
    let keeper = keeper(scene, kit);
    let to = if nth < 2 { keeper.clone() } else { above(scene) };
    let Some(member) = to else { return };
    let is_late = nth == 2 && keeper.as_ref().is_some_and(|keeper| keeper.id != member.id);
    let Some(phone) = member.phone.clone() else { return };
    let language = member.language;
    let found = lacking_next(scene, cupboard, id, language);
    let item = cupboard.of(id).next().map(|row| item_words(&row.item, language)).unwrap_or_default();
    let text = Message::KitPrompt {
        kit: &kit_name(kit, language),
        id,
        items: &say::holds(cupboard, kit, MOST, language),
        item: &item,
        again: nth > 0,
        late: keeper.as_ref().filter(|_| is_late).map(|keeper| keeper.first.as_str()),
        event: found.as_ref().map(|(event, _)| event.as_str()),
        lacks: found.as_ref().map(|(_, lacks)| lacks.as_str()),
    };
    let to = To { phone: &phone, language, athlete: None };
    let body = scene.say(language, &text);
    scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, None);
    scene.tell(format!("{}: please count → {}", kit_name(kit, Language::En), member.first));
}

fn tell_lacking(scene: &mut Scene<'_>, cupboard: &Cupboard, event: &Event, late: bool, key: &str) {
    let Some(lacking) = cupboard.lacking(event) else { return };
    let mut to: Vec<StaffMember> = cupboard.going(event).into_iter().filter_map(|kit| keeper(scene, kit)).collect();
    if late || to.is_empty() {
        to.extend(above(scene));
    }
    to.sort_by(|a, b| a.id.cmp(&b.id));
    to.dedup_by(|a, b| a.id == b.id);
    for member in &to {
        let Some(phone) = member.phone.clone() else { continue };
        let language = member.language;
        let (kits, needs) = lacking_words(&lacking, language);
        let elsewhere = say::elsewhere(&lacking, language);
        let text = Message::KitLacks {
            kits: kits.as_deref(),
            event: &event_name(scene, event, language),
            needs: Some(needs.as_str()).filter(|needs| !needs.is_empty()),
            elsewhere: elsewhere.as_deref(),
        };
        let body = scene.say(language, &text);
        let to = To { phone: &phone, language, athlete: None };
        scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, Some(event.starts_at));
    }
    let name = event_name(scene, event, Language::En);
    let needs = say::lacking(&lacking.needs, Language::En);
    scene.note("program", "kit lacks told", event.id.as_str(), &needs, None);
    scene.tell(format!("{name}: {needs} → {} people", to.len()));
}

/// "Kit 2 goes", "Kits 1 and 2 go", and what is lacking.
fn lacking_words(lacking: &super::Lacking, language: Language) -> (Option<String>, String) {
    let names = say::kit_names(&lacking.kits, language);
    let goes = match (lacking.kits.len(), language) {
        (0, _) => None,
        (1, Language::En) => Some(format!("{names} goes")),
        (_, Language::En) => Some(format!("{names} go")),
        (1, Language::Es) => Some(format!("{names} va")),
        (_, Language::Es) => Some(format!("{names} van")),
    };
    (goes.map(|goes| capital(&goes)), say::lacking(&lacking.needs, language))
}

/// With a capital at its head.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn tell_expiry(scene: &mut Scene<'_>, cupboard: &Cupboard, (id, day, past): (&str, NaiveDate, bool), key: &str) {
    let Some(kit) = cupboard.kits.get(&id.to_owned()) else { return };
    let Some(member) = keeper(scene, kit) else { return };
    let Some(phone) = member.phone.clone() else { return };
    let language = member.language;
    let items: Vec<String> = cupboard
        .of(id)
        .filter(|row| row.expires == Some(day) && row.count > 0)
        .map(|row| item_words(&row.item, language))
        .collect();
    if items.is_empty() {
        return;
    }
    let text = Message::KitExpires {
        kit: &capital(&kit_name(kit, language)),
        id,
        items: &items.join(", "),
        item: &items[0],
        day: &words::day_words(day, scene.today, language),
        past,
    };
    let body = scene.say(language, &text);
    let to = To { phone: &phone, language, athlete: None };
    scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, None);
    scene.tell(format!("{}: {} expires {day} → {}", kit_name(kit, Language::En), items.join(", "), member.first));
}

/// Who orders: equipment staff on duty who serve every team, else any; else the trainer.
fn orderer(scene: &Scene<'_>) -> Option<StaffMember> {
    let equipment = scene.on_duty(Role::Equipment, None, scene.today);
    let all_teams = equipment.iter().find(|member| member.teams.is_empty()).cloned();
    all_teams.or_else(|| equipment.into_iter().next()).or_else(|| above(scene))
}

fn tell_orders(scene: &mut Scene<'_>, cupboard: &Cupboard, key: &str) {
    let orders = cupboard.orders(&scene.program.kits, scene.today, scene.program.zone);
    let wanted: Vec<&Order> = orders.iter().filter(|order| order.order > 0).collect();
    let late: Vec<&Order> = orders.iter().filter(|order| order.late).collect();
    if wanted.is_empty() && late.is_empty() {
        return;
    }
    let Some(member) = orderer(scene) else { return };
    let Some(phone) = member.phone.clone() else { return };
    let language = member.language;
    let items = say::order_words(&orders, MOST, language);
    let late = late_words(&late, language);
    let example = example(&orders, language);
    let text = Message::OrderList {
        items: Some(items.as_str()).filter(|items| !items.is_empty()),
        late: late.as_deref(),
        example: &example,
    };
    let body = scene.say(language, &text);
    let to = To { phone: &phone, language, athlete: None };
    scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, None);
    scene.tell(format!("order list: {} things → {}", wanted.len(), member.first));
}

fn late_words(late: &[&Order], language: Language) -> Option<String> {
    let said: Vec<String> = late
        .iter()
        .take(MOST)
        .map(|order| format!("{} {}", order.on_order, item_words(&order.item, language)))
        .collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// "ordered 8 high chin strap", "received 8 high chin strap".
fn example(orders: &[Order], language: Language) -> String {
    let (word, found) = match orders.iter().find(|order| order.order > 0) {
        Some(order) => (if language == Language::Es { "pedido" } else { "ordered" }, Some((order.order, &order.item))),
        None => {
            let late = orders.iter().find(|order| order.late);
            let word = if language == Language::Es { "recibido" } else { "received" };
            (word, late.map(|order| (order.on_order, &order.item)))
        }
    };
    found.map_or_else(|| word.to_owned(), |(count, item)| format!("{word} {count} {}", item_words(item, language)))
}

/// What is coming of kits: counts, games whose kits lack something, expiries, and the order list.
pub(in crate::desk) async fn coming(
    tx: &mut Tx,
    scene: &Scene<'_>,
    events: &[Event],
    (from, to): (NaiveDate, NaiveDate),
) -> Result<Vec<Coming>, DeskError> {
    let Some(cupboard) = load_with_moves(tx, scene).await? else { return Ok(Vec::new()) };
    let zone = scene.program.zone;
    let mut coming = Vec::new();
    let one = |key: String, on: On, title: String, what: String, staff: Vec<_>| Coming {
        key,
        area: Area::Kit,
        on,
        title,
        what,
        place: None,
        staff,
        medical: false,
    };
    let until = resolve(to.and_time(chrono::NaiveTime::MIN), zone).plus(TimeDelta::days(1));
    let begin = scene.now.max(resolve(from.and_time(chrono::NaiveTime::MIN), zone));
    // The next count alone: a line for every week says nothing more.
    if let Some(at) = scene.program.kits.count.next_after(begin, zone).filter(|at| *at < until) {
        for kit in cupboard.kits.values() {
            let staff = keeper(scene, kit).map(|member| member.id).into_iter().collect();
            let title = format!("Count {}", kit_name(kit, Language::En));
            let what = format!("Text: kit {} ok, or what differs", kit.id);
            coming.push(one(format!("kit-count/{}/{}", kit.id, at.date(zone)), On::At(at, None), title, what, staff));
        }
    }
    let games = events.iter().filter(|event| is_looked_after(event) && event.kind == EventKind::Game);
    for game in games.filter(|game| game.starts_at > scene.now) {
        let Some(lacking) = cupboard.lacking(game) else { continue };
        let (goes, needs) = lacking_words(&lacking, Language::En);
        let what = goes.map_or_else(|| "No kit goes there".to_owned(), |goes| format!("{goes} with {needs}"));
        let mut staff: Vec<_> = cupboard.going(game).into_iter().filter_map(|kit| keeper(scene, kit)).collect();
        staff.extend(above(scene));
        let staff = staff.into_iter().map(|member| member.id).collect();
        let title = format!("Kit for {}", event_name(scene, game, Language::En));
        coming.push(one(format!("kit-check/{}", game.id), On::Day(game.date), title, what, staff));
    }
    for row in cupboard.stock.values().filter(|row| row.count > 0) {
        let (Some(day), Some(kit)) = (row.expires, cupboard.kits.get(&row.kit)) else { continue };
        let staff = keeper(scene, kit).map(|member| member.id).into_iter().collect();
        let title = format!("{} expires", capital(&item_words(&row.item, Language::En)));
        let key = format!("kit-expiry/{}/{}/{day}", row.kit, row.item);
        coming.push(one(key, On::Day(day), title, format!("In {}", kit_name(kit, Language::En)), staff));
    }
    let orders = cupboard.orders(&scene.program.kits, scene.today, zone);
    if let Some(at) = scene.program.kits.order.next_after(begin, zone)
        && orders.iter().any(|order| order.order > 0)
    {
        let what = say::order_words(&orders, usize::MAX, Language::En);
        let staff = orderer(scene).map(|member| member.id).into_iter().collect();
        coming.push(one(
            format!("order-list/{}", at.date(zone)),
            On::At(at, None),
            "Order for all kits".to_owned(),
            what,
            staff,
        ));
    }
    Ok(coming)
}
