//! A parent's text: what it reports counts for the athlete, an "all good" does not stand for the athlete's own check.

use super::{athlete, is_report, rights};
use crate::desk::scene::{Scene, To, phone_words};
use crate::reading::Reading;
use crate::store::rows::{InMessage, Purpose};
use crate::trade::flag::Control;
use crate::trade::queue::Queue;
use crate::wording::Message;

/// Acts on a text from a number that is known as a guardian's.
pub fn handle(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading) {
    let known = scene.guardians.get(&message.phone).cloned().unwrap_or_default();
    let Some((guardian, _)) = known.first().cloned() else { return };
    let mut athletes: Vec<_> = known.into_iter().flat_map(|(_, athletes)| athletes).collect();
    athletes.sort();
    athletes.dedup();
    message.reading = Some(reading.clone());
    message.athletes.clone_from(&athletes);
    let about_athlete = is_report(reading) || reading.control == Some(Control::Absent);
    if about_athlete && !athletes.is_empty() {
        athlete::handle(scene, message, reading, &athletes);
        return;
    }
    if reading.control == Some(Control::WrongNumber) {
        rights::wrong_number(scene, message, guardian.language, &[]);
        return;
    }
    if super::reply::question(scene, message) {
        return;
    }
    // The answer says that staff will see it.
    let mut item = scene.item(Queue::Contact, message.phone.as_str(), None);
    let names: Vec<String> = athletes.iter().map(|athlete| scene.who(athlete)).collect();
    item.about = Some(format!("{} {}, parent of {}, wrote", guardian.first, guardian.last, names.join(" and ")));
    item.replies.push(message.body.clone());
    scene.items.put(item.id.clone(), item);
    let (name, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let contact_phone = phone_words(&scene.program.contact_phone);
    let answer = Message::GuardianReply { program: &name, contact: &contact, contact_phone: &contact_phone };
    let to = To { phone: &message.phone, language: guardian.language, athlete: None };
    let key = format!("guardian/{}/{}", message.phone, scene.today);
    scene.send(to, Purpose::Answer, key, &answer, None);
    scene.tell(format!("a parent wrote ({}): told whom to call", message.phone.short()));
}
