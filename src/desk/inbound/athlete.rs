//! An athlete's text: which check it answers, what is off, what staff have to do, and the answer.

use chrono::TimeDelta;

use super::who::{self, Whose};
use super::{is_report, rights};
use crate::desk::scene::{Cancel, Scene, To, phone_words};
use crate::reading::{Kind, Reading, read};
use crate::store::rows::{Asked, InMessage, Purpose};
use crate::trade::flag::{Control, Flag, Flags};
use crate::trade::morning::{ByHand, CheckState, MorningCheck};
use crate::trade::queue::{HoldKind, ItemState, Queue};
use crate::trade::roster::{Athlete, AthleteId, Language, Role, StaffMember};
use crate::trade::time::Moment;
use crate::wording::{Attempt, Body, Helmet, Message, Typed, words};

/// Texts within this time are one reply in pieces.
const ONE_REPLY: TimeDelta = TimeDelta::seconds(60);
/// A question is answered within this time, or forgotten.
const QUESTION_STANDS: TimeDelta = TimeDelta::hours(3);

/// Acts on a text from a number that one or more athletes have.
pub fn handle(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading, athletes: &[AthleteId]) {
    message.reading = Some(reading.clone());
    if reading.control == Some(Control::WrongNumber) && reading.kind == Kind::Control {
        let language = first(scene, athletes).map_or(Language::En, |athlete| athlete.language);
        message.athletes = athletes.to_vec();
        rights::wrong_number(scene, message, language, athletes);
        return;
    }
    let mut parts = answer_to_question(scene, message);
    if parts.is_empty() {
        parts = match athletes {
            [only] => vec![(only.clone(), message.body.clone())],
            several => {
                let known: Vec<&Athlete> = several.iter().filter_map(|id| scene.athletes.get(id)).collect();
                match who::sort(&message.body, &known) {
                    Whose::Parts(parts) => parts,
                    Whose::Ask => {
                        ask_whose(scene, message, reading, several);
                        return;
                    }
                }
            }
        };
    }
    message.athletes = parts.iter().map(|(athlete, _)| athlete.clone()).collect();
    for (athlete, text) in parts {
        let reading = about(scene, &athlete, &text, reading, &message.body);
        apply(scene, message, &athlete, &text, reading);
    }
}

/// What a text says of an athlete. Their own name in it is no word to be read, and a correction that opens with "wait" is
/// read without it when it says nothing otherwise.
fn about(scene: &Scene<'_>, athlete: &AthleteId, text: &str, whole: &Reading, body: &str) -> Reading {
    let plain = scene.athletes.get(athlete).map_or_else(|| text.to_owned(), |athlete| without_name(text, athlete));
    let reading = if plain == *body { whole.clone() } else { read(&plain) };
    if reading.kind != Kind::Unclear {
        return reading;
    }
    let opening =
        ["wait ", "oh wait ", "espera "].iter().find_map(|opening| strip_prefix_ignoring_case(&plain, opening));
    match opening.map(|rest| read(&format!("{}{rest}", " ".repeat(plain.len() - rest.len())))) {
        Some(corrected) if corrected.kind == Kind::Flagged => corrected,
        _ => reading,
    }
}

fn strip_prefix_ignoring_case<'t>(text: &'t str, prefix: &str) -> Option<&'t str> {
    let head = text.get(..prefix.len())?;
    head.eq_ignore_ascii_case(prefix).then(|| text.get(prefix.len()..)).flatten()
}

/// The text with the athlete's first and last name blanked out, each place kept.
fn without_name(text: &str, athlete: &Athlete) -> String {
    let names = [who::fold(&athlete.first), who::fold(&athlete.last)];
    let mut out = String::with_capacity(text.len());
    for piece in text.split_inclusive(|c: char| !c.is_alphanumeric()) {
        let word = piece.trim_end_matches(|c: char| !c.is_alphanumeric());
        if !word.is_empty() && names.contains(&who::fold(word)) {
            out.push_str(&" ".repeat(word.len()));
            out.push_str(piece.get(word.len()..).unwrap_or_default());
        } else {
            out.push_str(piece);
        }
    }
    out
}

fn first<'s>(scene: &'s Scene<'_>, athletes: &[AthleteId]) -> Option<&'s Athlete> {
    athletes.first().and_then(|id| scene.athletes.get(id))
}

/// The parts of the text that waited for its owner, when this message names the owner.
fn answer_to_question(scene: &mut Scene<'_>, message: &mut InMessage) -> Vec<(AthleteId, String)> {
    let asked = scene.number(&message.phone).asked;
    let Some(Asked::WhichAthlete { options, text, photos, at }) = asked else { return Vec::new() };
    if scene.now.since(at) > QUESTION_STANDS {
        return Vec::new();
    }
    let known: Vec<&Athlete> = options.iter().filter_map(|id| scene.athletes.get(id)).collect();
    let Some(chosen) = who::choice(&message.body, &known) else { return Vec::new() };
    scene.change_number(&message.phone, |number| number.asked = None);
    message.photos.extend(photos);
    chosen.into_iter().map(|id| (id, text.clone())).collect()
}

fn ask_whose(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading, athletes: &[AthleteId]) {
    message.athletes = athletes.to_vec();
    let known: Vec<Athlete> = athletes.iter().filter_map(|id| scene.athletes.get(id)).cloned().collect();
    let names: Vec<&str> = known.iter().map(|athlete| athlete.first.as_str()).collect();
    let language = known.first().map_or(Language::En, |athlete| athlete.language);
    if !reading.flags.body().is_empty() || reading.red_flag {
        body_report_about_nobody(scene, message, reading, &names.join(" or "));
    }
    let mut text = message.body.clone();
    let mut photos = message.photos.clone();
    // What came before the question was answered belongs to the same owner.
    if let Some(Asked::WhichAthlete { text: earlier, photos: before, .. }) = scene.number(&message.phone).asked {
        text = format!("{earlier}\n{text}");
        photos.splice(0..0, before);
    }
    let asked = Asked::WhichAthlete { options: athletes.to_vec(), text, photos, at: scene.now };
    scene.change_number(&message.phone, |number| number.asked = Some(asked));
    let options = words::options(&names);
    let to = To { phone: &message.phone, language, athlete: None };
    let key = format!("which/{}", message.id);
    scene.send(to, Purpose::Answer, key, &Message::WhichAthlete { options: &options }, None);
    scene.tell(format!("{} share a phone: asked which one it was", names.join(" and ")));
}

/// A body complaint that cannot be laid to one athlete goes to the trainer all the same, and its sender gets the care.
pub fn body_report_about_nobody(scene: &mut Scene<'_>, message: &InMessage, reading: &Reading, whom: &str) {
    let mut item = scene.item(Queue::Medical, message.phone.as_str(), None);
    item.about = Some(whom.to_owned());
    item.flags = item.flags.union(reading.flags.body());
    item.red_flag |= reading.red_flag;
    item.replies.push(message.body.clone());
    item.alerts = item.alerts.max(1);
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    alert(scene, &id, Attempt::First, &message.id);
    let language = super::language_of(reading);
    care(scene, message, None, whom, language, reading.flags, reading.red_flag, false);
}

/// The athlete's answer to today's, or the last, check.
fn apply(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, text: &str, reading: Reading) {
    let check = scene.latest_check(athlete).cloned();
    let reading = joined(scene.now, check.as_ref(), text, reading);
    remember(scene, check.as_ref(), text);
    let photos = !message.photos.is_empty();
    match reading.kind {
        Kind::Flagged => flagged(scene, message, athlete, check.as_ref(), text, &reading),
        Kind::AllClear if photos => look(scene, message, athlete, text, "sent a photo with an all clear"),
        Kind::AllClear => all_clear(scene, message, athlete, check.as_ref()),
        Kind::Control => control(scene, message, athlete, check.as_ref(), &reading),
        Kind::Unclear if photos => look(scene, message, athlete, text, "sent a photo"),
        Kind::Unclear => unclear(scene, message, athlete, check.as_ref(), text),
    }
}

/// Several texts in a row are one reply: what cannot be read alone may be read together with the one before, and an all
/// clear that follows at once on something unread stands only if both together say so.
fn joined(now: Moment, check: Option<&MorningCheck>, text: &str, alone: Reading) -> Reading {
    let Some(check) = check.filter(|check| check.state == CheckState::Unclear) else { return alone };
    let recent = is_recent(now, check);
    let Some(before) = check.last_text.as_ref().filter(|_| recent) else { return alone };
    if alone.kind == Kind::Control {
        return alone;
    }
    let mut together = read(&format!("{before}\n{text}"));
    together.flags = together.flags.union(alone.flags);
    together.red_flag |= alone.red_flag;
    if !together.flags.is_empty() {
        together.kind = Kind::Flagged;
        together.control = None;
    }
    together
}

fn remember(scene: &mut Scene<'_>, check: Option<&MorningCheck>, text: &str) {
    let Some(check) = check else { return };
    let now = scene.now;
    let goes_on = check.state == CheckState::Unclear && is_recent(now, check);
    scene.checks.change(&(check.athlete.clone(), check.date), |check| {
        check.last_text = match check.last_text.take() {
            Some(before) if goes_on => Some(format!("{before}\n{text}")),
            _ => Some(text.to_owned()),
        };
        check.last_text_at = Some(now);
    });
}

/// Whether the last text for a check came so lately that another belongs to the same reply.
fn is_recent(now: Moment, check: &MorningCheck) -> bool {
    check.last_text_at.is_some_and(|at| now.since(at) <= ONE_REPLY)
}

fn set_state(scene: &mut Scene<'_>, check: Option<&MorningCheck>, state: CheckState, flags: Flags) {
    let Some(check) = check else { return };
    let now = scene.now;
    scene.checks.change(&(check.athlete.clone(), check.date), |check| {
        check.state = state;
        check.flags = check.flags.union(flags);
        if state != CheckState::Unclear && state != CheckState::Later {
            check.answered_at.get_or_insert(now);
        }
    });
    scene.cancel(Cancel::Nudge(check.date, check.athlete.clone()));
}

fn flagged(
    scene: &mut Scene<'_>,
    message: &InMessage,
    athlete: &AthleteId,
    check: Option<&MorningCheck>,
    text: &str,
    reading: &Reading,
) {
    let who = scene.who(athlete);
    set_state(scene, check, CheckState::Flagged, reading.flags);
    let (helmet, body) = (reading.flags.helmet(), reading.flags.body());
    let is_body = !body.is_empty() || reading.red_flag;
    let by = format!("athlete {athlete}");
    for kind in HoldKind::for_flags(reading.flags) {
        scene.hold(athlete, kind, &by, Some(&message.id));
    }
    if !helmet.is_empty() {
        equipment_item(scene, message, athlete, text, helmet, is_body);
        let words = words::helmet_words(helmet, Language::En);
        scene.tell(format!("{who}: {words} → fix list"));
    }
    if is_body {
        medical_item(scene, message, athlete, text, reading);
    }
    let flag_names: Vec<&str> = reading.flags.helmet().iter().map(Flag::name).collect();
    let why = if is_body { "body report".to_owned() } else { flag_names.join(" ") };
    scene.note(&by, "flagged", athlete.as_str(), &why, Some(&message.id));
    let person = scene.athletes.get(athlete).cloned();
    let (first, language) =
        person.map_or_else(|| (athlete.0.clone(), Language::En), |athlete| (athlete.first.clone(), athlete.language));
    if is_body {
        care(scene, message, Some(athlete), &first, language, reading.flags, reading.red_flag, !helmet.is_empty());
    } else {
        let flags = scene
            .items
            .values()
            .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete))
            .map_or(helmet, |item| item.flags);
        fitting(scene, message, athlete, &first, language, flags);
    }
}

fn equipment_item(
    scene: &mut Scene<'_>,
    message: &InMessage,
    athlete: &AthleteId,
    text: &str,
    flags: Flags,
    with_body_words: bool,
) {
    let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
    let grew = !flags.minus(item.flags).is_empty();
    item.flags = item.flags.union(flags);
    item.about = None;
    if with_body_words {
        // The words are with the trainer.
        item.about = Some("ask the athletic trainer about the reply".to_owned());
    } else {
        item.replies.push(text.to_owned());
    }
    item.photos.extend(message.photos.iter().cloned());
    scene.items.put(item.id.clone(), item);
    if grew {
        added(scene, message, athlete);
    }
}

/// What comes in after the fix list went out is told at once to those who have it.
fn added(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let Some(event) = scene.next_event(&person.team).filter(|event| event.date == scene.today).cloned() else { return };
    let before = scene.program.teams.get(&event.team).map(|team| team.times.fix_list_before.span());
    if scene.now < event.starts_at.minus(before.unwrap_or_default()) {
        return;
    }
    let open = scene
        .items
        .values()
        .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete));
    let flags = open.map_or(Flags::NONE, |item| item.flags);
    let who = person.short();
    let reply =
        person.jersey.as_ref().map_or_else(|| format!("got {}", person.first), |jersey| format!("got {jersey}"));
    let helmet = scene.helmets.get(athlete).map(|helmet| helmet.tag.0.clone());
    for member in scene.on_duty(Role::Equipment, Some(&event.team), event.date) {
        let Some(phone) = member.phone.clone() else { continue };
        let time = event.starts_at.local(scene.program.zone).time();
        let event_name = words::event_short(event.kind, time, member.language);
        let text = Message::FixAdded {
            event: &event_name,
            who: &who,
            helmet: helmet.as_deref(),
            flags: Helmet(flags),
            reply: &reply,
        };
        let key = format!("fix-added/{}/{}", message.id, member.id);
        let to = To { phone: &phone, language: member.language, athlete: None };
        scene.send(to, Purpose::List, key, &text, Some(event.starts_at));
    }
}

fn medical_item(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, text: &str, reading: &Reading) {
    let mut item = scene.item(Queue::Medical, athlete.as_str(), Some(athlete));
    let before = item.clone();
    item.flags = item.flags.union(reading.flags.body());
    item.red_flag |= reading.red_flag;
    item.replies.push(text.to_owned());
    item.photos.extend(message.photos.iter().cloned());
    let grew = item.flags != before.flags || item.red_flag != before.red_flag;
    let new = before.replies.is_empty();
    if !new && grew && item.state == ItemState::Taken {
        // Graver than what was acknowledged: the ladder starts anew.
        item.state = ItemState::Open;
        item.opened_at = scene.now;
        item.alerts = 0;
    }
    item.alerts = item.alerts.max(1);
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    if new || grew {
        alert(scene, &id, Attempt::First, &message.id);
    }
    let who = scene.who(athlete);
    scene.tell(format!("{who}: body report → athletic trainer texted at once; held"));
}

/// Texts medical staff about a body report: the trainer on duty, or every trainer. Where there is no trainer to text,
/// the administrators and coaches hear that a report waits, without a word of it.
pub fn alert(scene: &mut Scene<'_>, item: &str, attempt: Attempt, key: &str) {
    let Some(item) = scene.items.get(&item.to_owned()).cloned() else { return };
    let team = item.team.clone();
    let mut trainers = match attempt {
        Attempt::Everyone => Vec::new(),
        _ => scene.on_duty(Role::Trainer, team.as_ref(), scene.today).into_iter().take(1).collect(),
    };
    if trainers.is_empty() {
        trainers =
            scene.staff.iter().filter(|member| member.has(Role::Trainer) && member.phone.is_some()).cloned().collect();
    }
    let medical = !trainers.is_empty();
    if !medical {
        let others = |member: &&StaffMember| {
            member.phone.is_some() && (member.has(Role::Administrator) || member.has(Role::Coach))
        };
        trainers = scene.staff.iter().filter(others).cloned().collect();
    }
    let person = item.athlete.as_ref().and_then(|id| scene.athletes.get(id)).cloned();
    let who = person.as_ref().map_or_else(|| item.about.clone().unwrap_or_default(), Athlete::short);
    let phone = person.as_ref().and_then(|athlete| athlete.phone.as_ref()).map(phone_words);
    let team_name = team
        .and_then(|team| scene.program.teams.get(&team).map(|team| team.name.clone()))
        .unwrap_or_else(|| scene.program.name.clone());
    let reply = person.as_ref().map_or_else(
        || "got it".to_owned(),
        |athlete| {
            athlete.jersey.as_ref().map_or_else(|| format!("got {}", athlete.first), |jersey| format!("got {jersey}"))
        },
    );
    let words = item.replies.last().map(String::as_str).filter(|_| medical && scene.program.words_to_trainer);
    for member in trainers {
        let Some(to) = member.phone.clone() else { continue };
        let time = words::clock_words(item.opened_at.local(scene.program.zone).time(), member.language);
        let text = Message::BodyAlert {
            who: &who,
            team: &team_name,
            time: &time,
            what: Body(if medical { item.flags } else { Flags::NONE }),
            words: words.map(Typed),
            red_flag: item.red_flag && medical,
            attempt,
            phone: phone.as_deref(),
            reply: &reply,
        };
        let rung = match attempt {
            Attempt::First => 1,
            Attempt::Again => 2,
            Attempt::Everyone => 3,
        };
        let id = format!("alert/{}/{rung}/{}/{key}", item.id, member.id);
        let body = scene.say(member.language, &text);
        scene.send_text(To { phone: &to, language: member.language, athlete: None }, Purpose::Medical, id, body, None);
    }
}

/// The care that a body complaint is answered with.
#[expect(clippy::too_many_arguments, reason = "what the answer depends on")]
fn care(
    scene: &mut Scene<'_>,
    message: &InMessage,
    athlete: Option<&AthleteId>,
    first: &str,
    language: Language,
    flags: Flags,
    red_flag: bool,
    also_helmet: bool,
) {
    let team = athlete.and_then(|id| scene.athletes.get(id)).map(|athlete| athlete.team.clone());
    let (trainer, phone) = scene.trainer_contact(team.as_ref());
    let (trainer, trainer_phone) = (trainer.as_deref(), phone.as_deref());
    let text = if red_flag {
        Message::Emergency { first, trainer, trainer_phone }
    } else if flags.contains(Flag::Symptom) || flags.contains(Flag::Unwell) {
        Message::Symptom { first, trainer, trainer_phone, also_helmet }
    } else {
        Message::Body { first, trainer, trainer_phone, also_helmet }
    };
    let subject = athlete.map_or("number", AthleteId::as_str);
    let key = format!("care/{}/{subject}", message.id);
    let body = scene.say(language, &text);
    scene.send_text(To { phone: &message.phone, language, athlete }, Purpose::Medical, key, body, None);
}

/// Where to go with the helmet, by when, and whether it may be worn there.
fn fitting(
    scene: &mut Scene<'_>,
    message: &InMessage,
    athlete: &AthleteId,
    first: &str,
    language: Language,
    flags: Flags,
) {
    let (place, by) = (scene.place(language), by_when(scene, athlete, language));
    let key = format!("answer/{}/{athlete}", message.id);
    let no_helmet = flags.contains(Flag::Missing) || flags.contains(Flag::WrongHelmet);
    let text = if no_helmet {
        Message::FlaggedMissing { first, wrong: flags.contains(Flag::WrongHelmet), place: &place, by: &by }
    } else if HoldKind::for_flags(flags).contains(&HoldKind::Equipment) {
        Message::FlaggedHold { first, flags: Helmet(flags), place: &place, by: &by }
    } else {
        Message::FlaggedRefit { first, flags: Helmet(flags), place: &place, by: &by }
    };
    let body = scene.say(language, &text);
    scene.send_text(To { phone: &message.phone, language, athlete: Some(athlete) }, Purpose::Answer, key, body, None);
}

/// When the athlete should be at the equipment room, in words: before the next event, or before "practice".
fn by_when(scene: &Scene<'_>, athlete: &AthleteId, language: Language) -> String {
    let team = scene.athletes.get(athlete).map(|athlete| athlete.team.clone());
    let next = team.as_ref().and_then(|team| scene.next_event(team));
    let Some(event) = next else {
        return match language {
            Language::En => "the next practice".to_owned(),
            Language::Es => "la próxima práctica".to_owned(),
        };
    };
    let before = scene.program.teams.get(&event.team).map(|team| team.times.fix_by_before.span()).unwrap_or_default();
    let at = event.starts_at.minus(before).max(scene.now).local(scene.program.zone);
    let time = words::by_words(at.time(), language);
    if at.date() == scene.today {
        return time;
    }
    let day = words::day_words(at.date(), scene.today, language);
    match language {
        Language::En => format!("{time} {day}"),
        Language::Es => format!(
            "{time} {}",
            day.strip_prefix("el ").map_or_else(|| format!("de {day}"), |day| format!("del {day}"))
        ),
    }
}

fn all_clear(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, check: Option<&MorningCheck>) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let by = format!("athlete {athlete}");
    let to = To { phone: &message.phone, language: person.language, athlete: Some(athlete) };
    let key = format!("answer/{}/{athlete}", message.id);
    if scene.is_held_for_body(athlete) {
        let (trainer, phone) = scene.trainer_contact(Some(&person.team));
        let text =
            Message::StillHeld { first: &person.first, trainer: trainer.as_deref(), trainer_phone: phone.as_deref() };
        let body = scene.say(person.language, &text);
        scene.note(&by, "all clear while held", athlete.as_str(), "", Some(&message.id));
        scene.send_text(to, Purpose::Answer, key, body, None);
        scene.tell(format!("{}: says all good, stays held until the trainer decides", person.short()));
        return;
    }
    let open = scene
        .items
        .values()
        .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete))
        .cloned();
    if let Some(mut item) = open {
        if !item.flags.is_empty() || !item.photos.is_empty() {
            item.replies.push(message.body.clone());
            scene.items.put(item.id.clone(), item);
            let hold = scene.holds_on(athlete).any(|hold| hold.kind == HoldKind::Equipment);
            let (place, by_when) = (scene.place(person.language), by_when(scene, athlete, person.language));
            let text = Message::StillNeedsStaff { first: &person.first, hold, place: &place, by: &by_when };
            let body = scene.say(person.language, &text);
            scene.note(&by, "all clear after a flag", athlete.as_str(), "", Some(&message.id));
            scene.send_text(to, Purpose::Answer, key, body, None);
            scene.tell(format!("{}: says all good now; staff still have to look", person.short()));
            return;
        }
        item.state = ItemState::Closed;
        item.closed_at = Some(scene.now);
        item.done = Some("answered clearly after all".to_owned());
        scene.items.put(item.id.clone(), item);
    }
    let Some(check) = check else { return nothing_open(scene, message, &person) };
    scene.note(&by, "all clear", athlete.as_str(), "", Some(&message.id));
    let again = check.state == CheckState::Clear;
    set_state(scene, Some(check), CheckState::Clear, Flags::NONE);
    if again {
        return;
    }
    let late = is_late(scene, check);
    let text =
        if late { Message::LateAnswer { first: &person.first } } else { Message::AllClear { first: &person.first } };
    let body = scene.say(person.language, &text);
    scene.send_text(to, Purpose::Answer, key, body, None);
    let when = if late { " (late)" } else { "" };
    scene.tell(format!("{}: all good{when}", person.short()));
}

/// Whether the event that the check was for has begun.
fn is_late(scene: &Scene<'_>, check: &MorningCheck) -> bool {
    check.date < scene.today || scene.events.get(&check.event).is_some_and(|event| event.starts_at <= scene.now)
}

fn nothing_open(scene: &mut Scene<'_>, message: &InMessage, person: &Athlete) {
    let (name, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let contact_phone = phone_words(&scene.program.contact_phone);
    let text = Message::NoOpenCheck { program: &name, contact: &contact, contact_phone: &contact_phone };
    let key = format!("no-check/{}/{}", message.phone, scene.today);
    let to = To { phone: &message.phone, language: person.language, athlete: Some(&person.id) };
    scene.send(to, Purpose::Answer, key, &text, None);
    scene.tell(format!("{}: wrote, and no check is open", person.short()));
}

/// Something that only a person can judge: an item to look at.
fn look(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, text: &str, about: &str) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
    if item.flags.is_empty() {
        item.about = Some(about.to_owned());
    }
    item.replies.push(text.to_owned());
    item.photos.extend(message.photos.iter().cloned());
    let flagged = !item.flags.is_empty();
    scene.items.put(item.id.clone(), item);
    let check = scene.latest_check(athlete).cloned();
    if !flagged {
        set_state(scene, check.as_ref(), CheckState::Unclear, Flags::NONE);
    }
    let text = if text.trim().is_empty() && !flagged {
        Message::PhotoOnly { first: &person.first }
    } else {
        Message::PhotoKept { first: &person.first }
    };
    let to = To { phone: &message.phone, language: person.language, athlete: Some(athlete) };
    scene.send(to, Purpose::Answer, format!("answer/{}/{athlete}", message.id), &text, None);
    scene.note(&format!("athlete {athlete}"), "to look at", athlete.as_str(), about, Some(&message.id));
    scene.tell(format!("{}: {about} → fix list, to look at", person.short()));
}

fn unclear(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, check: Option<&MorningCheck>, text: &str) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let Some(check) = check.filter(|check| check.date == scene.today) else {
        return nothing_open(scene, message, &person);
    };
    let answered = matches!(check.state, CheckState::Clear | CheckState::Flagged);
    if answered && is_courtesy(text) {
        return;
    }
    if check.state == CheckState::Flagged {
        // Staff look at this helmet anyway: what was added goes with it.
        let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
        if item.opened_at != scene.now {
            item.replies.push(text.to_owned());
            item.about = Some("wrote more that was not understood".to_owned());
            scene.items.put(item.id.clone(), item);
        }
        return;
    }
    let to = To { phone: &message.phone, language: person.language, athlete: Some(athlete) };
    let key = format!("answer/{}/{athlete}", message.id);
    scene.note(&format!("athlete {athlete}"), "unclear", athlete.as_str(), "", Some(&message.id));
    set_state(scene, Some(check), CheckState::Unclear, Flags::NONE);
    if !check.asked_again {
        scene.checks.change(&(athlete.clone(), check.date), |check| check.asked_again = true);
        let text = Message::Unclear { first: &person.first };
        let body = scene.say(person.language, &text);
        scene.send_text(to, Purpose::Answer, key, body, None);
        scene.tell(format!("{}: could not tell what was meant; asked again, points spelled out", person.short()));
        return;
    }
    if check.state == CheckState::Unclear && is_recent(scene.now, check) {
        // Still typing: the pieces are read together when there are more.
        return;
    }
    let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
    item.about = Some("answer not understood: ask and look".to_owned());
    item.replies.push(text.to_owned());
    let known = item.opened_at != scene.now;
    scene.items.put(item.id.clone(), item);
    if known {
        return;
    }
    let (place, by) = (scene.place(person.language), by_when(scene, athlete, person.language));
    let text = Message::UnclearAgain { first: &person.first, place: &place, by: &by };
    let body = scene.say(person.language, &text);
    scene.send_text(to, Purpose::Answer, key, body, None);
    scene.tell(format!("{}: still not understood → fix list, staff will ask", person.short()));
}

/// Words after an answer that ask for none.
fn is_courtesy(text: &str) -> bool {
    let folded: String =
        who::fold(text).chars().filter(|c| c.is_alphanumeric() || *c == ' ' || !c.is_ascii()).collect();
    matches!(
        folded.trim(),
        "thanks"
            | "thank you"
            | "thx"
            | "ty"
            | "thank u"
            | "thanks coach"
            | "gracias"
            | "grax"
            | "np"
            | "👍"
            | "🙏"
            | "🫡"
            | "ok"
            | "okay"
            | "k"
            | "bet"
            | "cool"
            | "will do"
            | "on my way"
            | "omw"
            | "ya voy"
            | "voy"
    )
}

fn control(
    scene: &mut Scene<'_>,
    message: &InMessage,
    athlete: &AthleteId,
    check: Option<&MorningCheck>,
    reading: &Reading,
) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let to = To { phone: &message.phone, language: person.language, athlete: Some(athlete) };
    let key = format!("answer/{}/{athlete}", message.id);
    let by = format!("athlete {athlete}");
    let flagged = check.is_some_and(|check| check.state == CheckState::Flagged);
    match reading.control {
        Some(Control::Absent) => {
            scene.note(&by, "absent", athlete.as_str(), "", Some(&message.id));
            if !flagged {
                set_state(scene, check, CheckState::Absent, Flags::NONE);
            }
            let text = Message::Absent { first: &person.first };
            scene.send(to, Purpose::Answer, key, &text, None);
            scene.tell(format!("{}: will not be there", person.short()));
        }
        Some(Control::Later) => {
            let Some(check) = check else { return nothing_open(scene, message, &person) };
            scene.note(&by, "later", athlete.as_str(), "", Some(&message.id));
            if !flagged {
                let now_state = scene.checks.get(&(athlete.clone(), check.date)).map(|check| check.state);
                if now_state.is_some_and(|state| state != CheckState::Clear) {
                    scene.checks.change(&(athlete.clone(), check.date), |check| check.state = CheckState::Later);
                }
            }
            let by_when = by_when(scene, athlete, person.language);
            let text = Message::Later { first: &person.first, by: &by_when };
            let body = scene.say(person.language, &text);
            scene.send_text(to, Purpose::Answer, key, body, None);
            scene.tell(format!("{}: will check later", person.short()));
        }
        Some(Control::WrongNumber) => {
            rights::wrong_number(scene, message, person.language, std::slice::from_ref(athlete));
            rights::to_hands(scene, std::slice::from_ref(athlete), ByHand::WrongNumber);
        }
        _ => {
            debug_assert!(!is_report(reading));
        }
    }
}
