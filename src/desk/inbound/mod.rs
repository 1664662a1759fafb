//! A message heard: whose it is, what it says, and what follows. Pure: it decides on a [`Scene`].
//!
//! Rights come first (STOP, START, HELP), then staff commands, then athletes, then those who answer for them, then
//! numbers that nobody knows. A body complaint is acted on whoever sends it.

pub mod athlete;
pub mod guardian;
pub mod report;
pub mod rights;
pub mod staff;
pub mod who;

#[cfg(test)]
mod tests;

use super::notices::{choice, consent, reply};
use super::scene::{Scene, To};
use crate::reading::{Kind, Reading};
use crate::store::rows::{InMessage, Purpose};
use crate::trade::queue::Queue;
use crate::trade::roster::{Language, StaffMember};
use crate::wording::Message;

/// Draws the consequences of a message. `message.handled` is set, and the message is to be stored.
pub fn handle(scene: &mut Scene<'_>, mut message: InMessage, reading: &Reading) {
    scene.note("number", "heard", message.phone.as_str(), "", Some(&message.id));
    message.handled = true;
    let athletes = scene.at_phone.get(&message.phone).cloned().unwrap_or_default();
    let member = scene.staff.iter().find(|member| member.phone.as_ref() == Some(&message.phone)).cloned();
    if consent::answered(scene, &mut message, reading)
        || rights::handle(scene, &mut message, reading, member.as_ref(), &athletes)
        || choice::heard(scene, &mut message, &athletes)
        || (member.is_none() && reply::acknowledged(scene, &mut message, &athletes))
    {
        // Done.
    } else if super::chat::link::asked(scene, &message, member.as_ref(), &athletes) {
        message.athletes = athletes;
    } else if let Some(member) = member {
        staff::handle(scene, &message, &member);
    } else if !athletes.is_empty() && reply::asks(scene, &message, reading) && reply::question(scene, &mut message) {
        message.reading = Some(reading.clone());
    } else if !athletes.is_empty() {
        athlete::handle(scene, &mut message, reading, &athletes);
    } else if scene.guardians.contains_key(&message.phone) {
        guardian::handle(scene, &mut message, reading);
    } else {
        unknown(scene, &mut message, reading);
    }
    scene.heard.push(message);
}

/// A number that nobody knows gets one polite answer, ever, and a contact item; a body complaint goes to the trainer
/// all the same.
fn unknown(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading) {
    message.reading = Some(reading.clone());
    let phone = message.phone.clone();
    let short = phone.short();
    let mut item = scene.item(Queue::Contact, phone.as_str(), None);
    item.about = Some(format!("unknown number {short} wrote"));
    if reading.flags.body().is_empty() {
        item.replies.push(message.body.clone());
    }
    item.photos.extend(message.photos.iter().cloned());
    scene.items.put(item.id.clone(), item);
    if !reading.flags.body().is_empty() || reading.red_flag {
        athlete::body_report_about_nobody(scene, message, reading, &format!("unknown number {short}"));
    }
    let language = language_of(reading);
    let contact_phone = super::scene::phone_words(&scene.program.contact_phone);
    let (name, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let answer = Message::UnknownNumber { program: &name, contact: &contact, contact_phone: &contact_phone };
    let to = To { phone: &phone, language, athlete: None };
    if scene.number(&phone).welcomed_at.is_none() {
        let now = scene.now;
        scene.change_number(&phone, |number| number.welcomed_at = Some(now));
        scene.send(to, Purpose::Answer, format!("unknown/{phone}"), &answer, None);
    }
    scene.tell(format!("a text from a number nobody knows ({short}): one polite answer, and a contact item"));
}

/// The language to answer somebody in whose language nobody recorded.
#[must_use]
pub fn language_of(reading: &Reading) -> Language {
    if reading.lang == crate::reading::Lang::ES { Language::Es } else { Language::En }
}

/// Who is meant in the record: "staff ana".
#[must_use]
pub fn by_staff(member: &StaffMember) -> String {
    format!("staff {}", member.id)
}

/// Whether a reading is about the helmet or the body, and not about the conversation.
#[must_use]
pub fn is_report(reading: &Reading) -> bool {
    reading.kind == Kind::Flagged
}
