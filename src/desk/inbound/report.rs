//! What a report brings about, whoever made it readable: the athlete's own text, or staff who say what an unclear one
//! meant. Holds, the fix list, the trainer, and the answer that the athlete gets.

use crate::desk::scene::{Cancel, Scene, To, phone_words};
use crate::reading::Reading;
use crate::store::rows::{InMessage, Purpose};
use crate::trade::flag::{Flag, Flags};
use crate::trade::morning::{CheckState, MorningCheck};
use crate::trade::phone::Phone;
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{Athlete, AthleteId, Language, Role, StaffMember, TeamId};
use crate::wording::{Attempt, Body, Helmet, Message, Typed, words};

/// Where a report comes from.
#[derive(Debug, Clone, Copy)]
pub struct Source<'a> {
    /// Natural key of the happening: part of the keys of the texts that it causes.
    pub key: &'a str,
    /// What the record names as its origin.
    pub origin: &'a str,
    /// Who reports, in the record.
    pub by: &'a str,
    /// The number that is answered, when there is one.
    pub phone: Option<&'a Phone>,
    /// Links to photos that came with it.
    pub photos: &'a [String],
}

/// Moves a check on; what was to remind of it is dropped.
pub fn set_state(scene: &mut Scene<'_>, check: Option<&MorningCheck>, state: CheckState, flags: Flags) {
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

/// A report of something that is off: holds, items, alerts, and the answer.
pub fn flagged(
    scene: &mut Scene<'_>,
    source: &Source<'_>,
    athlete: &AthleteId,
    check: Option<&MorningCheck>,
    text: &str,
    reading: &Reading,
) {
    let who = scene.who(athlete);
    set_state(scene, check, CheckState::Flagged, reading.flags);
    let (helmet, body) = (reading.flags.helmet(), reading.flags.body());
    let is_body = !body.is_empty() || reading.red_flag;
    for kind in HoldKind::for_flags(reading.flags) {
        scene.hold(athlete, kind, source.by, Some(source.origin));
    }
    if !helmet.is_empty() {
        equipment_item(scene, source, athlete, text, helmet, is_body);
        let words = words::helmet_words(helmet, Language::En);
        scene.tell(format!("{who}: {words} → fix list"));
    }
    if is_body {
        medical_item(scene, source, athlete, text, reading);
    }
    let flag_names: Vec<&str> = reading.flags.helmet().iter().map(Flag::name).collect();
    let why = if is_body { "body report".to_owned() } else { flag_names.join(" ") };
    scene.note(source.by, "flagged", athlete.as_str(), &why, Some(source.origin));
    let person = scene.athletes.get(athlete).cloned();
    let (first, language) =
        person.map_or_else(|| (athlete.0.clone(), Language::En), |athlete| (athlete.first.clone(), athlete.language));
    if is_body {
        care(scene, source, Some(athlete), &first, language, reading.flags, reading.red_flag, !helmet.is_empty());
    } else {
        let flags = scene
            .items
            .values()
            .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete))
            .map_or(helmet, |item| item.flags);
        fitting(scene, source, athlete, &first, language, flags);
    }
}

fn equipment_item(
    scene: &mut Scene<'_>,
    source: &Source<'_>,
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
        keep_reply(&mut item.replies, text);
    }
    item.photos.extend(source.photos.iter().cloned());
    scene.items.put(item.id.clone(), item);
    if grew {
        added(scene, source, athlete);
    }
}

/// Keeps what was typed; what stands last already is not kept twice.
fn keep_reply(replies: &mut Vec<String>, text: &str) {
    if !text.is_empty() && replies.last().is_none_or(|last| last != text) {
        replies.push(text.to_owned());
    }
}

/// What comes in after the fix list went out is told at once to those who have it.
fn added(scene: &mut Scene<'_>, source: &Source<'_>, athlete: &AthleteId) {
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
        let key = format!("fix-added/{}/{}", source.key, member.id);
        let to = To { phone: &phone, language: member.language, athlete: None };
        scene.send(to, Purpose::List, key, &text, Some(event.starts_at));
    }
}

fn medical_item(scene: &mut Scene<'_>, source: &Source<'_>, athlete: &AthleteId, text: &str, reading: &Reading) {
    let mut item = scene.item(Queue::Medical, athlete.as_str(), Some(athlete));
    let before = item.clone();
    item.flags = item.flags.union(reading.flags.body());
    item.red_flag |= reading.red_flag;
    keep_reply(&mut item.replies, text);
    item.photos.extend(source.photos.iter().cloned());
    // The same complaint on another day is news again.
    let zone = scene.program.zone;
    let old = before.taken_at.is_some_and(|taken| taken.date(zone) < scene.today);
    let grew = item.flags != before.flags || item.red_flag != before.red_flag || old;
    let new = before.replies.is_empty();
    if !new && grew && item.state == ItemState::Taken {
        // Graver than what was acknowledged, or said again later: the ladder starts anew.
        item.state = ItemState::Open;
        item.taken_at = None;
        item.opened_at = scene.now;
        item.alerts = 0;
    }
    item.alerts = item.alerts.max(1);
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    if new || grew {
        alert(scene, &id, Attempt::First, source.key);
    }
    let who = scene.who(athlete);
    scene.tell(format!("{who}: body report → athletic trainer texted at once; held"));
}

/// A body complaint that cannot be laid to one athlete: the trainer is texted all the same.
pub fn about_nobody(scene: &mut Scene<'_>, message: &InMessage, flags: Flags, red_flag: bool, whom: &str) {
    let mut item = scene.item(Queue::Medical, message.phone.as_str(), None);
    item.about = Some(whom.to_owned());
    item.flags = item.flags.union(flags.body());
    item.red_flag |= red_flag;
    item.replies.push(message.body.clone());
    item.alerts = item.alerts.max(1);
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    alert(scene, &id, Attempt::First, &message.id);
}

/// "What did he mean?": a reply that could not be read may hold anything, so its words go to trainers on duty; where
/// there is none, equipment staff are told to ask, without the words.
pub fn ask_meant(scene: &mut Scene<'_>, item: &Item, key: &str) {
    let team = item.team.as_ref();
    let mut to = scene.on_duty(Role::Trainer, team, scene.today);
    let words = item.unread_text().filter(|_| !to.is_empty() && scene.program.words_to_trainer);
    if to.is_empty() {
        to = scene.on_duty(Role::Equipment, team, scene.today);
    }
    let Some(person) = item.athlete.as_ref().and_then(|athlete| scene.athletes.get(athlete)).cloned() else { return };
    let who = person.short();
    let reply = person.jersey.clone().unwrap_or_else(|| person.first.clone());
    for member in to.into_iter().take(1) {
        let Some(phone) = &member.phone else { continue };
        let text = Message::WhatMeant { who: &who, words: words.as_deref().map(Typed), reply: &reply };
        let to = To { phone, language: member.language, athlete: None };
        scene.send(to, Purpose::List, format!("what-meant/{}/{key}/{}", item.id, member.id), &text, None);
    }
}

/// Texts medical staff about a body report: the trainer on duty, or every trainer. Where there is no trainer to text,
/// the administrators and coaches hear that a report waits, without a word of it.
pub fn alert(scene: &mut Scene<'_>, item: &str, attempt: Attempt, key: &str) {
    let Some(item) = scene.items.get(&item.to_owned()).cloned() else { return };
    let team = item.team.clone();
    let mut trainers = trainers_called(scene, team.as_ref(), attempt);
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
            Attempt::Second => 3,
            Attempt::Everyone => 4,
        };
        let id = format!("alert/{}/{rung}/{}/{key}", item.id, member.id);
        let body = scene.say(member.language, &text);
        scene.send_text(To { phone: &to, language: member.language, athlete: None }, Purpose::Medical, id, body, None);
    }
}

/// The trainers whom an attempt calls: the first on duty, at this hour before those of the day; then again; then the next, on duty before the others; then
/// all. Where nobody is on duty, all from the first; where there is no next, the first again.
fn trainers_called(scene: &Scene<'_>, team: Option<&TeamId>, attempt: Attempt) -> Vec<StaffMember> {
    let mut on_duty = scene.on_duty(Role::Trainer, team, scene.today);
    let local = scene.now.local(scene.program.zone);
    on_duty.sort_by_key(|member| !member.on_duty_at(local));
    let all: Vec<StaffMember> =
        scene.staff.iter().filter(|member| member.has(Role::Trainer) && member.phone.is_some()).cloned().collect();
    let Some(first) = on_duty.first().filter(|_| attempt != Attempt::Everyone).cloned() else { return all };
    if attempt == Attempt::Second {
        let next = on_duty.into_iter().chain(all).find(|member| member.id != first.id);
        return vec![next.unwrap_or(first)];
    }
    vec![first]
}

/// The care that a body complaint is answered with.
#[expect(clippy::too_many_arguments, reason = "what the answer depends on")]
pub(super) fn care(
    scene: &mut Scene<'_>,
    source: &Source<'_>,
    athlete: Option<&AthleteId>,
    first: &str,
    language: Language,
    flags: Flags,
    red_flag: bool,
    also_helmet: bool,
) {
    let Some(to) = source.phone else { return };
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
    let key = format!("care/{}/{subject}", source.key);
    let body = scene.say(language, &text);
    scene.send_text(To { phone: to, language, athlete }, Purpose::Medical, key, body, None);
}

/// Where to go with the helmet, by when, and whether it may be worn there.
fn fitting(
    scene: &mut Scene<'_>,
    source: &Source<'_>,
    athlete: &AthleteId,
    first: &str,
    language: Language,
    flags: Flags,
) {
    let Some(phone) = source.phone else { return };
    let (place, by) = (scene.place(language), by_when(scene, athlete, language));
    let key = format!("answer/{}/{athlete}", source.key);
    let no_helmet = flags.contains(Flag::Missing) || flags.contains(Flag::WrongHelmet);
    let text = if no_helmet {
        Message::FlaggedMissing { first, wrong: flags.contains(Flag::WrongHelmet), place: &place, by: &by }
    } else if HoldKind::for_flags(flags).contains(&HoldKind::Equipment) {
        Message::FlaggedHold { first, flags: Helmet(flags), place: &place, by: &by }
    } else {
        Message::FlaggedRefit { first, flags: Helmet(flags), place: &place, by: &by }
    };
    let body = scene.say(language, &text);
    scene.send_text(To { phone, language, athlete: Some(athlete) }, Purpose::Answer, key, body, None);
}

/// When the athlete should be at the equipment room, in words: before the next event, or before "practice".
pub fn by_when(scene: &Scene<'_>, athlete: &AthleteId, language: Language) -> String {
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
