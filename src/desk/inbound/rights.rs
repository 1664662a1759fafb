//! STOP, START, HELP: what a number may always ask, whoever is behind it (47 CFR 64.1200(a)(10) and (12), and the
//! carriers' guidelines). STOP wins: from its commit on nothing goes to the number but the one confirmation.

use crate::desk::notices;
use crate::desk::scene::{Cancel, Scene, To, phone_words};
use crate::reading::Reading;
use crate::store::rows::{InMessage, Purpose};
use crate::trade::flag::Control;
use crate::trade::morning::{ByHand, CheckState};
use crate::trade::phone::Phone;
use crate::trade::queue::Queue;
use crate::trade::roster::{AthleteId, Language, StaffMember};
use crate::wording::Message;

/// Acts on the rights of a number. Whether the message was about them.
pub fn handle(
    scene: &mut Scene<'_>,
    message: &mut InMessage,
    reading: &Reading,
    member: Option<&StaffMember>,
    athletes: &[AthleteId],
) -> bool {
    let by_carrier = message.carrier_answered.clone();
    let control = match by_carrier.as_deref() {
        Some("STOP") => Some(Control::Stop),
        Some("START") => Some(Control::Start),
        Some("HELP") => Some(Control::Help),
        _ => reading.control,
    };
    let language = language(scene, reading, member, athletes);
    // Where the carrier has answered, the program records and stays silent.
    let silent = by_carrier.is_some();
    match control {
        Some(Control::Stop) => stop(scene, message, language, athletes, silent),
        Some(Control::Start) => start(scene, message, language, athletes, silent),
        // Staff are answered with what they can text.
        Some(Control::Help) if member.is_some() && !silent => return false,
        Some(Control::Help) => help(scene, message, language, silent),
        _ => return false,
    }
    if by_carrier.is_none() {
        message.reading = Some(reading.clone());
    }
    message.athletes = athletes.to_vec();
    true
}

fn language(scene: &Scene<'_>, reading: &Reading, member: Option<&StaffMember>, athletes: &[AthleteId]) -> Language {
    let own = member.map(|member| member.language);
    let athlete = athletes.first().and_then(|id| scene.athletes.get(id)).map(|athlete| athlete.language);
    own.or(athlete).unwrap_or_else(|| super::language_of(reading))
}

fn stop(scene: &mut Scene<'_>, message: &InMessage, language: Language, athletes: &[AthleteId], silent: bool) {
    let phone = &message.phone;
    let already = scene.number(phone).opted_out_at.is_some();
    let now = scene.now;
    scene.change_number(phone, |number| {
        number.opted_out_at.get_or_insert(now);
        number.asked = None;
    });
    scene.cancel(Cancel::To(phone.clone()));
    scene.note("number", "opted out", phone.as_str(), &message.body, Some(&message.id));
    to_hands(scene, athletes, ByHand::OptedOut);
    let whom = names(scene, athletes, phone);
    let what = if athletes.is_empty() { "opted out of texts" } else { "opted out of texts: check by hand" };
    contact(scene, message, athletes, what);
    if !already && !silent {
        let name = scene.program.name.clone();
        let to = To { phone, language, athlete: None };
        let key = format!("stopped/{}", message.id);
        scene.send(to, Purpose::Rights, key, &Message::Stopped { program: &name }, None);
    }
    scene.tell(format!("{whom}: STOP. Nothing more goes to that number; staff check by hand"));
}

fn start(scene: &mut Scene<'_>, message: &InMessage, language: Language, athletes: &[AthleteId], silent: bool) {
    let phone = &message.phone;
    scene.change_number(phone, |number| {
        number.opted_out_at = None;
        number.wrong_at = None;
    });
    scene.note("number", "opted in", phone.as_str(), &message.body, Some(&message.id));
    if !silent {
        let name = scene.program.name.clone();
        let to = To { phone, language, athlete: None };
        let key = format!("started/{}", message.id);
        scene.send(to, Purpose::Rights, key, &Message::Started { program: &name }, None);
    }
    let whom = names(scene, athletes, phone);
    scene.tell(format!("{whom}: START. Texts go there again"));
}

fn help(scene: &mut Scene<'_>, message: &InMessage, language: Language, silent: bool) {
    scene.note("number", "asked for help", message.phone.as_str(), "", Some(&message.id));
    scene.tell(format!("{} asked who this is: told", message.phone.short()));
    if silent {
        return;
    }
    let (name, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let contact_phone = phone_words(&scene.program.contact_phone);
    let answer = Message::Help { program: &name, contact: &contact, contact_phone: &contact_phone };
    let to = To { phone: &message.phone, language, athlete: None };
    scene.send(to, Purpose::Rights, format!("help/{}", message.id), &answer, None);
}

/// A wrong number: nothing more goes there, but the one apology.
pub fn wrong_number(scene: &mut Scene<'_>, message: &InMessage, language: Language, athletes: &[AthleteId]) {
    let phone = &message.phone;
    let already = scene.number(phone).wrong_at.is_some();
    let now = scene.now;
    scene.change_number(phone, |number| {
        number.wrong_at.get_or_insert(now);
        number.asked = None;
    });
    scene.cancel(Cancel::To(phone.clone()));
    scene.note("number", "wrong number", phone.as_str(), &message.body, Some(&message.id));
    to_hands(scene, athletes, ByHand::WrongNumber);
    let whom = names(scene, athletes, phone);
    let what = if athletes.is_empty() {
        "wrong number: ask for the right one"
    } else {
        "wrong number: ask for the right one, check by hand"
    };
    contact(scene, message, athletes, what);
    if !already {
        let name = scene.program.name.clone();
        let to = To { phone, language, athlete: None };
        let key = format!("wrong/{}", message.id);
        scene.send(to, Purpose::Rights, key, &Message::WrongNumber { program: &name }, None);
    }
    scene.tell(format!("{whom}: wrong number. Nothing more goes there; a contact item asks for the right one"));
}

/// Checks of today that wait for an answer from this number are done by hand.
pub fn to_hands(scene: &mut Scene<'_>, athletes: &[AthleteId], why: ByHand) {
    let today = scene.today;
    for athlete in athletes {
        scene.checks.change(&(athlete.clone(), today), |check| {
            if check.state.is_silent() || check.state == CheckState::Unclear {
                check.state = CheckState::ByHand;
                check.by_hand = Some(why);
            }
        });
    }
}

/// Opens a contact item for the number's owners.
pub fn contact(scene: &mut Scene<'_>, message: &InMessage, athletes: &[AthleteId], about: &str) {
    let whom = names(scene, athletes, &message.phone);
    let mut item = scene.item(Queue::Contact, message.phone.as_str(), None);
    item.about = Some(format!("{whom}: {about}"));
    scene.items.put(item.id.clone(), item);
}

fn names(scene: &Scene<'_>, athletes: &[AthleteId], phone: &Phone) -> String {
    if athletes.is_empty() {
        let member = scene.staff.iter().find(|member| member.phone.as_ref() == Some(phone));
        let staff = member.map(|member| format!("{} {}", member.first, member.last));
        return staff.or_else(|| notices::guardians_at(scene, phone)).unwrap_or_else(|| phone.short());
    }
    let names: Vec<String> = athletes.iter().map(|athlete| scene.who(athlete)).collect();
    names.join(" and ")
}
