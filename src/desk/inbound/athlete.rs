//! An athlete's text: which check it answers, what is off, what staff have to do, and the answer.

use chrono::TimeDelta;

use super::report::{self, Source, by_when, care, flagged, set_state};
use super::who::{self, Whose};
use super::{is_report, rights};
use crate::desk::scene::{Scene, To, phone_words};
use crate::reading::{Kind, Reading, read};
use crate::store::rows::{Asked, InMessage, Purpose};
use crate::trade::flag::{Control, Flags};
use crate::trade::morning::{ByHand, CheckState, MorningCheck};
use crate::trade::queue::{HoldKind, ItemState, MORE_NOT_UNDERSTOOD, NOT_UNDERSTOOD, Queue};
use crate::trade::roster::{Athlete, AthleteId, Language};
use crate::trade::time::Moment;
use crate::wording::{Message, words};

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

/// Acts on what an athlete wrote in a way that tells who it is: nobody has to be asked, and a question put to the number is
/// not answered by it.
pub fn handle_known(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading, athlete: &AthleteId) {
    message.reading = Some(reading.clone());
    message.athletes = vec![athlete.clone()];
    let text = message.body.clone();
    let reading = about(scene, athlete, &text, reading, &text);
    apply(scene, message, athlete, &text, reading);
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
    report::about_nobody(scene, message, reading.flags, reading.red_flag, whom);
    let language = super::language_of(reading);
    let source = source(message, "number");
    care(scene, &source, None, whom, language, reading.flags, reading.red_flag, false);
}

/// A text as the origin of a report.
fn source<'a>(message: &'a InMessage, by: &'a str) -> Source<'a> {
    Source { key: &message.id, origin: &message.id, by, phone: Some(&message.phone), photos: &message.photos }
}

/// The athlete's answer to today's, or the last, check.
fn apply(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, text: &str, reading: Reading) {
    let check = scene.latest_check(athlete).cloned();
    let reading = joined(scene.now, check.as_ref(), text, reading);
    if crate::desk::clearance::check_in::answer(scene, message, athlete, text, &reading) {
        return;
    }
    remember(scene, check.as_ref(), text);
    let photos = !message.photos.is_empty();
    match reading.kind {
        Kind::Flagged => {
            let by = format!("athlete {athlete}");
            flagged(scene, &source(message, &by), athlete, check.as_ref(), text, &reading);
        }
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
            let known = item.is_unread();
            item.about = Some(MORE_NOT_UNDERSTOOD.to_owned());
            scene.items.put(item.id.clone(), item.clone());
            if !known {
                report::ask_meant(scene, &item, &message.id);
            }
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
    item.about = Some(NOT_UNDERSTOOD.to_owned());
    item.replies.push(text.to_owned());
    let known = item.opened_at != scene.now;
    scene.items.put(item.id.clone(), item.clone());
    if known {
        return;
    }
    report::ask_meant(scene, &item, &message.id);
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
