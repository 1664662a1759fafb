//! Staff by text: what is done to items, practice called off, and the lists.
//!
//! Only numbers known as staff come here; [`crate::desk::act`] decides what each may do. An unclear text gets a short
//! question, never a guess. A medical hold cannot be ended here at all; a body complaint is acted on whoever writes it.

pub mod clearance;
pub mod command;
pub mod drills;
pub mod helmets;
mod items;
pub mod kits;
mod report;
pub mod upkeep;

use command::{Command, Known};

use super::who::fold;
use crate::desk::act::{self, Action, By, Outcome, Via};
use crate::desk::lists;
use crate::desk::scene::{Scene, To, phone_words};
use crate::store::rows::{Asked, InMessage, Purpose};
use crate::trade::roster::{Event, EventId, Role, StaffMember};
use crate::wording::{Message, words};

/// What a role may do by text, as far as the role alone decides.
#[must_use]
pub fn may(member: &StaffMember, command: &Command) -> bool {
    let trainer = member.has(Role::Trainer);
    let helmets = trainer || member.has(Role::Equipment);
    match command {
        Command::Take(_)
        | Command::Done(..)
        | Command::Needs(..)
        | Command::HandOn(..)
        | Command::MayGo(_)
        | Command::Says(..)
        | Command::Status(_)
        | Command::TakeAll
        | Command::Acknowledge
        | Command::List
        | Command::Silent => helmets,
        Command::Hold(..) => helmets || member.has(Role::Coach),
        Command::CallOff(_) => trainer || member.has(Role::Coach) || member.has(Role::Administrator),
        Command::Out | Command::Help => true,
    }
}

/// Acts on a staff member's text.
pub fn handle(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    match question(scene, message) {
        Some(Answered::Items(command, items)) => items::chosen(scene, message, member, &command, &items),
        Some(Answered::Event(event)) => call_off(scene, message, member, &event),
        Some(Answered::Command(text)) => obey(scene, message, member, &text),
        None => obey(scene, message, member, &message.body),
    }
}

/// Does what a text asks for; what is not understood changes nothing.
fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) {
    // "12 worse" of somebody on the way back is no new report.
    if clearance::obey(scene, message, member, text) {
        return;
    }
    let (flags, red_flag) = command::body_words(text);
    // "ana head ben chest" are places in a drill, when every word of the text is of the drill; else a complaint wins.
    let harmless = (flags.is_empty() && !red_flag) || drills::is_wholly_one(scene, member, text);
    if harmless && upkeep::obey(scene, message, member, text) {
        return;
    }
    let known = known(scene);
    let commands = command::parse(text, &known);
    let says_so = |command: &Command| command.is_about_a_body() && may(member, command);
    let is_said = commands.as_ref().is_some_and(|commands| commands.iter().all(says_so));
    // What else the text asks for waits until it is said without the complaint.
    if (!flags.is_empty() || red_flag) && !is_said {
        let named = command::named(text, &known);
        return report::body(scene, message, member, &named, flags, red_flag);
    }
    let Some(commands) = commands else { return not_understood(scene, message, member) };
    // A question that was left standing is forgotten once something else is said.
    if scene.number(&message.phone).asked.is_some() {
        scene.change_number(&message.phone, |number| number.asked = None);
    }
    for command in &commands {
        if let (Command::Says(target, act::Meant::Flags(flags)), false) = (command, may(member, command))
            && !flags.body().is_empty()
        {
            // "12 head" by a coach: no word for the body is refused.
            report::body(scene, message, member, std::slice::from_ref(target), flags.body(), false);
        } else if may(member, command) {
            run(scene, message, member, command, text);
        } else {
            let what = command.words(member.language);
            answer(scene, message, member, &Message::StaffNotAllowed { what });
        }
    }
}

fn not_understood(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let helmets = member.has(Role::Equipment) || member.has(Role::Trainer);
    let hint = if helmets { "12 done new strap" } else { "who's out" };
    answer(scene, message, member, &Message::StaffNotUnderstood { hint });
}

fn run(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, command: &Command, text: &str) {
    match command {
        Command::TakeAll => items::take_all(scene, message, member),
        Command::Acknowledge => items::acknowledge(scene, message, member),
        Command::CallOff(team) => find_event(scene, message, member, team.as_deref()),
        Command::List => {
            if member.has(Role::Trainer) {
                lists::answer_pending(scene, &message.id, member);
            }
            lists::answer_fix_list(scene, &message.id, member);
        }
        Command::Silent => lists::answer_silent(scene, &message.id, member),
        Command::Out => lists::answer_availability(scene, &message.id, member),
        Command::Help => help(scene, message, member),
        Command::Hold(targets, why) => items::hold(scene, message, member, targets, *why),
        Command::Status(targets) => items::status(scene, message, member, targets),
        _ => items::run(scene, message, member, command, text),
    }
}

/// The names and numbers that a staff text may use.
fn known(scene: &Scene<'_>) -> Known {
    let mut known = Known::default();
    for athlete in scene.athletes.values() {
        Known::name(&mut known.athletes, &athlete.first, &athlete.last);
    }
    for member in &scene.staff {
        Known::name(&mut known.staff, &member.first, &member.last);
    }
    let open = scene.items.values().filter(|item| item.is_open()).filter_map(|item| item.athlete.as_ref());
    known.open = open.filter_map(|id| scene.athletes.get(id)).filter_map(|athlete| athlete.jersey.clone()).collect();
    known
}

enum Answered {
    Items(Command, Vec<String>),
    Event(EventId),
    Command(String),
}

/// What this text answers, when a question of ours waits for a number.
fn question(scene: &mut Scene<'_>, message: &InMessage) -> Option<Answered> {
    let asked = scene.number(&message.phone).asked?;
    if scene.now.since(asked.at()) > chrono::TimeDelta::hours(3) {
        return None;
    }
    let chosen = chosen(&message.body)?;
    let pick = |options: &[String]| -> Option<Vec<String>> {
        chosen.iter().map(|number| options.get(number.checked_sub(1)?).cloned()).collect()
    };
    let answered = match &asked {
        Asked::WhichItem { options, text, .. } => {
            let command = command::parse(text, &known(scene))?.into_iter().next()?;
            Answered::Items(command, pick(options)?)
        }
        Asked::WhichEvent { options, .. } => Answered::Event(EventId(only(pick(options)?)?)),
        Asked::WhichCommand { options, .. } => Answered::Command(only(pick(options)?)?),
        Asked::WhichAthlete { .. } => return None,
    };
    scene.change_number(&message.phone, |number| number.asked = None);
    Some(answered)
}

fn only(mut chosen: Vec<String>) -> Option<String> {
    let one = chosen.pop()?;
    chosen.is_empty().then_some(one)
}

/// "2", "1 and 3": the numbers, when there is nothing else.
fn chosen(text: &str) -> Option<Vec<usize>> {
    let numbers: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | '#' | '.' | '&'))
        .filter(|word| !word.is_empty() && !matches!(fold(word).as_str(), "and" | "y" | "n"))
        .collect();
    let numbers: Option<Vec<usize>> = numbers.into_iter().map(|word| word.parse().ok()).collect();
    numbers.filter(|numbers| !numbers.is_empty())
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
        // "No practice tomorrow", "no practice gear": no team that anybody knows.
        [] if team.is_some_and(|team| !is_a_team(scene, team)) => {
            answer(scene, message, member, &Message::StaffNotUnderstood { hint: "no practice today" });
        }
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

fn is_a_team(scene: &Scene<'_>, named: &str) -> bool {
    scene.program.teams.iter().any(|(key, team)| key.as_str() == named || fold(&team.name) == named)
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

/// Answers a staff member; a text may bring about several answers.
fn answer(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &Message<'_>) {
    let to = To { phone: &message.phone, language: member.language, athlete: None };
    let base = format!("answer/{}/{}", message.id, member.id);
    let before = scene.out.iter().filter(|out| out.id.starts_with(&base)).count();
    let key = if before == 0 { base } else { format!("{base}/{}", before + 1) };
    scene.send(to, Purpose::Staff, key, text, None);
}
