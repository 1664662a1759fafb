//! Staff by text: take, done, needs, acknowledge, call off practice, and the lists.
//!
//! Only numbers known as staff come here; what each role may do is decided in [`may`]. An unclear text gets a short
//! question, never a guess. A medical hold cannot be ended here at all.

pub mod command;

use command::{Command, Target};

use super::who::fold;
use crate::desk::lists;
use crate::desk::scene::{Cancel, Scene, To, phone_words};
use crate::store::rows::{Asked, InMessage, Purpose};
use crate::trade::morning::CheckState;
use crate::trade::phone::Phone;
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Event, EventId, Language, Role, StaffMember};
use crate::wording::{Message, words};

/// What a role may do by text.
#[must_use]
pub fn may(member: &StaffMember, command: &Command) -> bool {
    let helmets = member.has(Role::Equipment) || member.has(Role::Trainer);
    match command {
        Command::Take(_) | Command::Done(..) | Command::Needs(..) | Command::List | Command::Silent => helmets,
        Command::MayGo(_) | Command::Acknowledge => member.has(Role::Trainer) || helmets,
        Command::CallOff(_) => member.has(Role::Trainer) || member.has(Role::Coach) || member.has(Role::Administrator),
        Command::Out | Command::Help => true,
    }
}

/// Acts on a staff member's text.
pub fn handle(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let text = match question(scene, message) {
        Some(Answered::Item(command, item)) => return act(scene, message, member, &command, vec![item]),
        Some(Answered::Event(event)) => return call_off(scene, message, member, &event),
        None => message.body.as_str(),
    };
    let Some(command) = command::parse(text) else {
        let hint = if member.has(Role::Coach) { "who's out" } else { "12 done new strap" };
        let hint = Message::StaffNotUnderstood { hint };
        return answer(scene, message, member, &hint);
    };
    if !may(member, &command) {
        return answer(scene, message, member, &Message::StaffNotAllowed { what: command.words(member.language) });
    }
    match &command {
        Command::Take(target) | Command::Done(target, _) | Command::Needs(target, _) | Command::MayGo(target) => {
            let items = matching(scene, member, target, &command);
            if items.is_empty() {
                return none_open(scene, message, member, target, &command);
            }
            act(scene, message, member, &command, items);
        }
        Command::Acknowledge => {
            let waiting: Vec<String> = scene
                .items
                .values()
                .filter(|item| item.queue == Queue::Medical && item.state == ItemState::Open)
                .map(|item| item.id.clone())
                .collect();
            if waiting.is_empty() || !member.has(Role::Trainer) {
                return;
            }
            act(scene, message, member, &Command::Take(Target::Any), waiting);
        }
        Command::CallOff(team) => find_event(scene, message, member, team.as_deref()),
        Command::List => lists::answer_fix_list(scene, &message.id, member),
        Command::Silent => lists::answer_silent(scene, &message.id, member),
        Command::Out => lists::answer_availability(scene, &message.id, member),
        Command::Help => help(scene, message, member),
    }
}

enum Answered {
    Item(Command, String),
    Event(EventId),
}

/// What this text answers, when a question of ours waits for a number.
fn question(scene: &mut Scene<'_>, message: &InMessage) -> Option<Answered> {
    let asked = scene.number(&message.phone).asked?;
    if scene.now.since(asked.at()) > chrono::TimeDelta::hours(3) {
        return None;
    }
    let number: usize = message.body.trim().trim_start_matches('#').parse().ok()?;
    let index = number.checked_sub(1)?;
    let answered = match asked {
        Asked::WhichItem { options, text, .. } => Answered::Item(command::parse(&text)?, options.get(index)?.clone()),
        Asked::WhichEvent { options, .. } => Answered::Event(EventId(options.get(index)?.clone())),
        Asked::WhichAthlete { .. } => return None,
    };
    scene.change_number(&message.phone, |number| number.asked = None);
    Some(answered)
}

fn matching(scene: &Scene<'_>, member: &StaffMember, target: &Target, command: &Command) -> Vec<String> {
    let mut items: Vec<&Item> = scene
        .items
        .values()
        .filter(|item| item.is_open() && item.queue != Queue::Contact)
        .filter(|item| item.athlete.as_ref().is_some_and(|athlete| is_target(scene, athlete, target)))
        .filter(|item| item.queue == Queue::Equipment || member.has(Role::Trainer))
        .collect();
    // A body report is acknowledged first; a fix is never about one.
    let medical = |item: &&Item| item.queue == Queue::Medical;
    let takes = matches!(command, Command::Take(_));
    let waits = takes && items.iter().any(|item| medical(item) && item.state == ItemState::Open);
    if waits || matches!(command, Command::MayGo(_)) {
        items.retain(medical);
    } else {
        items.retain(|item| item.queue == Queue::Equipment);
    }
    items.into_iter().map(|item| item.id.clone()).collect()
}

fn is_target(scene: &Scene<'_>, athlete: &AthleteId, target: &Target) -> bool {
    let Some(person) = scene.athletes.get(athlete) else { return false };
    match target {
        Target::Jersey(number) => person.jersey.as_deref() == Some(number),
        Target::Name(name) => {
            let (first, last) = (fold(&person.first), fold(&person.last));
            *name == first || *name == last || *name == format!("{first} {last}")
        }
        Target::Any => true,
    }
}

fn none_open(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, target: &Target, command: &Command) {
    let held = scene
        .holds
        .values()
        .filter(|hold| hold.closed_at.is_none() && hold.kind == HoldKind::Medical)
        .find(|hold| is_target(scene, &hold.athlete, target))
        .map(|hold| scene.who(&hold.athlete));
    match held {
        Some(who) if !matches!(command, Command::Take(_)) => {
            answer(scene, message, member, &Message::MedicalNotByText { who: &who });
        }
        _ => {
            let who = target.words();
            answer(scene, message, member, &Message::ItemNone { who: &who });
        }
    }
}

fn act(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, command: &Command, items: Vec<String>) {
    let [only] = items.as_slice() else {
        return which_item(scene, message, member, items);
    };
    let Some(item) = scene.items.get(only).cloned() else { return };
    match command {
        Command::Take(_) => take(scene, message, member, item),
        Command::Done(_, what) => done(scene, message, member, item, what.as_deref()),
        Command::Needs(_, what) => needs(scene, message, member, item, what),
        Command::MayGo(_) => may_go(scene, message, member, item),
        _ => {}
    }
}

fn which_item(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, items: Vec<String>) {
    let names: Vec<String> = items
        .iter()
        .filter_map(|id| scene.items.get(id))
        .map(|item| {
            let team = item.team.as_ref().and_then(|team| scene.program.teams.get(team));
            let who = item
                .athlete
                .as_ref()
                .map_or_else(|| item.about.clone().unwrap_or_default(), |athlete| scene.who(athlete));
            team.map_or_else(|| who.clone(), |team| format!("{who} ({})", team.name))
        })
        .collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let options = words::options(&names);
    let asked = Asked::WhichItem { options: items, text: message.body.clone(), at: scene.now };
    scene.change_number(&message.phone, |number| number.asked = Some(asked));
    answer(scene, message, member, &Message::WhichItem { options: &options });
}

fn subject(scene: &Scene<'_>, item: &Item) -> String {
    item.athlete.as_ref().map_or_else(|| item.about.clone().unwrap_or_default(), |athlete| scene.who(athlete))
}

fn take(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, mut item: Item) {
    let who = subject(scene, &item);
    item.state = ItemState::Taken;
    item.taken_by = Some(member.id.clone());
    item.taken_at = Some(scene.now);
    let medical = item.queue == Queue::Medical;
    let what = if medical { "body report acknowledged" } else { "item taken" };
    scene.note(&super::by_staff(member), what, &item.id, "", Some(&message.id));
    scene.items.put(item.id.clone(), item);
    if medical {
        answer(scene, message, member, &Message::BodyAcknowledged { who: &who, by_whom: &member.first });
        scene.tell(format!("{} has the body report on {who}", member.first));
    } else {
        answer(scene, message, member, &Message::ItemTaken { who: &who, by: &member.first });
        scene.tell(format!("{} takes {who}", member.first));
    }
}

fn done(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, mut item: Item, what: Option<&str>) {
    let who = subject(scene, &item);
    if item.taken_at.is_none() {
        item.taken_by = Some(member.id.clone());
    }
    item.state = ItemState::Closed;
    item.closed_by = Some(member.id.clone());
    item.closed_at = Some(scene.now);
    item.done = what.map(ToOwned::to_owned);
    scene.note(&super::by_staff(member), "item done", &item.id, what.unwrap_or_default(), Some(&message.id));
    let athlete = item.athlete.clone();
    scene.items.put(item.id.clone(), item);
    if let Some(athlete) = athlete {
        scene.release(&athlete, HoldKind::Equipment, &super::by_staff(member), Some(&message.id));
        tell_fixed(scene, message, &athlete, what);
    }
    answer(scene, message, member, &Message::ItemDone { who: &who, what });
    let words = what.map(|what| format!(": {what}")).unwrap_or_default();
    scene.tell(format!("{} fixed {who}{words}; the athlete hears", member.first));
}

fn tell_fixed(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, what: Option<&str>) {
    let Some((phone, person)) = reach(scene, athlete) else { return };
    let still_held = scene.is_held_for_body(athlete);
    let text = Message::Fixed { first: &person.first, done: what, still_held };
    let body = scene.say(person.language, &text);
    let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
    scene.send_text(to, Purpose::Answer, format!("fixed/{}/{athlete}", message.id), body, None);
}

/// The number of an athlete who may be texted today: the one that the day's check went to.
fn reach(scene: &Scene<'_>, athlete: &AthleteId) -> Option<(Phone, crate::trade::roster::Athlete)> {
    let person = scene.athletes.get(athlete)?.clone();
    let check = scene.latest_check(athlete)?;
    let texted = !matches!(check.state, CheckState::ByHand | CheckState::Held);
    let phone = check.phone.clone().filter(|_| texted)?;
    Some((phone, person))
}

fn needs(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, mut item: Item, what: &str) {
    let who = subject(scene, &item);
    item.state = ItemState::Taken;
    item.taken_by = Some(member.id.clone());
    item.taken_at.get_or_insert(scene.now);
    item.about = Some(format!("needs {what}"));
    scene.note(&super::by_staff(member), "item needs", &item.id, what, Some(&message.id));
    let athlete = item.athlete.clone();
    scene.items.put(item.id.clone(), item);
    if let Some(athlete) = athlete.filter(|_| fold(what).contains("helmet") || fold(what).contains("casco")) {
        scene.hold(&athlete, HoldKind::Equipment, &super::by_staff(member), Some(&message.id));
        if let Some((phone, person)) = reach(scene, &athlete) {
            let place = scene.place(person.language);
            let text = Message::OutOfUse { first: &person.first, place: &place };
            let body = scene.say(person.language, &text);
            let to = To { phone: &phone, language: person.language, athlete: Some(&athlete) };
            scene.send_text(to, Purpose::Answer, format!("out-of-use/{}/{athlete}", message.id), body, None);
        }
    }
    answer(scene, message, member, &Message::ItemNeeds { who: &who, what });
    scene.tell(format!("{}: {who} needs {what}", member.first));
}

/// The trainer decides on an illness, an injury or "not right": never on a possible concussion sign, and never for
/// anyone else.
fn may_go(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, mut item: Item) {
    let who = subject(scene, &item);
    let Some(athlete) = item.athlete.clone() else { return };
    let medical = scene.holds_on(&athlete).any(|hold| hold.kind == HoldKind::Medical);
    if medical || !member.has(Role::Trainer) {
        return answer(scene, message, member, &Message::MedicalNotByText { who: &who });
    }
    item.state = ItemState::Closed;
    item.closed_by = Some(member.id.clone());
    item.closed_at = Some(scene.now);
    item.done = Some("the athletic trainer decided: may take part".to_owned());
    scene.note(&super::by_staff(member), "trainer decided", athlete.as_str(), "may take part", Some(&message.id));
    scene.items.put(item.id.clone(), item);
    scene.release(&athlete, HoldKind::Trainer, &super::by_staff(member), Some(&message.id));
    answer(scene, message, member, &Message::ItemDone { who: &who, what: None });
    scene.tell(format!("{}: {who} may take part", member.first));
}

fn find_event(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, team: Option<&str>) {
    let events: Vec<Event> = scene
        .events
        .values()
        .filter(|event| event.date == scene.today && !event.cancelled && event.starts_at > scene.now)
        .filter(|event| member.serves(&event.team))
        .filter(|event| team.is_none_or(|team| team_is(scene, event, team)))
        .cloned()
        .collect();
    match events.as_slice() {
        [] => answer(scene, message, member, &Message::ItemNone { who: "practice today" }),
        [only] => call_off(scene, message, member, &only.id.clone()),
        several => {
            let names: Vec<String> = several.iter().map(|event| event_words(scene, event, member.language)).collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let options = words::options(&names);
            let ids = several.iter().map(|event| event.id.0.clone()).collect();
            let asked = Asked::WhichEvent { options: ids, at: scene.now };
            scene.change_number(&message.phone, |number| number.asked = Some(asked));
            answer(scene, message, member, &Message::EventWhich { options: &options });
        }
    }
}

fn team_is(scene: &Scene<'_>, event: &Event, team: &str) -> bool {
    let name = scene.program.teams.get(&event.team).map(|team| fold(&team.name));
    event.team.as_str() == team || name.as_deref() == Some(team)
}

fn event_words(scene: &Scene<'_>, event: &Event, language: Language) -> String {
    let team = scene.program.teams.get(&event.team).map_or(event.team.as_str(), |team| &team.name);
    let time = event.starts_at.local(scene.program.zone).time();
    format!("{team} {}", words::event_short(event.kind, time, language))
}

fn call_off(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, event: &EventId) {
    let Some(event) = scene.events.get(event).cloned() else { return };
    // Later imports leave what staff said by text.
    scene.events.change(&event.id, |event| {
        event.cancelled = true;
        event.source = "text".to_owned();
    });
    scene.note(&super::by_staff(member), "event called off", event.id.as_str(), &message.body, Some(&message.id));
    let told = called_off(scene, &event, &message.id);
    let words = event_words(scene, &event, member.language);
    answer(scene, message, member, &Message::EventCalledOff { event: &words, told });
    scene.tell(format!("{} called off {words}; {told} told", member.first));
}

/// What an event called off brings about: what is unsent is dropped, who was already texted hears. Returns how many
/// hear. Where the team has another event with helmets that day, its check stands.
pub fn called_off(scene: &mut Scene<'_>, event: &Event, key: &str) -> usize {
    let others = scene.events.values().any(|other| {
        other.id != event.id
            && other.team == event.team
            && other.date == event.date
            && other.helmets
            && !other.cancelled
    });
    let checks: Vec<_> =
        scene.checks.values().filter(|check| check.team == event.team && check.date == event.date).cloned().collect();
    let local = event.starts_at.local(scene.program.zone);
    let team = scene.program.teams.get(&event.team).map_or_else(|| event.team.0.clone(), |team| team.name.clone());
    let mut told = 0;
    for check in checks {
        let was_texted = !matches!(
            check.state,
            CheckState::Planned | CheckState::ByHand | CheckState::Missed | CheckState::Held | CheckState::CalledOff
        );
        if !others {
            scene.cancel(Cancel::Checks(check.date, check.athlete.clone()));
            if check.state.needs_door_check() {
                scene.checks.change(&(check.athlete.clone(), check.date), |check| check.state = CheckState::CalledOff);
            }
        }
        let (Some(phone), Some(person)) = (check.phone.clone(), scene.athletes.get(&check.athlete).cloned()) else {
            continue;
        };
        if !was_texted {
            continue;
        }
        let language = person.language;
        let words = words::event_words(event.kind, local.date(), local.time(), scene.today, language);
        let text = Message::EventCancelled { event: &words, team: &team };
        let body = scene.say(language, &text);
        let to = To { phone: &phone, language, athlete: Some(&person.id) };
        // One number hears once, whoever shares it.
        let id = format!("called-off/{}/{phone}/{key}", event.id);
        if scene.out.iter().all(|message| message.id != id) {
            scene.send_text(to, Purpose::Change, id, body, Some(event.starts_at));
            told += 1;
        }
    }
    told
}

fn help(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let (name, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let contact_phone = phone_words(&scene.program.contact_phone);
    let text = Message::StaffHelp {
        program: &name,
        contact: &contact,
        contact_phone: &contact_phone,
        equipment: member.has(Role::Equipment) || member.has(Role::Trainer),
        trainer: member.has(Role::Trainer),
        coach: member.has(Role::Coach),
    };
    answer(scene, message, member, &text);
}

fn answer(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &Message<'_>) {
    let to = To { phone: &message.phone, language: member.language, athlete: None };
    scene.send(to, Purpose::Staff, format!("answer/{}/{}", message.id, member.id), text, None);
}
