//! The slash commands: today's list, who is silent, one athlete, calling an event off. Their answers are seen by the one
//! who asked alone.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use super::hear::event_tag;
use crate::channel::chat::press::Press;
use crate::channel::chat::{Control, Post, Style, plain};
use crate::config::{Program, Show};
use crate::desk::act::event::short;
use crate::desk::inbound::staff::command::Command;
use crate::desk::inbound::staff::may;
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::desk::today::{FixRow, HeldRow, Today};
use crate::desk::{Desk, DeskError, load};
use crate::trade::queue::{HoldKind, ItemState, Queue};
use crate::trade::roster::{Athlete, Event, Language, Role, StaffMember, TeamId};
use crate::trade::time::Moment;
use crate::wording::chat::{self as words, Say, say};
use crate::wording::words::{by_words, helmet_words};

/// Room for lines in one answer.
const ROOM: usize = 1_800;
/// Events offered to be called off.
const MOST_EVENTS: usize = 4;

/// Who asks, where and when.
#[derive(Clone, Copy)]
pub struct Asking<'a> {
    /// The desk.
    pub desk: &'a Desk,
    /// The program.
    pub program: &'a Program,
    /// The member of staff.
    pub member: &'a StaffMember,
    /// The present moment.
    pub now: Moment,
}

impl Asking<'_> {
    const fn language(&self) -> Language {
        self.member.language
    }

    fn say(&self, what: Say) -> Post {
        Post::of(say(what, self.language()))
    }

    /// As the settings show athletes; `who` is "#12 Jonah".
    fn shown(&self, who: &str) -> String {
        let show = self.program.chat.as_ref().map(|chat| chat.show).unwrap_or_default();
        match (show, who.split_once(' ')) {
            (Show::JerseyAndFirst, _) => plain(who),
            (Show::Jersey, Some((jersey, _))) if jersey.starts_with('#') => plain(jersey),
            (Show::Jersey, _) => say(Say::NoJersey, self.language()).to_owned(),
        }
    }

    async fn lists(&self) -> Result<Vec<Today>, DeskError> {
        let teams: Vec<Option<&TeamId>> = match self.member.teams.as_slice() {
            [] => vec![None],
            teams => teams.iter().map(Some).collect(),
        };
        let mut all = Vec::new();
        for team in teams {
            all.push(self.desk.today(&self.program.id, team, self.now).await?);
        }
        Ok(all)
    }
}

/// The commands as the platform is told of them.
#[must_use]
pub fn all() -> Value {
    let text = |name: &str, en: &str, es: &str, required: bool| {
        json!({"type": 3, "name": name, "description": en, "description_localizations": spanish(es),
               "required": required})
    };
    let command = |name: &str, en: &str, es: &str, options: Vec<Value>| {
        json!({"type": 1, "name": name, "description": en, "description_localizations": spanish(es),
               "options": options})
    };
    json!([
        command("today", "Today's fix list and who is held", "La lista de hoy y quién está en pausa", vec![]),
        command("silent", "Who has not answered", "Quién no ha respondido", vec![]),
        command(
            "athlete",
            "One athlete: helmet, check, holds",
            "Un atleta: casco, revisión, pausas",
            vec![text("who", "Jersey number or name", "Número o nombre", true)],
        ),
        command(
            "calloff",
            "Call off a practice or game of today",
            "Cancelar una práctica o partido de hoy",
            vec![text("team", "Which team", "Qué equipo", false)],
        ),
        command(
            "drill",
            "Record a drill, or see what the next game lacks",
            "Anotar un ejercicio, o ver qué le falta al próximo partido",
            vec![text("text", "Like: log roll today ana ben cole 42s", "Así: log roll hoy ana ben cole 42s", false)],
        ),
        command(
            "kit",
            "Count a kit, or see what it holds",
            "Contar un maletín, o ver qué tiene",
            vec![text("text", "Like: 2 glycerine 1 high straps 4, or: 2 ok", "Así: 2 glicerina 1, o: 2 ok", false)],
        ),
        command(
            "helmets",
            "Note helmets shipped, back, failed or given to somebody",
            "Anotar cascos enviados, de vuelta, rechazados o entregados",
            vec![text("text", "Like: shipped h12 h14, or: h24 to 12", "Así: enviados h12 h14, o: h24 a 12", false)],
        ),
        command(
            "link",
            "Link your account with the code that was texted to you",
            "Enlaza tu cuenta con el código que recibiste",
            vec![text("code", "The code", "El código", true)],
        ),
        command("unlink", "End your account's link", "Termina el enlace de tu cuenta", vec![]),
    ])
}

fn spanish(text: &str) -> Value {
    json!({"es-ES": text, "es-419": text})
}

/// Today's fix list for those who look after helmets; who is held for all staff.
///
/// # Errors
/// [`DeskError`] when the store fails.
pub async fn today(asking: &Asking<'_>) -> Result<Post, DeskError> {
    let mut lines = Vec::new();
    for list in asking.lists().await? {
        if may(asking.member, &Command::List) {
            fix_list(asking, &list, &mut lines);
        }
        if may(asking.member, &Command::Out) && !list.held.is_empty() {
            lines.push(format!("**{}**", words::held(&list.held.len().to_string(), asking.language())));
            lines.extend(list.held.iter().map(|row| held_line(asking, row)));
        }
    }
    Ok(if lines.is_empty() { asking.say(Say::Nothing) } else { Post::of(fitted(&lines, asking.language())) })
}

fn fix_list(asking: &Asking<'_>, list: &Today, lines: &mut Vec<String>) {
    if list.fix_list.is_empty() {
        return;
    }
    let next = list.next.clone().unwrap_or_else(|| list.date.to_string());
    let mut heading = format!("**{}**", words::fix_list(&plain(&next), asking.language()));
    if let Some(at) = list.start_fixing_at {
        let time = by_words(at.local(asking.program.zone).time(), asking.language());
        heading = format!("{heading}, {}", words::start_by(&time, asking.language()));
    }
    lines.push(heading);
    lines.extend(list.fix_list.iter().enumerate().map(|(index, row)| fix_line(asking, index + 1, row)));
}

fn fix_line(asking: &Asking<'_>, place: usize, row: &FixRow) -> String {
    let language = asking.language();
    let flags = helmet_words(row.flags, language);
    let what = if flags.is_empty() { say(Say::LookAtIt, language) } else { &flags };
    let helmet = row.helmet.as_deref().map(|tag| format!(" {}", plain(tag))).unwrap_or_default();
    let taken =
        row.taken_by.as_deref().map(|by| format!(" ({})", words::taken_by(&plain(by), language))).unwrap_or_default();
    format!("{place}. {}{helmet}: {what}{taken}", asking.shown(&row.who))
}

fn held_line(asking: &Asking<'_>, row: &HeldRow) -> String {
    let why = if row.why == HoldKind::Equipment.words() { Say::OutOfUse } else { Say::SeeTrainer };
    format!("{}: {}", asking.shown(&row.who), say(why, asking.language()))
}

/// Who has no usable answer.
///
/// # Errors
/// [`DeskError`] when the store fails.
pub async fn silent(asking: &Asking<'_>) -> Result<Post, DeskError> {
    if !may(asking.member, &Command::Silent) {
        return Ok(asking.say(Say::NotAllowed));
    }
    let mut lines = Vec::new();
    for list in asking.lists().await?.iter().filter(|list| !list.silent.is_empty()) {
        let (count, total) = (list.silent.len().to_string(), list.asked.to_string());
        lines.push(format!("**{}**", words::silent(&count, &total, asking.language())));
        lines.extend(list.silent.iter().map(|row| format!("{}: {}", asking.shown(&row.who), plain(&row.why))));
    }
    Ok(if lines.is_empty() { asking.say(Say::NothingOff) } else { Post::of(fitted(&lines, asking.language())) })
}

/// As many whole lines as fit, and how many do not.
fn fitted(lines: &[String], language: Language) -> String {
    let mut text = String::new();
    for (index, line) in lines.iter().enumerate() {
        if text.chars().count() + line.chars().count() > ROOM {
            text.push_str(&words::more(&(lines.len() - index).to_string(), language));
            return text;
        }
        text.push_str(line);
        text.push('\n');
    }
    text.trim_end().to_owned()
}

/// One athlete. Who does not look after helmets learns whether they are held, and no more.
///
/// # Errors
/// [`DeskError`] when the store fails.
pub async fn athlete(asking: &Asking<'_>, who: &str) -> Result<Post, DeskError> {
    let mut tx = asking.desk.store().read().await?;
    let mut scene = load::look(&mut tx, asking.program, asking.desk.wording(asking.program), asking.now).await?;
    let mut found: Vec<Athlete> = Vec::new();
    for team in asking.program.teams.keys().filter(|team| asking.member.serves(team)) {
        found.extend(tx.roster(&asking.program.id, team).await?.into_iter().filter(|athlete| is(athlete, who)));
    }
    match found.as_slice() {
        [] => Ok(asking.say(Say::NoSuchAthlete)),
        [only] => {
            load::about(&mut tx, &mut scene, &[], BTreeSet::from([only.id.clone()])).await?;
            Ok(Post::of(about(asking, &scene, only)))
        }
        several => {
            let mut lines = vec![say(Say::WhichAthlete, asking.language()).to_owned()];
            lines.extend(several.iter().map(|athlete| {
                let team = asking.program.teams.get(&athlete.team).map_or(athlete.team.as_str(), |team| &team.name);
                format!("{} ({})", asking.shown(&athlete.short()), plain(team))
            }));
            Ok(Post::of(fitted(&lines, asking.language())))
        }
    }
}

fn is(athlete: &Athlete, who: &str) -> bool {
    let who = who.trim().trim_start_matches('#');
    if who.is_empty() {
        return false;
    }
    let (typed, first, last) = (fold(who), fold(&athlete.first), fold(&athlete.last));
    athlete.jersey.as_deref() == Some(who) || typed == first || typed == last || typed == format!("{first} {last}")
}

fn about(asking: &Asking<'_>, scene: &Scene<'_>, athlete: &Athlete) -> String {
    let language = asking.language();
    let mut lines = vec![format!("**{}**", asking.shown(&athlete.short()))];
    if asking.member.has(Role::Equipment) || asking.member.has(Role::Trainer) {
        lines.push(scene.helmets.get(&athlete.id).map_or_else(
            || say(Say::NoHelmet, language).to_owned(),
            |helmet| format!("{} · {}", plain(&helmet.model), plain(helmet.tag.as_str())),
        ));
        if let Some(check) = scene.latest_check(&athlete.id).filter(|check| check.date == scene.today) {
            lines.push(words::check_is(words::check_state(check.state, language), language));
        }
        lines.extend(open_item(scene, athlete, language));
    }
    lines.push(hold_words(scene, athlete, language).to_owned());
    lines.join("\n")
}

fn open_item(scene: &Scene<'_>, athlete: &Athlete, language: Language) -> Option<String> {
    let item = scene
        .items
        .values()
        .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(&athlete.id))?;
    let flags = helmet_words(item.flags, language);
    let what = if flags.is_empty() { say(Say::LookAtIt, language).to_owned() } else { flags };
    let by = item.taken_by.as_ref().and_then(|by| scene.staff.iter().find(|member| member.id == *by));
    Some(match by.filter(|_| item.state == ItemState::Taken) {
        Some(member) => format!("{what} ({})", words::taken_by(&plain(&member.first), language)),
        None => what,
    })
}

fn hold_words(scene: &Scene<'_>, athlete: &Athlete, language: Language) -> &'static str {
    let kinds: BTreeSet<HoldKind> = scene.holds_on(&athlete.id).map(|hold| hold.kind).collect();
    if kinds.iter().any(|kind| *kind != HoldKind::Equipment) {
        say(Say::SeeTrainer, language)
    } else if kinds.is_empty() {
        say(Say::MayTakePart, language)
    } else {
        say(Say::DoNotWear, language)
    }
}

/// Today's events that this person may call off, each with a button that really does.
///
/// # Errors
/// [`DeskError`] when the store fails.
pub async fn call_off(asking: &Asking<'_>, team: Option<&str>) -> Result<Post, DeskError> {
    let language = asking.language();
    if !may(asking.member, &Command::CallOff(None)) {
        return Ok(asking.say(Say::NotAllowed));
    }
    let mut tx = asking.desk.store().read().await?;
    let scene = load::look(&mut tx, asking.program, asking.desk.wording(asking.program), asking.now).await?;
    let named = |event: &Event| {
        let name = asking.program.teams.get(&event.team).map(|team| fold(&team.name));
        team.is_none_or(|team| event.team.as_str() == fold(team) || name.as_deref() == Some(fold(team).as_str()))
    };
    let events: Vec<&Event> = scene
        .events
        .values()
        .filter(|event| event.date == scene.today && !event.cancelled && event.starts_at > scene.now)
        .filter(|event| asking.member.serves(&event.team) && named(event))
        .take(MOST_EVENTS)
        .collect();
    if events.is_empty() {
        return Ok(asking.say(Say::NoEvent));
    }
    let mut rows: Vec<Vec<Control>> = events
        .iter()
        .map(|event| {
            let label = format!("{}: {}", say(Say::CallOff, language), short(&scene, event, language));
            let id = Press::CallOff(event_tag(asking.program, &event.id)).id();
            vec![Control::Button { id, label, style: Style::Primary }]
        })
        .collect();
    let id = Press::LeaveOn.id();
    rows.push(vec![Control::Button { id, label: say(Say::LeaveOn, language).to_owned(), style: Style::Secondary }]);
    Ok(Post { text: say(Say::WhichEvent, language).to_owned(), rows })
}
