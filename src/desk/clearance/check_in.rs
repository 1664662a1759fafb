//! The answer to the daily question. It is read by the same reader as every reply; a complaint goes the way of every body
//! report besides, and nothing that is typed changes a hold or a step.

use crate::desk::scene::{Scene, To};
use crate::reading::{Kind, Reading};
use crate::store::rows::{InMessage, Purpose};
use crate::trade::clearance::{CheckIn, CheckInState};
use crate::trade::queue::Queue;
use crate::trade::roster::AthleteId;
use crate::wording::Message;

/// The question of today that an athlete's text answers: none when none was sent, or the athlete is no longer held.
#[must_use]
pub fn open(scene: &Scene<'_>, athlete: &AthleteId) -> Option<CheckIn> {
    let row = scene.check_ins.get(&(scene.today, athlete.clone()))?;
    scene.is_held_for_body(athlete).then(|| row.clone())
}

/// Notes what the answer says. Whether it was dealt with wholly here: complaints, control words and words about the helmet
/// go on to where every reply goes.
pub fn answer(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, text: &str, reading: &Reading) -> bool {
    let Some(row) = open(scene, athlete) else { return false };
    let state = match reading.kind {
        Kind::Control => return false,
        Kind::Flagged if reading.flags.body().is_empty() && !reading.red_flag => return false,
        Kind::Flagged => CheckInState::Symptoms,
        Kind::AllClear => CheckInState::Well,
        Kind::Unclear => CheckInState::Unclear,
    };
    // What was said to be wrong today is not taken back by a later "ok": both are on file.
    let worst = if row.state == CheckInState::Symptoms { CheckInState::Symptoms } else { state };
    let before = row.words.as_ref().map(|words| format!("{words}\n")).unwrap_or_default();
    let now = scene.now;
    let row = CheckIn { state: worst, answered_at: Some(now), words: Some(format!("{before}{text}")), ..row };
    scene.check_ins.put((row.date, athlete.clone()), row);
    let who = scene.who(athlete);
    scene.tell(format!("{who}: answers the check-in"));
    match state {
        CheckInState::Symptoms => false,
        CheckInState::Unclear => {
            let mut item = scene.item(Queue::Medical, athlete.as_str(), Some(athlete));
            if item.about.is_none() {
                item.about = Some("check-in not understood: ask".to_owned());
            }
            if !item.replies.contains(&text.to_owned()) {
                item.replies.push(text.to_owned());
            }
            item.photos.extend(message.photos.iter().cloned());
            scene.items.put(item.id.clone(), item);
            thank(scene, message, athlete, false);
            true
        }
        _ => {
            thank(scene, message, athlete, true);
            true
        }
    }
}

fn thank(scene: &mut Scene<'_>, message: &InMessage, athlete: &AthleteId, well: bool) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let (contact, _) = scene.trainer_contact(Some(&person.team));
    let text = Message::CheckInNoted { first: &person.first, contact: contact.as_deref(), well };
    let to = To { phone: &message.phone, language: person.language, athlete: Some(athlete) };
    scene.send(to, Purpose::Answer, format!("check-in-noted/{}/{athlete}", message.id), &text, None);
}
