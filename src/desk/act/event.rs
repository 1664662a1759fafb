//! A practice or game called off.

use super::{By, Outcome};
use crate::desk::scene::{Cancel, Scene, To};
use crate::store::rows::Purpose;
use crate::trade::morning::CheckState;
use crate::trade::roster::{Event, EventId, Language};
use crate::wording::{Message, words};

pub(super) fn call_off(scene: &mut Scene<'_>, by: &By<'_>, event: &EventId) -> Outcome {
    let Some(event) = scene.events.get(event).cloned() else { return Outcome::NotFound };
    if !by.member.serves(&event.team) {
        return Outcome::NotAllowed;
    }
    let who = short(scene, &event, by.member.language);
    if event.starts_at <= scene.now {
        return Outcome::NotFound;
    }
    if event.cancelled {
        return Outcome::AlreadyDone { who, by: None };
    }
    // Later imports leave what staff said.
    scene.events.change(&event.id, |event| {
        event.cancelled = true;
        event.source = "text".to_owned();
    });
    scene.note(&by.words(), "event called off", event.id.as_str(), "", Some(&by.origin()));
    let told = called_off(scene, &event, by.key);
    scene.tell(format!("{} called off {who}; {told} told", by.member.first));
    Outcome::Done { who, told }
}

/// An event in a few words: "Varsity practice 3:30 pm".
#[must_use]
pub fn short(scene: &Scene<'_>, event: &Event, language: Language) -> String {
    let team = scene.program.teams.get(&event.team).map_or(event.team.as_str(), |team| &team.name);
    let time = event.starts_at.local(scene.program.zone).time();
    format!("{team} {}", words::event_short(event.kind, time, language))
}

/// What an event called off brings about: what is unsent is dropped, who was already texted hears. Returns how many
/// hear. Where the team has another event with helmets that day, its check stands.
pub fn called_off(scene: &mut Scene<'_>, event: &Event, key: &str) -> usize {
    let others = scene.events.values().any(|other| {
        other.id != event.id
            && other.team == event.team
            && other.date == event.date
            && other.helmets
            && !other.cancelled
    });
    let checks: Vec<_> =
        scene.checks.values().filter(|check| check.team == event.team && check.date == event.date).cloned().collect();
    let local = event.starts_at.local(scene.program.zone);
    let team = scene.program.teams.get(&event.team).map_or_else(|| event.team.0.clone(), |team| team.name.clone());
    let mut told = 0;
    for check in checks {
        let was_texted = !matches!(
            check.state,
            CheckState::Planned | CheckState::ByHand | CheckState::Missed | CheckState::Held | CheckState::CalledOff
        );
        if !others {
            scene.cancel(Cancel::Checks(check.date, check.athlete.clone()));
            if check.state.needs_door_check() {
                scene.checks.change(&(check.athlete.clone(), check.date), |check| check.state = CheckState::CalledOff);
            }
        }
        let (Some(phone), Some(person)) = (check.phone.clone(), scene.athletes.get(&check.athlete).cloned()) else {
            continue;
        };
        if !was_texted {
            continue;
        }
        let language = person.language;
        let words = words::event_words(event.kind, local.date(), local.time(), scene.today, language);
        let text = Message::EventCancelled { event: &words, team: &team };
        let body = scene.say(language, &text);
        let to = To { phone: &phone, language, athlete: Some(&person.id) };
        // One number hears once, whoever shares it.
        let id = format!("called-off/{}/{phone}/{key}", event.id);
        if scene.out.iter().all(|message| message.id != id) {
            scene.send_text(to, Purpose::Change, id, body, Some(event.starts_at));
            told += 1;
        }
    }
    told
}
