//! Staff by text: take, done, needs, acknowledge, call off practice, and the lists.
//!
//! Only numbers known as staff come here; what each role may do is decided in [`may`]. An unclear text gets a short
//! question, never a guess. A medical hold cannot be ended here at all.

pub mod command;

use command::{Command, Target};

use super::who::fold;
use crate::desk::act::{self, Action, By, Outcome, Via};
use crate::desk::lists;
use crate::desk::scene::{Scene, To, phone_words};
use crate::store::rows::{Asked, InMessage, Purpose};
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Event, EventId, Role, StaffMember};
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
    let item = only.clone();
    let medical = scene.items.get(only).is_some_and(|item| item.queue == Queue::Medical);
    let action = match command {
        Command::Take(_) => Action::Take { item },
        Command::Done(_, what) => Action::Done { item, what: what.clone() },
        Command::Needs(_, what) => Action::Needs { item, what: what.clone() },
        Command::MayGo(_) => Action::MayGo { item },
        _ => return,
    };
    let by = By { member, via: Via::Text(&message.id), key: &message.id };
    let outcome = act::act(scene, &by, &action);
    let text = match (&outcome, command) {
        (Outcome::Done { who, .. }, Command::Take(_)) if medical => {
            Message::BodyAcknowledged { who, by_whom: &member.first }
        }
        (Outcome::Done { who, .. }, Command::Take(_)) => Message::ItemTaken { who, by: &member.first },
        (Outcome::Done { who, .. }, Command::Needs(_, what)) => Message::ItemNeeds { who, what },
        (Outcome::Done { who, .. }, Command::Done(_, what)) => Message::ItemDone { who, what: what.as_deref() },
        (Outcome::Done { who, .. }, _) => Message::ItemDone { who, what: None },
        (Outcome::AlreadyDone { who, by }, _) => {
            Message::ItemHas { who, by: by.as_deref(), done: !matches!(command, Command::Take(_)) }
        }
        (Outcome::Medical { who }, _) => Message::MedicalNotByText { who },
        (Outcome::NotAllowed, _) => Message::StaffNotAllowed { what: command.words(member.language) },
        (Outcome::NotFound, _) => Message::StaffNotUnderstood { hint: "list" },
    };
    answer(scene, message, member, &text);
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
            let names: Vec<String> =
                several.iter().map(|event| act::event::short(scene, event, member.language)).collect();
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

fn call_off(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, event: &EventId) {
    let by = By { member, via: Via::Text(&message.id), key: &message.id };
    match act::act(scene, &by, &Action::CallOff { event: event.clone() }) {
        Outcome::Done { who, told } => {
            answer(scene, message, member, &Message::EventCalledOff { event: &who, told });
        }
        Outcome::AlreadyDone { who, by } => {
            answer(scene, message, member, &Message::ItemHas { who: &who, by: by.as_deref(), done: true });
        }
        _ => {
            let what = Command::CallOff(None).words(member.language);
            answer(scene, message, member, &Message::StaffNotAllowed { what });
        }
    }
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
