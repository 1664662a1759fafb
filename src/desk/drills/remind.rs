//! What drills remind of: gaps in coverage before an event, the yearly rehearsal, the medical time-out on a game day.

use std::collections::BTreeSet;

use chrono::{Datelike as _, NaiveDate, TimeDelta};

use super::{Book, Gap, Look, gap, is_looked_after, load};
use crate::config::Program;
use crate::desk::morning::TickReport;
use crate::desk::reminders::Reminder;
use crate::desk::scene::{Scene, To};
use crate::desk::{Desk, DeskError};
use crate::schedule::after_quiet;
use crate::store::Tx;
use crate::store::rows::Purpose;
use crate::trade::coming::{Area, Coming, On};
use crate::trade::drill::{Position, Skill};
use crate::trade::phone::Phone;
use crate::trade::roster::{Event, EventKind, Language, Role, StaffMember};
use crate::trade::time::{Moment, resolve};
use crate::wording::Message;
use crate::wording::words::{self, position_words};

/// A reminder of drills.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A gap before a game.
    Gap(Event),
    /// The first gap among the week's practices: once a week, since there are practices nearly every day.
    Week,
    /// The yearly rehearsal.
    Rehearsal,
    /// The time-out before a game.
    TimeOut(Event),
}

/// Days before a game on which a gap is told: while there are practices left, and once more when it presses.
const GAP_DAYS: [i64; 2] = [6, 2];
/// The yearly rehearsal is asked for so long before the last one stops counting.
const REHEARSE_AHEAD: TimeDelta = TimeDelta::days(30);

/// All reminders around now, whether they have happened or not. `rehearsed` is when the whole plan last was.
fn reminders(scene: &Scene<'_>, rehearsed: Option<NaiveDate>) -> Vec<Reminder<What>> {
    let mut all = vec![week(scene), rehearsal(scene, rehearsed)];
    let games = scene.events.values().filter(|event| is_looked_after(event) && event.kind == EventKind::Game);
    all.extend(games.flat_map(|game| of_game(scene, game)));
    all
}

fn of_game(scene: &Scene<'_>, game: &Event) -> Vec<Reminder<What>> {
    let (program, zone) = (scene.program, scene.program.zone);
    let quiet = program.teams.get(&game.team).map(|team| team.times.quiet);
    let after = |at: Moment| quiet.map_or(at, |quiet| after_quiet(at, quiet, zone));
    let noon_before = |days: i64| resolve((game.date - TimeDelta::days(days)).and_time(noon()), zone);
    let mut all: Vec<Reminder<What>> = GAP_DAYS
        .into_iter()
        .map(|days| {
            // Told late is told once: the later one says it.
            let next = GAP_DAYS.into_iter().find(|other| *other < days);
            let until = next.map_or(game.starts_at, noon_before);
            let key = format!("coverage/{}/{days}", game.id);
            Reminder { key, at: after(noon_before(days)), until, what: What::Gap(game.clone()) }
        })
        .collect();
    let at = after(game.starts_at.minus(program.drills.time_out_before.span()));
    let key = format!("time-out/{}", game.id);
    all.push(Reminder { key, at, until: game.starts_at, what: What::TimeOut(game.clone()) });
    all
}

fn week(scene: &Scene<'_>) -> Reminder<What> {
    let monday = scene.today - TimeDelta::days(i64::from(scene.today.weekday().num_days_from_monday()));
    let at = resolve(monday.and_time(noon()), scene.program.zone);
    Reminder { key: format!("coverage/week/{monday}"), at, until: at.plus(TimeDelta::days(6)), what: What::Week }
}

fn noon() -> chrono::NaiveTime {
    chrono::NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default()
}

/// Once a month, from thirty days before the last rehearsal stops counting until there is another; where there never was
/// one, in every month.
fn rehearsal(scene: &Scene<'_>, rehearsed: Option<NaiveDate>) -> Reminder<What> {
    const MONTH: TimeDelta = TimeDelta::days(30);
    let day = match rehearse_by(scene, rehearsed) {
        Some(by) => {
            let due = by - REHEARSE_AHEAD;
            let late = (scene.today - due).num_days().max(0);
            due + TimeDelta::days(late - late % MONTH.num_days())
        }
        None => scene.today.with_day(1).unwrap_or(scene.today),
    };
    let at = resolve(day.and_time(noon()), scene.program.zone);
    Reminder { key: format!("rehearsal/{day}"), at, until: at.plus(MONTH), what: What::Rehearsal }
}

/// The last day on which the rehearsal of the whole plan still counts.
fn rehearse_by(scene: &Scene<'_>, rehearsed: Option<NaiveDate>) -> Option<NaiveDate> {
    Some(rehearsed? + TimeDelta::days(scene.program.drills.currency.of(Skill::WholePlan)))
}

impl Desk {
    /// Does what drills remind of.
    pub(in crate::desk) async fn remind_of_drills(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let due = self.not_done(program, self.drill_reminders(program, now).await?, now).await?;
        for reminder in due {
            let Some(mut open) = self.open_reminder(program, &reminder, now, report).await? else { continue };
            let book = load(&mut open.tx, &open.scene).await?;
            match &reminder.what {
                What::Gap(event) => tell_gap(&mut open.scene, &book, event, &reminder.key),
                What::Week => tell_week(&mut open.scene, &book, &reminder.key),
                What::Rehearsal => tell_rehearsal(&mut open.scene, &book, &reminder.key),
                What::TimeOut(event) => tell_time_out(&mut open.scene, &book, event),
            }
            self.close_reminder(open, &reminder, report).await?;
        }
        Ok(())
    }

    /// When the next reminder of drills is due.
    pub(in crate::desk) async fn next_drill_reminders(
        &self,
        program: &Program,
        now: Moment,
    ) -> Result<Vec<Moment>, DeskError> {
        Ok(self.drill_reminders(program, now).await?.into_iter().map(|reminder| reminder.at).collect())
    }

    async fn drill_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Reminder<What>>, DeskError> {
        let mut tx = self.store().read().await?;
        let scene = crate::desk::load::look(&mut tx, program, self.wording(program), now).await?;
        // A program without drills and venues does not use this.
        if !tx.has_drills(&program.id).await? {
            return Ok(Vec::new());
        }
        let rehearsed = tx.last_rehearsed(&program.id).await?;
        Ok(reminders(&scene, rehearsed))
    }
}

/// An event as it is named in these texts: "Varsity, game 7:00 pm Fri Sep 18".
#[must_use]
pub fn event_name(scene: &Scene<'_>, event: &Event, language: Language) -> String {
    let time = event.starts_at.local(scene.program.zone).time();
    let team = scene.program.teams.get(&event.team).map_or(event.team.as_str(), |team| team.name.as_str());
    let day = words::day_words(event.date, scene.today, language);
    format!("{team}, {} {day}", words::event_short(event.kind, time, language))
}

fn tell_week(scene: &mut Scene<'_>, book: &Book, key: &str) {
    let practised = book.practised();
    let until = scene.now.plus(TimeDelta::days(7));
    let soon = |event: &&Event| {
        let ahead = event.starts_at > scene.now && event.starts_at < until;
        ahead && event.kind == EventKind::Practice && is_looked_after(event)
    };
    let mut practices: Vec<Event> = scene.events.values().filter(soon).cloned().collect();
    practices.sort_by_key(|event| event.starts_at);
    let gap = |event: &&Event| !book.look(scene, &practised, event, scene.events.values()).is_covered();
    if let Some(first) = practices.iter().find(gap).cloned() {
        tell_gap(scene, book, &first, key);
    }
}

fn tell_gap(scene: &mut Scene<'_>, book: &Book, event: &Event, key: &str) {
    let practised = book.practised();
    let look = book.look(scene, &practised, event, scene.events.values());
    if look.is_covered() {
        return;
    }
    let called = to_trainers(scene, event);
    for member in &called {
        let Some(phone) = member.phone.clone() else { continue };
        let Some(found) = gap(scene, &look, member.language) else { continue };
        let name = event_name(scene, event, member.language);
        let text = gap_message(&name, &found);
        let to = To { phone: &phone, language: member.language, athlete: None };
        let body = scene.say(member.language, &text);
        scene.send_text(to, Purpose::List, format!("{key}/{}", member.id), body, Some(event.starts_at));
    }
    let name = event_name(scene, event, Language::En);
    let what = gap(scene, &look, Language::En).map(|gap| gap.what).unwrap_or_default();
    scene.note("program", "coverage gap told", event.id.as_str(), &what, None);
    scene.tell(format!("{name}: {what} → athletic trainer"));
}

/// A gap as a message.
#[must_use]
pub fn gap_message<'m>(event: &'m str, gap: &'m Gap) -> Message<'m> {
    Message::CoverageGap {
        event,
        gap: &gap.what,
        away: gap.away.as_deref(),
        drill: gap.drill.as_deref(),
        day: gap.day.as_deref(),
        bring: gap.bring.as_deref(),
        people_short: gap.people_short,
    }
}

/// The trainers who serve a team: on duty that day first; where there is none, administrators.
fn to_trainers(scene: &Scene<'_>, event: &Event) -> Vec<StaffMember> {
    let trainers = scene.on_duty(Role::Trainer, Some(&event.team), scene.today);
    if !trainers.is_empty() {
        return trainers.into_iter().take(1).collect();
    }
    let any = |role| {
        let has = |member: &&StaffMember| member.has(role) && member.phone.is_some() && member.serves(&event.team);
        scene.staff.iter().filter(has).cloned().collect::<Vec<_>>()
    };
    let trainers = any(Role::Trainer);
    if trainers.is_empty() { any(Role::Administrator) } else { trainers }
}

fn tell_rehearsal(scene: &mut Scene<'_>, book: &Book, key: &str) {
    let by = rehearse_by(scene, book.last_rehearsed());
    if by.is_some_and(|by| by - REHEARSE_AHEAD > scene.today) {
        return;
    }
    let staff: Vec<StaffMember> =
        scene.staff.iter().filter(|member| member.has(Role::Trainer) && member.phone.is_some()).cloned().collect();
    for member in staff {
        let Some(phone) = member.phone.clone() else { continue };
        let day = |day: NaiveDate| words::day_words(day, scene.today, member.language);
        let (last, by) = (book.last_rehearsed().map(day), by.map(day));
        let text = Message::RehearsalDue { last: last.as_deref(), by: by.as_deref() };
        let to = To { phone: &phone, language: member.language, athlete: None };
        scene.send(to, Purpose::List, format!("{key}/{}", member.id), &text, None);
    }
    scene.tell("the yearly rehearsal of the emergency plan is due → athletic trainers");
}

/// Medical time-out before every game: each person's role and place, communication, ambulance route, hospital, equipment
/// (NATA official statement on pre-event medical time-outs, 2012).
fn tell_time_out(scene: &mut Scene<'_>, book: &Book, event: &Event) {
    let practised = book.practised();
    let look = book.look(scene, &practised, event, scene.events.values());
    let responders = [Role::Trainer, Role::Responder];
    let named: Vec<&StaffMember> = look
        .people
        .iter()
        .filter(|member| {
            let has_place = look.covers.iter().any(|cover| cover.filled.iter().any(|(_, who)| *who == member.id));
            has_place || responders.into_iter().any(|role| member.has(role))
        })
        .collect();
    let mut to: Vec<(Phone, Language, String, bool)> = named
        .iter()
        .filter_map(|member| Some((member.phone.clone()?, member.language, member.id.0.clone(), false)))
        .collect();
    let also = scene.program.drills.time_out_also.iter();
    to.extend(also.map(|phone| (phone.clone(), Language::En, phone.as_str().to_owned(), true)));
    for (phone, language, who, visitor) in &to {
        let text = time_out_text(scene, book, &look, *language, *visitor);
        let to = To { phone, language: *language, athlete: None };
        let key = format!("time-out/{}/{who}", event.id);
        scene.send_text(to, Purpose::List, key, text, Some(event.starts_at));
    }
    let name = event_name(scene, event, Language::En);
    scene.tell(format!("{name}: medical time-out → {} people", to.len()));
}

/// The time-out in words; to a visitor it says who writes and how to stop it.
#[must_use]
pub fn time_out_text(scene: &Scene<'_>, book: &Book, look: &Look, language: Language, visitor: bool) -> String {
    let (who, empty) = places(look, language);
    let venue = book.venue(&look.event);
    let event = event_name(scene, &look.event, language);
    let of =
        |field: fn(&crate::trade::drill::Venue) -> &Option<String>| venue.and_then(|venue| field(venue).as_deref());
    let text = Message::TimeOut {
        program: visitor.then_some(scene.program.name.as_str()),
        event: &event,
        who: &who,
        empty: empty.as_deref(),
        place: venue.map(|venue| venue.name.as_str()).or(look.event.place.as_deref()),
        address: of(|venue| &venue.address),
        entrance: of(|venue| &venue.entrance),
        aed: of(|venue| &venue.aed),
        kit: of(|venue| &venue.kit),
        hospital: of(|venue| &venue.hospital),
    };
    scene.say(language, &text)
}

/// Who has which position; where it differs by helmet, for which. And positions that stay empty.
fn places(look: &Look, language: Language) -> (String, Option<String>) {
    let name =
        |id| look.people.iter().find(|member| member.id == id).map(|member| member.first.clone()).unwrap_or_default();
    let mut said = Vec::new();
    let mut empty = Vec::new();
    for position in Position::ALL {
        let mut by_who: Vec<(String, Vec<String>)> = Vec::new();
        for cover in &look.covers {
            if cover.empty.contains(&position) {
                empty.push(format!("{} ({})", position_words(position, language), cover.models.join(", ")));
            }
            let Some((_, who)) = cover.filled.iter().find(|(own, _)| *own == position) else { continue };
            let who = name(who.clone());
            match by_who.iter_mut().find(|(own, _)| *own == who) {
                Some((_, models)) => models.extend(cover.models.iter().cloned()),
                None => by_who.push((who, cover.models.clone())),
            }
        }
        let words = position_words(position, language);
        match by_who.as_slice() {
            [] => {}
            [(who, _)] => said.push(format!("{words} {who}")),
            several => {
                let each: Vec<String> =
                    several.iter().map(|(who, models)| format!("{who} on {}", models.join("/"))).collect();
                said.push(format!("{words} {}", each.join(" or ")));
            }
        }
    }
    if said.is_empty() {
        let none = if language == Language::Es { "nadie tiene puesto" } else { "nobody has a place" };
        said.push(none.to_owned());
    }
    (said.join(", "), (!empty.is_empty()).then(|| empty.join(", ")))
}

/// An event with its date, since a calendar may be read on any day.
fn dated_name(scene: &Scene<'_>, event: &Event) -> String {
    let time = event.starts_at.local(scene.program.zone).time();
    let team = scene.program.teams.get(&event.team).map_or(event.team.as_str(), |team| team.name.as_str());
    format!("{team} {} {}", words::event_short(event.kind, time, Language::En), event.date.format("%a %b %-d"))
}

/// A gap as it stands in a list under the day of its drill.
fn listed_words(gap: &Gap) -> String {
    let away = gap.away.as_ref().map(|away| format!(" with {away} away")).unwrap_or_default();
    let short = match gap.people_short {
        0 => String::new(),
        1 => ". 1 more person is needed there".to_owned(),
        more => format!(". {more} more people are needed there"),
    };
    let drill = gap.drill.as_ref().map(|drill| format!(". {drill}")).unwrap_or_default();
    let bring = gap.bring.as_ref().map(|bring| format!(". Bring {bring}")).unwrap_or_default();
    format!("{}{away}{short}{drill}{bring}", gap.what)
}

/// What is coming of drills: for each gap the first event that has it, and the yearly rehearsal.
pub(in crate::desk) async fn coming(
    tx: &mut Tx,
    scene: &Scene<'_>,
    events: &[Event],
) -> Result<Vec<Coming>, DeskError> {
    if !tx.has_drills(&scene.program.id).await? {
        return Ok(Vec::new());
    }
    let book = load(tx, scene).await?;
    let practised = book.practised();
    let mut coming = Vec::new();
    // One drill closes the gap of every later event that lacks the same.
    let mut listed = BTreeSet::new();
    let trainers =
        || scene.staff.iter().filter(|member| member.has(Role::Trainer)).map(|member| member.id.clone()).collect();
    for event in events.iter().filter(|event| is_looked_after(event) && event.starts_at > scene.now) {
        let look = book.look(scene, &practised, event, events.iter());
        let Some(found) = gap(scene, &look, Language::En) else { continue };
        let remedy = look.suggestion.as_ref().map(|suggestion| &suggestion.remedy);
        let lacks = remedy.map(|remedy| (remedy.drills.clone(), remedy.people_short));
        if !listed.insert((event.team.clone(), lacks)) {
            continue;
        }
        let day = look.suggestion.as_ref().and_then(|suggestion| suggestion.day).unwrap_or(event.date);
        coming.push(Coming {
            key: format!("drill/{}", event.id),
            area: Area::Drill,
            on: On::Day(day),
            title: format!("Drill before {}", dated_name(scene, event)),
            what: listed_words(&found),
            place: None,
            staff: trainers(),
            medical: false,
        });
    }
    if let Some(by) = rehearse_by(scene, book.last_rehearsed()) {
        coming.push(Coming {
            key: format!("rehearsal/{by}"),
            area: Area::Drill,
            on: On::Day(by),
            title: "Rehearse the whole emergency action plan".to_owned(),
            what: "At least once a year, with the ambulance service; it stops counting after this day.".to_owned(),
            place: None,
            staff: trainers(),
            medical: false,
        });
    }
    Ok(coming)
}
