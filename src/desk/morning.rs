//! The steps of an event's day, each in a transaction of its own, each under its natural key.

use std::collections::BTreeSet;

use super::inbound::report::{alert, ask_meant};
use super::scene::{Scene, To};
use super::{Desk, DeskError, lists, load};
use crate::config::Program;
use crate::schedule::{self, Due, Load, Step};
use crate::store::rows::{Happening, OutState, Purpose};
use crate::trade::flag::Flags;
use crate::trade::morning::{ByHand, CheckState, MorningCheck};
use crate::trade::queue::{Item, NOT_UNDERSTOOD, Queue};
use crate::trade::roster::{Athlete, AthleteId, Event, Language, Role, TeamId};
use crate::trade::time::Moment;
use crate::wording::{Attempt, Message, words};

/// What a tick did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TickReport {
    /// Steps done, by natural key.
    pub done: Vec<String>,
    /// Steps given up because it was too late for them.
    pub missed: Vec<String>,
    /// Queued messages that were given up because it was too late for them.
    pub too_late: usize,
    /// Alerts that went a rung up.
    pub alerts: usize,
    /// Messages whose consequences had failed and are now drawn.
    pub recovered: usize,
}

impl Desk {
    /// Does all that is due at this moment and has not been done. Asking twice does nothing twice.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails; what was committed before stays done.
    pub async fn tick(&self, now: Moment) -> Result<TickReport, DeskError> {
        let mut report = TickReport::default();
        for program in self.config().programs.values() {
            report.recovered += self.recover(program, now).await?;
            self.steps(program, now, &mut report).await?;
            report.too_late += self.give_up_late(program, now).await?;
            report.alerts += self.climb(program, now).await?;
            self.remind(program, now, &mut report).await?;
        }
        Ok(report)
    }

    /// When something is next due after `now`, as far as the store and the calendar know; within the next two days.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn next_due(&self, now: Moment) -> Result<Option<Moment>, DeskError> {
        let mut next: Option<Moment> = None;
        let mut consider = |at: Moment| next = Some(next.map_or(at, |other| other.min(at)));
        for program in self.config().programs.values() {
            let mut tx = self.store().read().await?;
            let scene = load::look(&mut tx, program, self.wording(program), now).await?;
            let events: Vec<Event> = scene.events.values().cloned().collect();
            let due = self.due(&mut tx, program, &events).await?;
            due.iter().filter(|due| due.at > now).map(|due| due.at).for_each(&mut consider);
            let open = tx.items_open(&program.id).await?;
            open.iter()
                .filter_map(|item| schedule::next_rung_at(item, program.alert_again_after))
                .for_each(&mut consider);
            self.next_reminders(program, now).await?.into_iter().filter(|at| *at > now).for_each(&mut consider);
            if let Some(at) = tx.outbox_next(&program.id).await? {
                let pace = tx.sender(&program.id).await?.map_or(at, |sender| sender.next_free_at);
                consider(at.max(pace).max(now));
            }
        }
        Ok(next)
    }

    async fn due<'e>(
        &self,
        tx: &mut crate::store::Tx,
        program: &Program,
        events: &'e [Event],
    ) -> Result<Vec<Due<'e>>, DeskError> {
        let mut loads = std::collections::BTreeMap::new();
        for team in program.teams.keys() {
            let texts = tx.roster_with_phone(&program.id, team).await?;
            let segments = u32::try_from(texts).unwrap_or(u32::MAX);
            loads.insert(team.clone(), Load { segments, per_second: self.config().carrier.segments_per_second });
        }
        let none = Load { segments: 0, per_second: 0.0 };
        Ok(schedule::steps(
            events,
            program.zone,
            |team| program.teams.get(team).map(|team| team.times),
            |team| loads.get(team).copied().unwrap_or(none),
        ))
    }

    async fn steps(&self, program: &Program, now: Moment, report: &mut TickReport) -> Result<(), DeskError> {
        let events: Vec<Event> = {
            let mut tx = self.store().read().await?;
            let scene = load::look(&mut tx, program, self.wording(program), now).await?;
            scene.events.values().cloned().collect()
        };
        let mut tx = self.store().read().await?;
        let all = self.due(&mut tx, program, &events).await?;
        let keys: Vec<String> = all.iter().filter(|due| due.at <= now).map(Due::key).collect();
        let refs: Vec<&str> = keys.iter().map(String::as_str).collect();
        let happened: BTreeSet<String> = tx.happened(&program.id, &refs).await?.into_iter().map(|row| row.id).collect();
        // What was over before the program knew of anything was never its to do.
        let known_since = tx.record_begins(&program.id).await?.unwrap_or(now);
        drop(tx);
        let open = |due: &&Due<'_>| due.at <= now && due.until > known_since && !happened.contains(&due.key());
        for due in all.iter().filter(open) {
            if self.step(program, due, now).await? {
                report.done.push(due.key());
            } else {
                report.missed.push(due.key());
            }
        }
        Ok(())
    }

    /// Does one step, or notes that it is too late for it. Whether it was done.
    async fn step(&self, program: &Program, due: &Due<'_>, now: Moment) -> Result<bool, DeskError> {
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let key = due.key();
        if !tx.happened(&program.id, &[&key]).await?.is_empty() {
            return Ok(true);
        }
        let in_time = now < due.until;
        match due.step {
            Step::Check => {
                let consented = load::roster(&mut tx, &mut scene, &due.event.team).await?;
                check(&mut scene, due, &consented, in_time);
            }
            Step::Nudge if in_time => {
                load::roster(&mut tx, &mut scene, &due.event.team).await?;
                nudge(&mut scene, due);
            }
            Step::FixAgain | Step::FixSecond | Step::FixEveryone if in_time => {
                load::whole_day(&mut tx, &mut scene).await?;
                not_taken(&mut scene, due);
            }
            Step::FixList | Step::Silent | Step::Availability if in_time => {
                load::whole_day(&mut tx, &mut scene).await?;
                list(&mut scene, due);
            }
            Step::FixAgain | Step::FixSecond | Step::FixEveryone => {}
            _ => scene.tell(format!("too late for: {key}")),
        }
        let outcome = if in_time { "done" } else { "missed" };
        let reminds = matches!(due.step, Step::FixAgain | Step::FixSecond | Step::FixEveryone);
        if !in_time && !reminds {
            scene.note("program", "missed", &key, "the time for it had passed", None);
        }
        scene.happenings.push(Happening { program: program.id.clone(), id: key, at: now, outcome: outcome.to_owned() });
        self.finish(tx, scene).await?;
        Ok(in_time)
    }

    /// Queued messages past their send-by time are not sent late; checks among them are done by hand.
    async fn give_up_late(&self, program: &Program, now: Moment) -> Result<usize, DeskError> {
        let mut tx = self.store().read().await?;
        if tx.outbox_too_late_count(&program.id, now).await? == 0 {
            return Ok(0);
        }
        drop(tx);
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let mut late = tx.outbox_too_late(&program.id, now).await?;
        let checks: BTreeSet<AthleteId> = late
            .iter()
            .filter(|message| message.purpose == Purpose::Check)
            .filter_map(|message| message.athlete.clone())
            .collect();
        load::state_of(&mut tx, &mut scene, &checks).await?;
        for message in &mut late {
            message.state = OutState::Missed;
            scene.note("program", "missed", &message.id, "not sent before its send-by time", None);
            if let (Purpose::Check, Some(athlete), Some(date)) = (message.purpose, &message.athlete, message.date) {
                scene.checks.change(&(athlete.clone(), date), |check| {
                    if check.state == CheckState::Planned {
                        check.state = CheckState::Missed;
                    }
                });
            }
        }
        tx.put(&late).await?;
        let count = late.len();
        scene.tell(format!("{count} texts were not sent: it was too late for them; staff check at the door"));
        self.finish(tx, scene).await?;
        Ok(count)
    }

    /// Body reports that nobody has acknowledged go up the ladder.
    async fn climb(&self, program: &Program, now: Moment) -> Result<usize, DeskError> {
        let waits = |items: &[crate::trade::queue::Item]| {
            items
                .iter()
                .filter(|item| schedule::alert_rung(item, program.alert_again_after, now) > item.alerts)
                .map(|item| item.id.clone())
                .collect::<Vec<_>>()
        };
        let mut tx = self.store().read().await?;
        if waits(&tx.items_open(&program.id).await?).is_empty() {
            return Ok(0);
        }
        drop(tx);
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let open = tx.items_open(&program.id).await?;
        let ids = waits(&open);
        let athletes: BTreeSet<AthleteId> = open.iter().filter_map(|item| item.athlete.clone()).collect();
        let people = tx.athletes_named(&program.id, &athletes).await?;
        scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
        scene.items.load(open.into_iter().map(|item| (item.id.clone(), item)));
        for id in &ids {
            climb_one(&mut scene, id);
        }
        self.finish(tx, scene).await?;
        Ok(ids.len())
    }
}

fn climb_one(scene: &mut Scene<'_>, id: &str) {
    let Some(item) = scene.items.get(&id.to_owned()).cloned() else { return };
    let rung = schedule::alert_rung(&item, scene.program.alert_again_after, scene.now);
    let (attempt, words) = match rung {
        1 => (Attempt::First, "the trainer on duty is texted"),
        2 => (Attempt::Again, "not acknowledged: the trainer on duty is texted again"),
        3 => (Attempt::Second, "not acknowledged: the next trainer is texted"),
        _ => (Attempt::Everyone, "still not acknowledged: every trainer is texted, and it stays on top"),
    };
    scene.items.change(&id.to_owned(), |item| item.alerts = rung);
    let who =
        item.athlete.as_ref().map_or_else(|| item.about.clone().unwrap_or_default(), |athlete| scene.who(athlete));
    scene.note("program", "alert", id, &format!("rung {rung}"), None);
    alert(scene, id, attempt, &item.opened_at.millis().to_string());
    scene.tell(format!("body report on {who}: {words}"));
}

fn check(scene: &mut Scene<'_>, due: &Due<'_>, consented: &BTreeSet<AthleteId>, in_time: bool) {
    let athletes: Vec<Athlete> =
        scene.athletes.values().filter(|athlete| athlete.team == due.event.team).cloned().collect();
    let (mut texted, mut by_hand) = (0, 0);
    for athlete in &athletes {
        if scene.checks.get(&(athlete.id.clone(), due.event.date)).is_some() {
            continue;
        }
        let state = plan_check(scene, due, athlete, consented, in_time);
        match state {
            CheckState::Planned => texted += 1,
            CheckState::Held => {}
            _ => by_hand += 1,
        }
    }
    let team = team_name(scene, &due.event.team);
    if in_time {
        scene.note("program", "check planned", &due.key(), &format!("{texted} texts, {by_hand} by hand"), None);
        let are = if by_hand == 1 { "is" } else { "are" };
        scene.tell(format!("{team}: the morning check goes out to {texted}; {by_hand} {are} checked by hand"));
    } else {
        scene.tell(format!("{team}: too late to send the check; all {by_hand} are checked at the door"));
        tell_missed(scene, due, by_hand);
    }
}

fn plan_check(
    scene: &mut Scene<'_>,
    due: &Due<'_>,
    athlete: &Athlete,
    consented: &BTreeSet<AthleteId>,
    in_time: bool,
) -> CheckState {
    let by_hand = why_by_hand(scene, athlete, consented);
    let state = if scene.is_held_for_body(&athlete.id) {
        CheckState::Held
    } else if by_hand.is_some() {
        CheckState::ByHand
    } else if in_time {
        CheckState::Planned
    } else {
        CheckState::Missed
    };
    let check = MorningCheck {
        program: scene.program.id.clone(),
        date: due.event.date,
        athlete: athlete.id.clone(),
        team: athlete.team.clone(),
        event: due.event.id.clone(),
        phone: athlete.phone.clone(),
        state,
        by_hand: by_hand.filter(|_| state == CheckState::ByHand),
        flags: Flags::NONE,
        asked_again: false,
        answered_at: None,
        last_text: None,
        last_text_at: None,
    };
    scene.checks.put((athlete.id.clone(), due.event.date), check);
    if let (CheckState::Planned, Some(phone)) = (state, &athlete.phone) {
        let text = Message::Check { first: &athlete.first };
        let to = To { phone, language: athlete.language, athlete: Some(&athlete.id) };
        let key = format!("check/{}/{}", due.event.date, athlete.id);
        scene.send(to, Purpose::Check, key.clone(), &text, Some(due.until));
        super::chat::direct::ask(scene, athlete, due.event.date, &key, due.until);
    }
    state
}

fn why_by_hand(scene: &Scene<'_>, athlete: &Athlete, consented: &BTreeSet<AthleteId>) -> Option<ByHand> {
    let Some(phone) = &athlete.phone else { return Some(ByHand::NoPhone) };
    let number = scene.number(phone);
    if number.opted_out_at.is_some() {
        Some(ByHand::OptedOut)
    } else if number.wrong_at.is_some() {
        Some(ByHand::WrongNumber)
    } else if number.trouble.is_some() {
        Some(ByHand::NumberFails)
    } else if consented.contains(&athlete.id) {
        None
    } else {
        Some(ByHand::NoConsent)
    }
}

/// Staff hear at once that nobody was asked.
fn tell_missed(scene: &mut Scene<'_>, due: &Due<'_>, missed: usize) {
    for role in [Role::Equipment, Role::Trainer] {
        for member in scene.on_duty(role, Some(&due.event.team), due.event.date) {
            let Some(phone) = &member.phone else { continue };
            let event = event_short(scene, due.event, member.language);
            let key = format!("checks-missed/{}/{}", due.key(), member.id);
            let text = Message::ChecksMissed { event: &event, missed };
            let to = To { phone, language: member.language, athlete: None };
            scene.send(to, Purpose::List, key, &text, Some(due.event.starts_at));
        }
    }
}

fn nudge(scene: &mut Scene<'_>, due: &Due<'_>) {
    let silent: Vec<MorningCheck> = scene
        .checks
        .values()
        .filter(|check| check.team == due.event.team && check.date == due.event.date)
        .filter(|check| check.state == CheckState::Sent)
        .cloned()
        .collect();
    let before = scene.program.teams.get(&due.event.team).map(|team| team.times.silent_before.span());
    let by = due.event.starts_at.minus(before.unwrap_or_default()).local(scene.program.zone).time();
    for check in &silent {
        let (Some(phone), Some(athlete)) = (&check.phone, scene.athletes.get(&check.athlete).cloned()) else {
            continue;
        };
        let by = words::by_words(by, athlete.language);
        let text = Message::Nudge { first: &athlete.first, by: &by };
        let to = To { phone, language: athlete.language, athlete: Some(&athlete.id) };
        let key = format!("nudge/{}/{}", check.date, athlete.id);
        let body = scene.say(athlete.language, &text);
        scene.send_text(to, Purpose::Nudge, key, body, Some(due.until));
    }
    let team = team_name(scene, &due.event.team);
    scene.tell(format!("{team}: {} have not answered and are reminded once", silent.len()));
}

/// Answers that could not be read, and to which nothing more came, go on the list: staff look, and say what was meant.
fn unread(scene: &mut Scene<'_>, event: &Event) {
    let checks: Vec<MorningCheck> = scene
        .checks
        .values()
        .filter(|check| check.team == event.team && check.date == event.date && check.state == CheckState::Unclear)
        .cloned()
        .collect();
    for check in checks {
        let Some(text) = check.last_text.clone() else { continue };
        let mine = |item: &Item| item.queue == Queue::Equipment && item.athlete.as_ref() == Some(&check.athlete);
        if scene.items.values().any(mine) {
            continue;
        }
        let mut item = scene.item(Queue::Equipment, check.athlete.as_str(), Some(&check.athlete));
        item.about = Some(NOT_UNDERSTOOD.to_owned());
        item.replies.push(text);
        scene.note("program", "not understood", &item.id, "no further answer came", None);
        scene.items.put(item.id.clone(), item.clone());
        ask_meant(scene, &item, event.id.as_str());
    }
}

fn list(scene: &mut Scene<'_>, due: &Due<'_>) {
    let event = due.event;
    if due.step == Step::FixList {
        unread(scene, event);
    }
    let (count, what) = match due.step {
        Step::FixList => (lists::send_fix_list(scene, event), "fix list → equipment staff"),
        Step::Silent => (lists::send_silent(scene, event), "who has not answered → staff at the door"),
        _ => (lists::send_availability(scene, event), "availability → coach"),
    };
    let short = event_short(scene, event, Language::En);
    scene.note("program", due.step.name(), event.id.as_str(), &format!("to {count}"), None);
    scene.tell(format!("{short}: {what} ({count})"));
}

/// Helmets that nobody has taken go up their ladder; where all are taken, nobody is texted.
fn not_taken(scene: &mut Scene<'_>, due: &Due<'_>) {
    let (rung, to) = match due.step {
        Step::FixAgain => (lists::Rung::Again, "again to equipment staff on duty"),
        Step::FixSecond => (lists::Rung::Second, "to the next person"),
        _ => (lists::Rung::Everyone, "to everyone who can fix one"),
    };
    let (helmets, told) = lists::send_not_taken(scene, due.event, rung);
    if helmets == 0 {
        return;
    }
    let short = event_short(scene, due.event, Language::En);
    let subject = due.event.id.as_str();
    scene.note("program", due.step.name(), subject, &format!("{helmets} not taken, to {told}"), None);
    scene.tell(format!("{short}: {helmets} on the fix list not taken → {to} ({told})"));
}

fn team_name(scene: &Scene<'_>, team: &TeamId) -> String {
    scene.program.teams.get(team).map_or_else(|| team.0.clone(), |team| team.name.clone())
}

fn event_short(scene: &Scene<'_>, event: &Event, language: Language) -> String {
    let time = event.starts_at.local(scene.program.zone).time();
    format!("{} {}", team_name(scene, &event.team), words::event_short(event.kind, time, language))
}
