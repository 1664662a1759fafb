//! What ways back remind of: the next step that may begin, holds with nothing on file, the daily check-in and its summary.

use std::collections::BTreeSet;

use chrono::{NaiveDate, NaiveTime, TimeDelta};

use super::{held, load_all, load_check_ins, record, say};
use crate::config::Program;
use crate::desk::morning::TickReport;
use crate::desk::reminders::Reminder;
use crate::desk::scene::{Scene, To};
use crate::desk::{Desk, DeskError, load};
use crate::schedule::after_quiet;
use crate::store::Tx;
use crate::store::rows::Purpose;
use crate::trade::clearance::{CheckIn, CheckInState};
use crate::trade::coming::{Area, Coming, On};
use crate::trade::queue::Queue;
use crate::trade::roster::{AthleteId, Language, StaffId, StaffMember, TeamId};
use crate::trade::time::{Moment, resolve};
use crate::wording::Message;
use crate::wording::words::day_words;

/// A reminder of ways back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// The next step of somebody's course may begin.
    Step(AthleteId),
    /// Somebody is held and nothing is on file of what follows.
    Missing(AthleteId),
    /// Those who are held are asked how they are.
    Ask(NaiveDate),
    /// What came of it.
    Summary(NaiveDate),
}

/// After a day with nothing on file, and every so many days from then on.
const MISSING_DAYS: [i64; 4] = [1, 3, 7, 14];
/// Answers are summed up so long after the question.
const SUMMARY_AFTER: TimeDelta = TimeDelta::hours(2);

fn on(day: NaiveDate, time: NaiveTime, zone: chrono_tz::Tz) -> Moment {
    resolve(day.and_time(time), zone)
}

fn nine() -> NaiveTime {
    NaiveTime::from_hms_opt(9, 0, 0).unwrap_or_default()
}

fn reminders(scene: &Scene<'_>) -> Vec<Reminder<What>> {
    let zone = scene.program.zone;
    let mut all = Vec::new();
    let mut asked = false;
    for (athlete, since) in held(scene) {
        if let Some(course) = scene.course(&athlete) {
            asked |= course.check_in;
            let next = scene.progression(course).and_then(|progression| course.next(progression));
            if let Some(next) = next {
                let at = scene.quiet(None).map_or(next.at, |quiet| after_quiet(next.at, quiet, zone));
                let key = format!("course-step/{}/{}/{}", course.id, next.step, next.at.millis());
                all.push(Reminder { key, at, until: at.plus(TimeDelta::days(3)), what: What::Step(athlete) });
            }
            continue;
        }
        for days in MISSING_DAYS {
            let at = on(since.date(zone) + TimeDelta::days(days), nine(), zone);
            let key = format!("course-missing/{athlete}/{}/{days}", since.millis());
            all.push(Reminder { key, at, until: at.plus(TimeDelta::days(2)), what: What::Missing(athlete.clone()) });
        }
    }
    if asked {
        for day in [scene.today, scene.today + TimeDelta::days(1)] {
            let at = on(day, scene.program.clearance.check_in_at, zone);
            let until = at.plus(TimeDelta::hours(6));
            all.push(Reminder { key: format!("check-in/{day}"), at, until, what: What::Ask(day) });
            let at = at.plus(SUMMARY_AFTER);
            let until = at.plus(TimeDelta::hours(10));
            all.push(Reminder { key: format!("check-in-summary/{day}"), at, until, what: What::Summary(day) });
        }
    }
    all
}

impl Desk {
    /// Does what ways back remind of.
    pub(in crate::desk) async fn remind_of_clearances(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let due = self.not_done(program, self.clearance_reminders(program, now).await?, now).await?;
        for reminder in due {
            let Some(mut open) = self.open_reminder(program, &reminder, now, report).await? else { continue };
            load_all(&mut open.tx, &mut open.scene).await?;
            load_check_ins(&mut open.tx, &mut open.scene).await?;
            let scene = &mut open.scene;
            match &reminder.what {
                What::Step(athlete) => {
                    load::state_of(&mut open.tx, scene, &BTreeSet::from([athlete.clone()])).await?;
                    tell_step(scene, athlete, &reminder.key);
                }
                What::Missing(athlete) => tell_missing(scene, athlete, &reminder.key),
                What::Ask(day) => {
                    let teams: BTreeSet<TeamId> = held(scene)
                        .keys()
                        .filter(|athlete| scene.course(athlete).is_some_and(|course| course.check_in))
                        .filter_map(|athlete| scene.athletes.get(athlete).map(|person| person.team.clone()))
                        .collect();
                    let mut consented = BTreeSet::new();
                    for team in teams {
                        consented.extend(load::roster(&mut open.tx, scene, &team).await?);
                    }
                    ask(scene, *day, &consented);
                }
                What::Summary(day) => sum_up(scene, *day, &reminder.key),
            }
            self.close_reminder(open, &reminder, report).await?;
        }
        Ok(())
    }

    /// When the next reminder of ways back is due.
    pub(in crate::desk) async fn next_clearance_reminders(
        &self,
        program: &Program,
        now: Moment,
    ) -> Result<Vec<Moment>, DeskError> {
        Ok(self.clearance_reminders(program, now).await?.into_iter().map(|reminder| reminder.at).collect())
    }

    async fn clearance_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Reminder<What>>, DeskError> {
        let mut tx = self.store().read().await?;
        let mut scene = load::look(&mut tx, program, self.wording(program), now).await?;
        load_all(&mut tx, &mut scene).await?;
        Ok(reminders(&scene))
    }
}

/// Whom it is told: the medical staff of the athlete's team who are on duty, else all of them.
fn medical(scene: &Scene<'_>, athlete: &AthleteId) -> Vec<StaffMember> {
    let Some(person) = scene.athletes.get(athlete) else { return Vec::new() };
    let own = |member: &&StaffMember| record::may(member) && member.serves(&person.team) && member.phone.is_some();
    let all: Vec<StaffMember> = scene.staff.iter().filter(own).cloned().collect();
    let on_duty: Vec<StaffMember> = all.iter().filter(|member| member.on_duty(scene.today)).take(1).cloned().collect();
    if on_duty.is_empty() { all } else { on_duty }
}

fn tell(scene: &mut Scene<'_>, member: &StaffMember, text: &Message<'_>, key: &str) {
    let Some(phone) = member.phone.clone() else { return };
    let to = To { phone: &phone, language: member.language, athlete: None };
    scene.send(to, Purpose::List, format!("{key}/{}", member.id), text, None);
}

fn tell_step(scene: &mut Scene<'_>, athlete: &AthleteId, key: &str) {
    let Some((course, next, what, is_last)) = scene.course(athlete).cloned().and_then(|course| {
        let progression = scene.progression(&course)?;
        let next = course.next(progression)?;
        let what = progression.rule(next.step)?.what.clone();
        let is_last = next.step == progression.last();
        Some((course, next, what, is_last))
    }) else {
        return;
    };
    // What was said since the step began is the trainer's to look at first.
    let reported = scene.items.values().any(|item| {
        item.queue == Queue::Medical
            && item.athlete.as_ref() == Some(athlete)
            && item.is_open()
            && item.opened_at > course.since
    });
    if reported || next.at > scene.now {
        return;
    }
    let who = scene.who(athlete);
    let jersey =
        scene.athletes.get(athlete).map(|person| person.jersey.clone().unwrap_or_else(|| person.first.clone()));
    let reply = format!("{} step {}", jersey.unwrap_or_default(), next.step);
    let page = say::page(scene.program).map(ToOwned::to_owned);
    for member in medical(scene, athlete) {
        let text = Message::StepDue {
            who: &who,
            step: next.step,
            what: &what,
            lacks: next.lacks_determination,
            last: is_last,
            reply: &reply,
            page: page.as_deref(),
        };
        tell(scene, &member, &text, key);
    }
    scene.tell(format!("{who}: the next step may begin → athletic trainer"));
}

fn tell_missing(scene: &mut Scene<'_>, athlete: &AthleteId, key: &str) {
    let Some(since) = scene.held_since(athlete).map(|hold| hold.opened_at) else { return };
    if scene.course(athlete).is_some() {
        return;
    }
    let who = scene.who(athlete);
    let page = say::page(scene.program).map(ToOwned::to_owned);
    for member in medical(scene, athlete) {
        let since = day_words(since.date(scene.program.zone), scene.today, member.language);
        let text = Message::CourseMissing { who: &who, since: &since, page: page.as_deref() };
        tell(scene, &member, &text, key);
    }
}

/// Asks everybody who is held, is to be asked, and may be texted.
fn ask(scene: &mut Scene<'_>, day: NaiveDate, consented: &BTreeSet<AthleteId>) {
    let mut count = 0;
    // Who was held today has been asked enough today.
    let zone = scene.program.zone;
    for (athlete, _) in held(scene).into_iter().filter(|(_, since)| since.date(zone) < day) {
        let wanted = scene.course(&athlete).is_some_and(|course| course.check_in);
        if !wanted || !consented.contains(&athlete) || scene.check_ins.get(&(day, athlete.clone())).is_some() {
            continue;
        }
        let Some(person) = scene.athletes.get(&athlete).cloned() else { continue };
        let Some(phone) = person.phone.clone() else { continue };
        if scene.number(&phone).is_stopped() {
            continue;
        }
        let (contact, contact_phone) = scene.trainer_contact(Some(&person.team));
        let text = Message::CheckInAsk {
            first: &person.first,
            contact: contact.as_deref(),
            contact_phone: contact_phone.as_deref(),
        };
        let to = To { phone: &phone, language: person.language, athlete: Some(&athlete) };
        scene.send(to, Purpose::Medical, format!("check-in/{day}/{athlete}"), &text, None);
        let row = CheckIn {
            program: scene.program.id.clone(),
            date: day,
            athlete: athlete.clone(),
            sent_at: scene.now,
            phone,
            state: CheckInState::Sent,
            answered_at: None,
            words: None,
        };
        scene.check_ins.put((day, athlete), row);
        count += 1;
    }
    if count > 0 {
        scene.tell(format!("{count} held: asked how they are"));
    }
}

/// What came of the day's check-ins, to the medical staff of those athletes.
fn sum_up(scene: &mut Scene<'_>, day: NaiveDate, key: &str) {
    let rows: Vec<CheckIn> = scene.check_ins.values().filter(|row| row.date == day).cloned().collect();
    let mut told: BTreeSet<StaffId> = BTreeSet::new();
    for row in &rows {
        for member in medical(scene, &row.athlete) {
            if !told.insert(member.id.clone()) {
                continue;
            }
            let of = |state: CheckInState| {
                let names: Vec<String> = rows
                    .iter()
                    .filter(|row| row.state == state)
                    .filter(|row| scene.athletes.get(&row.athlete).is_some_and(|person| member.serves(&person.team)))
                    .map(|row| scene.who(&row.athlete))
                    .collect();
                (!names.is_empty()).then(|| names.join(", "))
            };
            let (well, symptoms) = (of(CheckInState::Well), of(CheckInState::Symptoms));
            let (unclear, silent) = (of(CheckInState::Unclear), of(CheckInState::Sent));
            let text = Message::CheckInSummary {
                well: well.as_deref(),
                symptoms: symptoms.as_deref(),
                unclear: unclear.as_deref(),
                silent: silent.as_deref(),
            };
            tell(scene, &member, &text, key);
        }
    }
}

/// Steps that may begin: for medical staff, and without a name, since it may leave the building.
pub async fn coming(tx: &mut Tx, scene: &Scene<'_>) -> crate::store::Result<Vec<Coming>> {
    let mut own = Scene::new(scene.program, scene.wording, scene.now, scene.head.clone());
    load_all(tx, &mut own).await?;
    let staff: Vec<StaffId> =
        scene.staff.iter().filter(|member| record::may(member)).map(|member| member.id.clone()).collect();
    let mut coming = Vec::new();
    for athlete in held(&own).into_keys() {
        let Some(course) = own.course(&athlete) else { continue };
        let Some(progression) = own.progression(course) else { continue };
        let Some(next) = course.next(progression) else { continue };
        let what = say::next(&own, course, Language::En).unwrap_or_default();
        coming.push(Coming {
            key: format!("course-step/{}/{}", course.id, next.step),
            area: Area::Clearance,
            on: On::At(next.at, None),
            title: format!("{}: next step of the way back", own.who(&athlete)),
            what,
            place: None,
            staff: staff.clone(),
            medical: true,
        });
    }
    Ok(coming)
}
