//! From an item to its post. Pure.
//!
//! A post carries the least that does the job: the athlete as the settings say, helmet flags in words, by when. The medical
//! channel learns that a body report waits, and nothing of whom or what; the contact channel whom, and not why.

use chrono::NaiveDate;

use crate::channel::chat::press::Press;
use crate::channel::chat::{Control, Post, Style, plain};
use crate::config::{Chat, Show};
use crate::desk::scene::Scene;
use crate::reading::read;
use crate::trade::phone::Phone;
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, StaffId, StaffMember};
use crate::wording::chat::{self as words, Say, say};
use crate::wording::words::{by_words, helmet_words, when_words};

/// The channel of a queue.
#[must_use]
pub fn channel(chat: &Chat, queue: Queue) -> &str {
    match queue {
        Queue::Equipment => &chat.equipment,
        Queue::Medical => &chat.medical,
        Queue::Contact => &chat.contact,
    }
}

/// An item's post.
#[must_use]
pub fn item(scene: &Scene<'_>, chat: &Chat, item: &Item, tag: &str) -> Post {
    match item.queue {
        Queue::Equipment => equipment(scene, chat, item, tag),
        Queue::Medical => medical(chat, item),
        Queue::Contact => contact(scene, chat, item, tag),
    }
}

/// How an athlete is shown.
#[must_use]
pub fn shown(scene: &Scene<'_>, chat: &Chat, athlete: &AthleteId) -> String {
    let person = scene.athletes.get(athlete);
    match (chat.show, person.and_then(|person| person.jersey.as_deref()), person) {
        (Show::JerseyAndFirst, Some(jersey), Some(person)) => plain(&format!("#{jersey} {}", person.first)),
        (Show::JerseyAndFirst, None, Some(person)) => plain(&person.first),
        (Show::Jersey, Some(jersey), _) => plain(&format!("#{jersey}")),
        _ => say(Say::NoJersey, chat.language).to_owned(),
    }
}

fn equipment(scene: &Scene<'_>, chat: &Chat, item: &Item, tag: &str) -> Post {
    let mut lines = vec![heading(scene, chat, item)];
    lines.push(what(scene, chat, item));
    if item.is_open() {
        lines.extend(due(scene, chat, item));
    }
    lines.push(state(scene, chat, item));
    let rows = if item.is_open() { equipment_controls(scene, chat, item, tag) } else { Vec::new() };
    Post { text: lines.join("\n"), rows }
}

/// "**#12 Jonah** · Tern L · LV-012"
fn heading(scene: &Scene<'_>, chat: &Chat, item: &Item) -> String {
    let who = item
        .athlete
        .as_ref()
        .map_or_else(|| say(Say::NobodyKnown, chat.language).to_owned(), |athlete| shown(scene, chat, athlete));
    let mut parts = vec![format!("**{who}**")];
    if let Some(helmet) = item.athlete.as_ref().and_then(|athlete| scene.helmets.get(athlete)) {
        let size = helmet.size.as_deref().map(|size| format!(" {}", plain(size))).unwrap_or_default();
        parts.push(format!("{}{size}", plain(&helmet.model)));
        parts.push(plain(helmet.tag.as_str()));
    }
    if let Some(team) = item.team.as_ref().and_then(|team| scene.program.teams.get(team)) {
        parts.push(plain(&team.name));
    }
    parts.join(" · ")
}

/// What is off, and whether the helmet may be worn meanwhile.
fn what(scene: &Scene<'_>, chat: &Chat, item: &Item) -> String {
    let flags = helmet_words(item.flags, chat.language);
    let mut parts = vec![if flags.is_empty() { say(Say::LookAtIt, chat.language).to_owned() } else { flags }];
    parts.extend(note(chat, item));
    let held = item
        .athlete
        .as_ref()
        .is_some_and(|athlete| scene.holds_on(athlete).any(|hold| hold.kind == HoldKind::Equipment));
    if item.is_open() && (held || HoldKind::for_flags(item.flags).contains(&HoldKind::Equipment)) {
        parts.push(say(Say::DoNotWear, chat.language).to_owned());
    }
    parts.join("; ")
}

/// What else is to be known. What staff wrote is shown when it can be read and nothing of the body is in it.
fn note(chat: &Chat, item: &Item) -> Option<String> {
    if item.is_unread() {
        return Some(say(Say::HasReply, chat.language).to_owned());
    }
    let needed = item.about.as_deref()?.strip_prefix("needs ")?;
    let reading = read(needed);
    let safe = reading.flags.body().is_empty() && !reading.red_flag;
    safe.then(|| words::needs(&plain(needed), chat.language))
}

fn due(scene: &Scene<'_>, chat: &Chat, item: &Item) -> Option<String> {
    let local = item.due_at?.local(scene.program.zone);
    Some(words::fix_by(&by(local.date(), local.time(), scene.today, chat), chat.language))
}

fn by(date: NaiveDate, time: chrono::NaiveTime, today: NaiveDate, chat: &Chat) -> String {
    if date == today { by_words(time, chat.language) } else { when_words(date, time, today, chat.language) }
}

fn state(scene: &Scene<'_>, chat: &Chat, item: &Item) -> String {
    let language = chat.language;
    match item.state {
        ItemState::Open => say(Say::Open, language).to_owned(),
        ItemState::Taken => item
            .taken_by
            .as_ref()
            .map_or_else(|| say(Say::Open, language).to_owned(), |by| words::taken_by(&staff(scene, by), language)),
        ItemState::Closed => {
            let by = item.closed_by.as_ref();
            let done = by.map_or_else(
                || say(Say::Closed, language).to_owned(),
                |by| words::done_by(&staff(scene, by), language),
            );
            // What was done is shown as it was picked; free words may hold anything.
            let picked = item.done.as_deref().filter(|done| is_picked(done));
            picked.map_or_else(|| done.clone(), |picked| format!("{done}: {picked}"))
        }
    }
}

fn is_picked(done: &str) -> bool {
    use crate::wording::LANGUAGES;
    LANGUAGES.iter().any(|language| words::fixes(*language).iter().any(|(_, words)| words == done)) || {
        let reading = read(done);
        reading.flags.body().is_empty() && !reading.red_flag && done.chars().count() <= 80 && !done.contains('\n')
    }
}

fn staff(scene: &Scene<'_>, id: &StaffId) -> String {
    scene.staff.iter().find(|member| member.id == *id).map_or_else(|| plain(id.as_str()), |member| plain(&member.first))
}

fn equipment_controls(scene: &Scene<'_>, chat: &Chat, item: &Item, tag: &str) -> Vec<Vec<Control>> {
    let language = chat.language;
    let mut buttons = Vec::new();
    if item.state == ItemState::Open {
        buttons.push(button(Press::Take(tag.to_owned()), say(Say::Take, language), Style::Primary));
    }
    let held = item
        .athlete
        .as_ref()
        .is_none_or(|athlete| scene.holds_on(athlete).any(|hold| hold.kind == HoldKind::Equipment));
    if !held {
        buttons.push(button(Press::Hold(tag.to_owned()), say(Say::Hold, language), Style::Secondary));
    }
    let fixed = Control::Menu {
        id: Press::Fixed(tag.to_owned()).id(),
        prompt: say(Say::FixedPrompt, language).to_owned(),
        choices: words::fixes(language),
    };
    vec![buttons, vec![fixed], vec![hand_on(scene, chat, item, tag)]]
}

fn button(press: Press, label: &str, style: Style) -> Control {
    Control::Button { id: press.id(), label: label.to_owned(), style }
}

fn hand_on(scene: &Scene<'_>, chat: &Chat, item: &Item, tag: &str) -> Control {
    use crate::desk::act::{Action, may};
    let take = Action::Take { item: item.id.clone() };
    let can = |member: &&StaffMember| may(member, &take, Some(item)) && item.taken_by.as_ref() != Some(&member.id);
    // A person's key never begins with a star.
    let open =
        (item.state == ItemState::Taken).then(|| (OPEN.to_owned(), say(Say::HandOpen, chat.language).to_owned()));
    let people = scene.staff.iter().filter(can).map(|member| (member.id.0.clone(), name(scene, member)));
    let mut choices: Vec<(String, String)> = open.into_iter().chain(people).collect();
    if choices.is_empty() {
        // A menu without choices is refused; back to the list is always possible.
        choices.push((OPEN.to_owned(), say(Say::HandOpen, chat.language).to_owned()));
    }
    Control::Menu {
        id: Press::Hand(tag.to_owned()).id(),
        prompt: say(Say::HandPrompt, chat.language).to_owned(),
        choices,
    }
}

/// What is picked to hand an item back to whoever takes it.
pub const OPEN: &str = "*";

/// A first name, with the last where there are two.
fn name(scene: &Scene<'_>, member: &StaffMember) -> String {
    let same = scene.staff.iter().filter(|other| other.first == member.first).count();
    if same > 1 { format!("{} {}", member.first, member.last) } else { member.first.clone() }
}

fn medical(chat: &Chat, item: &Item) -> Post {
    let what = match item.state {
        ItemState::Open => Say::BodyWaits,
        ItemState::Taken => Say::BodyTaken,
        ItemState::Closed => Say::BodyClosed,
    };
    let page = chat.trainer_page.as_ref().filter(|_| item.is_open());
    let rows = page
        .map(|url| {
            let label = say(Say::TrainerPage, chat.language).to_owned();
            vec![vec![Control::Link { url: url.to_string(), label }]]
        })
        .unwrap_or_default();
    Post { text: say(what, chat.language).to_owned(), rows }
}

fn contact(scene: &Scene<'_>, chat: &Chat, item: &Item, tag: &str) -> Post {
    let language = chat.language;
    let who = contact_who(scene, chat, item);
    let text = format!("{}: **{who}**\n{}", say(Say::SomebodyWaits, language), state_of_contact(scene, chat, item));
    if !item.is_open() {
        return Post::of(text);
    }
    let mut buttons = Vec::new();
    if item.state == ItemState::Open {
        buttons.push(button(Press::Take(tag.to_owned()), say(Say::Take, language), Style::Primary));
    }
    buttons.push(button(Press::Done(tag.to_owned()), say(Say::Reached, language), Style::Secondary));
    Post { text, rows: vec![buttons, vec![hand_on(scene, chat, item, tag)]] }
}

fn state_of_contact(scene: &Scene<'_>, chat: &Chat, item: &Item) -> String {
    // What was done about a person is not for the channel.
    let bare = Item { done: None, ..item.clone() };
    state(scene, chat, &bare)
}

/// Whom a contact item is about: an athlete, those who share a number, a member of staff, or nobody known.
fn contact_who(scene: &Scene<'_>, chat: &Chat, item: &Item) -> String {
    if let Some(athlete) = &item.athlete {
        return shown(scene, chat, athlete);
    }
    let Some(phone) = subject_phone(item) else { return say(Say::NobodyKnown, chat.language).to_owned() };
    if let Some(member) = scene.staff.iter().find(|member| member.phone.as_ref() == Some(&phone)) {
        return plain(&member.first);
    }
    match scene.at_phone.get(&phone) {
        Some(athletes) if !athletes.is_empty() => {
            let names: Vec<String> = athletes.iter().map(|athlete| shown(scene, chat, athlete)).collect();
            names.join(", ")
        }
        _ => say(Say::NobodyKnown, chat.language).to_owned(),
    }
}

/// The number that a contact item's key names.
#[must_use]
pub fn subject_phone(item: &Item) -> Option<Phone> {
    let subject = item.id.split('/').nth(1)?;
    subject.starts_with('+').then(|| Phone::parse(subject).ok()).flatten()
}
