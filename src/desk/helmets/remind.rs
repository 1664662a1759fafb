//! What helmets remind of: leaving for the shop in time, what did not come back, what is soon no longer certified; and each
//! morning, before anybody asks, who wears one that may not be worn.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Datelike as _, NaiveDate, TimeDelta};

use super::record::{out_of_use, why_not};
use super::say::{MOST, tags_of};
use super::{Rack, load};
use crate::config::Program;
use crate::desk::morning::TickReport;
use crate::desk::reminders::Reminder;
use crate::desk::scene::{Scene, To};
use crate::desk::{Desk, DeskError};
use crate::store::Tx;
use crate::store::rows::Purpose;
use crate::trade::coming::{Area, Coming, On};
use crate::trade::roster::{AthleteId, Helmet, Language, Role, StaffMember};
use crate::trade::time::{Moment, resolve};
use crate::wording::Message;
use crate::wording::words;

/// A reminder of helmets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// Helmets have to leave by a day; negative when they should have.
    ShipBy(NaiveDate, i64),
    /// Helmets that were expected back on a day are not.
    NotBack(NaiveDate),
    /// Helmets that are soon no longer certified, or too old: once a month.
    Ending,
    /// Who wears a helmet that may not be worn.
    Worn,
}

/// Leaving is told so many days ahead, and the day after.
const SHIP_DAYS: [i64; 6] = [60, 30, 14, 7, 1, -1];
/// What is not back is chased for so many weeks.
const CHASE_WEEKS: i64 = 12;
/// Certifications that end within so many days are told on the first of the month.
const ENDING_DAYS: i64 = 60;

fn at_hour(day: NaiveDate, hour: u32, zone: chrono_tz::Tz) -> Moment {
    resolve(day.and_time(chrono::NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or_default()), zone)
}

fn reminders(scene: &Scene<'_>, rack: &Rack) -> Vec<Reminder<What>> {
    let (settings, zone, today) = (&scene.program.reconditioning, scene.program.zone, scene.today);
    let mut all = Vec::new();
    if let Some(way) = rack.way(settings, today) {
        for (nth, ahead) in SHIP_DAYS.into_iter().enumerate() {
            let on = |days: i64| at_hour(way.ship_by - TimeDelta::days(days), 9, zone);
            // Told late is told once: the later one says it.
            let until = SHIP_DAYS.get(nth + 1).map_or_else(|| on(-30), |next| on(*next));
            let key = format!("ship-by/{}/{ahead}", way.ship_by);
            all.push(Reminder { key, at: on(ahead), until, what: What::ShipBy(way.ship_by, ahead) });
        }
    }
    let expected: BTreeSet<NaiveDate> =
        rack.helmets.values().filter_map(|helmet| rack.expected(helmet, settings)).collect();
    for day in expected {
        for week in 0..CHASE_WEEKS {
            let at = at_hour(day + TimeDelta::days(1 + 7 * week), 9, zone);
            let key = format!("not-back/{day}/{week}");
            all.push(Reminder { key, at, until: at.plus(TimeDelta::days(7)), what: What::NotBack(day) });
        }
    }
    let first = today.with_day(1).unwrap_or(today);
    let at = at_hour(first, 9, zone);
    all.push(Reminder {
        key: format!("certification-ends/{first}"),
        at,
        until: at.plus(TimeDelta::days(27)),
        what: What::Ending,
    });
    for day in [today, today + TimeDelta::days(1)] {
        let at = at_hour(day, 5, zone);
        all.push(Reminder { key: format!("worn/{day}"), at, until: at.plus(TimeDelta::hours(18)), what: What::Worn });
    }
    all
}

impl Desk {
    /// Does what helmets remind of.
    pub(in crate::desk) async fn remind_of_helmets(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let due = self.not_done(program, self.helmet_reminders(program, now).await?, now).await?;
        for reminder in due {
            let Some(mut open) = self.open_reminder(program, &reminder, now, report).await? else { continue };
            if let Some(rack) = load(&mut open.tx, &open.scene).await? {
                match &reminder.what {
                    What::ShipBy(day, ahead) => tell_ship_by(&mut open.scene, &rack, *day, *ahead, &reminder.key),
                    What::NotBack(day) => tell_not_back(&mut open.scene, &rack, *day, &reminder.key),
                    What::Ending => tell_ending(&mut open.scene, &rack, &reminder.key),
                    What::Worn => {
                        let wearers = wearers(&open.scene, &rack);
                        let athletes: BTreeSet<AthleteId> =
                            wearers.iter().map(|(athlete, _)| athlete.clone()).collect();
                        crate::desk::load::about(&mut open.tx, &mut open.scene, &[], athletes).await?;
                        open.scene.rack = Some(rack);
                        take_out_of_use(&mut open.scene, &wearers, &reminder.key);
                    }
                }
            }
            self.close_reminder(open, &reminder, report).await?;
        }
        Ok(())
    }

    /// When the next reminder of helmets is due.
    pub(in crate::desk) async fn next_helmet_reminders(
        &self,
        program: &Program,
        now: Moment,
    ) -> Result<Vec<Moment>, DeskError> {
        Ok(self.helmet_reminders(program, now).await?.into_iter().map(|reminder| reminder.at).collect())
    }

    async fn helmet_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Reminder<What>>, DeskError> {
        let mut tx = self.store().read().await?;
        let scene = crate::desk::load::look(&mut tx, program, self.wording(program), now).await?;
        Ok(load(&mut tx, &scene).await?.map(|rack| reminders(&scene, &rack)).unwrap_or_default())
    }
}

/// Athletes who wear a helmet that may not be worn today, with its tag, where their team has an event with helmets within a
/// week.
fn wearers(scene: &Scene<'_>, rack: &Rack) -> Vec<(AthleteId, String)> {
    let settings = &scene.program.reconditioning;
    rack.helmets
        .values()
        .filter(|helmet| !rack.standing(helmet, settings, scene.today).may_be_worn())
        .filter_map(|helmet| {
            let athlete = rack.athletes.get(helmet.athlete.as_ref()?)?;
            scene.next_event(&athlete.team).map(|_| (athlete.id.clone(), helmet.tag.0.clone()))
        })
        .collect()
}

fn take_out_of_use(scene: &mut Scene<'_>, wearers: &[(AthleteId, String)], key: &str) {
    for (athlete, tag) in wearers {
        let Some(helmet) = scene.rack.as_ref().and_then(|rack| rack.helmets.get(tag)).cloned() else { continue };
        let Some(why) = why_not(scene, &helmet, scene.today) else { continue };
        out_of_use(scene, "program", (tag, athlete), &why, key);
    }
}

/// Who ships: equipment staff who serve every team, on duty first; else any trainer or administrator.
fn shipper(scene: &Scene<'_>) -> Option<StaffMember> {
    let any = |role| scene.staff.iter().filter(move |member| member.has(role) && member.phone.is_some());
    let on_duty = scene.on_duty(Role::Equipment, None, scene.today).into_iter().find(|member| member.teams.is_empty());
    on_duty
        .or_else(|| any(Role::Equipment).find(|member| member.teams.is_empty()).cloned())
        .or_else(|| any(Role::Equipment).next().cloned())
        .or_else(|| any(Role::Trainer).next().cloned())
        .or_else(|| any(Role::Administrator).next().cloned())
}

fn send(scene: &mut Scene<'_>, key: &str, say: impl Fn(&Scene<'_>, Language) -> String) {
    let Some(member) = shipper(scene) else { return };
    let Some(phone) = member.phone.clone() else { return };
    let body = say(scene, member.language);
    let to = To { phone: &phone, language: member.language, athlete: None };
    scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, None);
}

fn tell_ship_by(scene: &mut Scene<'_>, rack: &Rack, by: NaiveDate, ahead: i64, key: &str) {
    let helmets = rack.to_go(&scene.program.reconditioning);
    if helmets.is_empty() {
        return;
    }
    let pack = rack.way(&scene.program.reconditioning, scene.today).map(|way| way.pack);
    send(scene, key, |scene, language| {
        let day = |day: NaiveDate| words::day_words(day, scene.today, language);
        let pack = pack.filter(|pack| *pack >= scene.today).map(day);
        let text = Message::ShipBy {
            count: helmets.len(),
            tags: &tags_of(&helmets, MOST, language),
            by: &day(by),
            pack: pack.as_deref(),
            late: ahead < 0,
        };
        scene.say(language, &text)
    });
    scene.tell(format!("{} helmets to ship by {by} → equipment manager", helmets.len()));
}

fn tell_not_back(scene: &mut Scene<'_>, rack: &Rack, day: NaiveDate, key: &str) {
    let settings = &scene.program.reconditioning;
    let helmets: Vec<&Helmet> =
        rack.helmets.values().filter(|helmet| rack.expected(helmet, settings) == Some(day)).collect();
    if helmets.is_empty() {
        return;
    }
    send(scene, key, |scene, language| {
        let text = Message::NotBack {
            count: helmets.len(),
            tags: &tags_of(&helmets, MOST, language),
            day: &words::day_words(day, scene.today, language),
        };
        scene.say(language, &text)
    });
    scene.tell(format!("{} helmets expected back {day} are not here → equipment manager", helmets.len()));
}

/// Helmets whose certification or service ends within some days, the earliest day of it, and whether any is worn.
fn ending<'r>(scene: &Scene<'_>, rack: &'r Rack, days: i64) -> Vec<(&'r Helmet, NaiveDate)> {
    let settings = &scene.program.reconditioning;
    let until = scene.today + TimeDelta::days(days);
    rack.helmets
        .values()
        .filter(|helmet| helmet.shipped.is_none() && helmet.failed.is_none())
        .filter_map(|helmet| {
            let limits = rack.limits(helmet, settings);
            let end = [limits.certified, limits.serves].into_iter().flatten().min()?;
            (end >= scene.today && end <= until).then_some((helmet, end))
        })
        .collect()
}

fn tell_ending(scene: &mut Scene<'_>, rack: &Rack, key: &str) {
    let ending = ending(scene, rack, ENDING_DAYS);
    let worn: Vec<&Helmet> =
        ending.iter().filter(|(helmet, _)| helmet.athlete.is_some()).map(|(helmet, _)| *helmet).collect();
    let Some(first) = ending.iter().filter(|(helmet, _)| helmet.athlete.is_some()).map(|(_, end)| *end).min() else {
        return;
    };
    send(scene, key, |scene, language| {
        let text = Message::CertificationEnds {
            count: worn.len(),
            tags: &tags_of(&worn, MOST, language),
            first: &words::day_words(first, scene.today, language),
        };
        scene.say(language, &text)
    });
    scene.tell(format!("{} worn helmets soon no longer certified → equipment manager", worn.len()));
}

/// What is coming of helmets: packing and leaving, what is expected back, certifications and lives that end.
pub(in crate::desk) async fn coming(tx: &mut Tx, scene: &Scene<'_>) -> Result<Vec<Coming>, DeskError> {
    let Some(rack) = load(tx, scene).await? else { return Ok(Vec::new()) };
    let settings = &scene.program.reconditioning;
    let staff: Vec<_> = scene.staff.iter().filter(|member| member.has(Role::Equipment)).map(|m| m.id.clone()).collect();
    let one = |key: String, day: NaiveDate, title: String, what: String| Coming {
        key,
        area: Area::Helmet,
        on: On::Day(day),
        title,
        what,
        place: None,
        staff: staff.clone(),
        medical: false,
    };
    let all = |helmets: &[&Helmet]| tags_of(helmets, usize::MAX, Language::En);
    let mut coming = Vec::new();
    let to_go = rack.to_go(settings);
    if let Some(way) = rack.way(settings, scene.today).filter(|_| !to_go.is_empty()) {
        let title = format!("Ship {} for reconditioning", count(to_go.len()));
        coming.push(one(format!("ship-by/{}", way.ship_by), way.ship_by, title, all(&to_go)));
        let title = format!("Pack {} for reconditioning", count(to_go.len()));
        coming.push(one(format!("pack/{}", way.pack), way.pack, title, String::new()));
    }
    let mut away: BTreeMap<NaiveDate, Vec<&Helmet>> = BTreeMap::new();
    for helmet in rack.helmets.values() {
        if let Some(day) = rack.expected(helmet, settings) {
            away.entry(day).or_default().push(helmet);
        }
    }
    for (day, helmets) in away {
        let title = format!("Expected back from the shop: {}", count(helmets.len()));
        coming.push(one(format!("due-back/{day}"), day.max(scene.today), title, all(&helmets)));
    }
    let mut ends: BTreeMap<NaiveDate, Vec<&Helmet>> = BTreeMap::new();
    for (helmet, end) in ending(scene, &rack, 800) {
        let monday = end - TimeDelta::days(i64::from(end.weekday().num_days_from_monday()));
        ends.entry(monday.max(scene.today)).or_default().push(helmet);
    }
    for (day, helmets) in ends {
        let verb = if helmets.len() == 1 { "is" } else { "are" };
        let title = format!("In this week {} {verb} certified for the last time", count(helmets.len()));
        coming.push(one(format!("certified/{day}"), day, title, all(&helmets)));
    }
    Ok(coming)
}

fn count(helmets: usize) -> String {
    if helmets == 1 { "1 helmet".to_owned() } else { format!("{helmets} helmets") }
}
