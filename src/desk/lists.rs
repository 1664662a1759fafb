//! The lists that staff get by text: the fix list, who has not answered, who may not wear a helmet. Each goes out at
//! its time, and whenever somebody asks.

use super::act::subject;
use super::scene::{Scene, To};
use super::today::{Today, today};
use crate::store::rows::Purpose;
use crate::trade::flag::Flags;
use crate::trade::queue::{Item, ItemState, Queue};
use crate::trade::roster::{Event, Language, Role, StaffMember, TeamId};
use crate::trade::time::Moment;
use crate::wording::{FixLine, Message, OutLine, Why, words};

/// Sends the fix list for an event to the equipment staff on duty; returns how many got it.
pub fn send_fix_list(scene: &mut Scene<'_>, event: &Event) -> usize {
    let now = today(scene, Some(&event.team));
    let link = scene.program.list_link(&event.team, event.date);
    let on_duty = scene.on_duty(Role::Equipment, Some(&event.team), event.date);
    for member in &on_duty {
        let key = format!("fix-list/{}/{}/{}", event.id, event.date, member.id);
        fix_list(scene, &now, link.as_deref(), member, Purpose::List, key, Some(event.starts_at));
    }
    on_duty.len()
}

/// How far up its ladder the fix list is: what nobody takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rung {
    /// Again to equipment staff on duty.
    Again,
    /// To the next: who is off duty, or the trainer on duty.
    Second,
    /// To everyone who can fix a helmet.
    Everyone,
}

/// Reminds of the helmets that nobody has taken; returns how many there are, and how many people got it. Who is taken
/// care of is not named: an acknowledged item leaves the ladder.
pub fn send_not_taken(scene: &mut Scene<'_>, event: &Event, rung: Rung) -> (usize, usize) {
    let now = today(scene, Some(&event.team));
    let rows: Vec<_> = now.fix_list.iter().filter(|row| row.taken_by.is_none()).collect();
    let Some(first) = rows.first() else { return (0, 0) };
    let link = scene.program.list_link(&event.team, event.date);
    let who = first.who.split(' ').next().unwrap_or_default().trim_start_matches('#');
    let reply = format!("got {who}");
    let to = not_taken_to(scene, event, rung);
    for member in &to {
        let Some(phone) = &member.phone else { continue };
        let event_name = event_of(scene, &now, member.language);
        let lines = rows
            .iter()
            .map(|row| FixLine { who: &row.who, helmet: row.helmet.as_deref(), flags: row.flags, note: None })
            .collect();
        let everyone = rung == Rung::Everyone;
        let text = Message::FixWaiting { event: &event_name, lines, everyone, reply: &reply, link: link.as_deref() };
        let key = format!("fix-waiting/{rung:?}/{}/{}/{}", event.id, event.date, member.id).to_lowercase();
        let to = To { phone, language: member.language, athlete: None };
        scene.send(to, Purpose::List, key, &text, Some(event.starts_at));
    }
    (rows.len(), to.len())
}

fn not_taken_to(scene: &Scene<'_>, event: &Event, rung: Rung) -> Vec<StaffMember> {
    let on_duty = scene.on_duty(Role::Equipment, Some(&event.team), event.date);
    let fixes = |member: &&StaffMember| {
        (member.has(Role::Equipment) || member.has(Role::Trainer))
            && member.phone.is_some()
            && member.serves(&event.team)
    };
    let mut all: Vec<StaffMember> = scene.staff.iter().filter(fixes).cloned().collect();
    // Equipment staff first, then trainers, those on duty before the others.
    all.sort_by_key(|member| (!member.has(Role::Equipment), !member.on_duty(event.date)));
    match rung {
        Rung::Again if !on_duty.is_empty() => on_duty,
        // Nobody is on duty: the first there is.
        Rung::Again => all.into_iter().take(1).collect(),
        Rung::Second => {
            all.into_iter().filter(|member| on_duty.iter().all(|other| other.id != member.id)).take(1).collect()
        }
        Rung::Everyone => all,
    }
}

/// Sends the silent list for an event to equipment staff and trainers on duty; returns how many got it.
pub fn send_silent(scene: &mut Scene<'_>, event: &Event) -> usize {
    let now = today(scene, Some(&event.team));
    let link = scene.program.list_link(&event.team, event.date);
    let mut to = scene.on_duty(Role::Equipment, Some(&event.team), event.date);
    for member in scene.on_duty(Role::Trainer, Some(&event.team), event.date) {
        if to.iter().all(|other| other.id != member.id) {
            to.push(member);
        }
    }
    for member in &to {
        let key = format!("silent/{}/{}/{}", event.id, event.date, member.id);
        silent(scene, &now, link.as_deref(), member, Purpose::List, key, Some(event.starts_at));
    }
    to.len()
}

/// Sends availability for an event to the coaches; returns how many got it.
pub fn send_availability(scene: &mut Scene<'_>, event: &Event) -> usize {
    let now = today(scene, Some(&event.team));
    let link = scene.program.list_link(&event.team, event.date);
    let coaches = scene.on_duty(Role::Coach, Some(&event.team), event.date);
    for member in &coaches {
        let key = format!("availability/{}/{}/{}", event.id, event.date, member.id);
        availability(scene, &now, link.as_deref(), member, Purpose::List, key, Some(event.starts_at));
    }
    coaches.len()
}

/// The fix list, to a staff member who asked.
pub fn answer_fix_list(scene: &mut Scene<'_>, message: &str, member: &StaffMember) {
    let now = today(scene, only_team(member));
    let link = only_team(member).and_then(|team| scene.program.list_link(team, scene.today));
    fix_list(scene, &now, link.as_deref(), member, Purpose::Staff, format!("answer/{message}/{}", member.id), None);
}

/// The body reports that nobody has taken, to a trainer who asked for the list; nothing when there are none.
pub fn answer_pending(scene: &mut Scene<'_>, message: &str, member: &StaffMember) {
    let waits = |item: &&Item| {
        let serves = item.team.as_ref().is_none_or(|team| member.serves(team));
        item.queue == Queue::Medical && item.state == ItemState::Open && serves
    };
    let lines: Vec<String> = scene.items.values().filter(waits).map(|item| subject(scene, item)).collect();
    let (Some(first), Some(phone)) = (lines.first(), member.phone.clone()) else { return };
    let reply = first.strip_prefix('#').and_then(|rest| rest.split(' ').next());
    let reply = reply.map_or_else(|| "got it".to_owned(), |number| format!("got {number}"));
    let lines = lines.iter().map(String::as_str).collect();
    let text = Message::TrainerPending { lines, link: None, reply: &reply };
    let to = To { phone: &phone, language: member.language, athlete: None };
    scene.send(to, Purpose::Staff, format!("pending/{message}/{}", member.id), &text, None);
}

/// The silent list, to a staff member who asked.
pub fn answer_silent(scene: &mut Scene<'_>, message: &str, member: &StaffMember) {
    let now = today(scene, only_team(member));
    let link = only_team(member).and_then(|team| scene.program.list_link(team, scene.today));
    silent(scene, &now, link.as_deref(), member, Purpose::Staff, format!("answer/{message}/{}", member.id), None);
}

/// Availability, to a staff member who asked.
pub fn answer_availability(scene: &mut Scene<'_>, message: &str, member: &StaffMember) {
    let now = today(scene, only_team(member));
    let link = only_team(member).and_then(|team| scene.program.list_link(team, scene.today));
    availability(scene, &now, link.as_deref(), member, Purpose::Staff, format!("answer/{message}/{}", member.id), None);
}

fn only_team(member: &StaffMember) -> Option<&TeamId> {
    match member.teams.as_slice() {
        [only] => Some(only),
        _ => None,
    }
}

fn event_of(scene: &Scene<'_>, now: &Today, language: Language) -> String {
    match (&now.next, now.starts_at, language) {
        (Some(next), _, Language::En) => next.clone(),
        (Some(next), Some(at), Language::Es) => {
            let event = scene.events.values().find(|event| event.starts_at == at && !event.cancelled);
            let team = scene.program.teams.values().map(|team| &team.name).find(|name| next.starts_with(name.as_str()));
            let time = at.local(scene.program.zone).time();
            let kind = event.map_or(crate::trade::roster::EventKind::Practice, |event| event.kind);
            let what = words::event_short(kind, time, language);
            team.map_or_else(|| what.clone(), |team| format!("{team} {what}"))
        }
        (_, _, Language::En) => "today".to_owned(),
        (_, _, Language::Es) => "hoy".to_owned(),
    }
}

fn fix_list(
    scene: &mut Scene<'_>,
    now: &Today,
    link: Option<&str>,
    member: &StaffMember,
    purpose: Purpose,
    key: String,
    send_by: Option<Moment>,
) {
    let Some(phone) = member.phone.clone() else { return };
    let to = To { phone: &phone, language: member.language, athlete: None };
    let event = event_of(scene, now, member.language);
    if now.fix_list.is_empty() {
        let body = scene.say(member.language, &Message::ListEmpty { event: &event });
        return scene.send_text(to, purpose, key, body, send_by);
    }
    let starts = now.start_fixing_at.unwrap_or(scene.now).local(scene.program.zone).time();
    let starts = words::by_words(starts, member.language);
    let lines: Vec<FixLine<'_>> = now
        .fix_list
        .iter()
        .map(|row| FixLine {
            who: &row.who,
            helmet: row.helmet.as_deref(),
            flags: row.flags,
            note: row.note.as_deref().filter(|_| row.flags == Flags::NONE || row.taken_by.is_some()),
        })
        .collect();
    let bring = words::kit_words(&now.kit, member.language).join(", ");
    let list = |bring| Message::FixList {
        event: &event,
        starts: &starts,
        hands: now.hands,
        lines: Vec::clone(&lines),
        not_fit: now.will_not_fit,
        bring,
        link,
    };
    let plain = scene.say(member.language, &list(None));
    let full = scene.say(member.language, &list(Some(&bring).filter(|bring| !bring.is_empty()).map(String::as_str)));
    // What to bring is said where no helmet is left out for it.
    let body = if full.lines().count() == plain.lines().count() { full } else { plain };
    scene.send_text(to, purpose, key, body, send_by);
}

fn silent(
    scene: &mut Scene<'_>,
    now: &Today,
    link: Option<&str>,
    member: &StaffMember,
    purpose: Purpose,
    key: String,
    send_by: Option<Moment>,
) {
    let Some(phone) = member.phone.clone() else { return };
    let event = event_of(scene, now, member.language);
    let lines: Vec<&str> = now.silent.iter().map(|row| row.who.as_str()).collect();
    let text = Message::SilentList { event: &event, lines, total: now.asked, link };
    let body = scene.say(member.language, &text);
    scene.send_text(To { phone: &phone, language: member.language, athlete: None }, purpose, key, body, send_by);
}

fn availability(
    scene: &mut Scene<'_>,
    now: &Today,
    link: Option<&str>,
    member: &StaffMember,
    purpose: Purpose,
    key: String,
    send_by: Option<Moment>,
) {
    let Some(phone) = member.phone.clone() else { return };
    let event = event_of(scene, now, member.language);
    let lines = now
        .held
        .iter()
        .map(|row| OutLine { who: &row.who, why: if row.why == "equipment" { Why::Equipment } else { Why::Held } })
        .collect();
    let text = Message::Availability { event: &event, lines, silent: now.silent.len(), link };
    let body = scene.say(member.language, &text);
    scene.send_text(To { phone: &phone, language: member.language, athlete: None }, purpose, key, body, send_by);
}
