//! Holds by the word of staff, and the trainer's decision that ends one.

use super::{By, Outcome, item, reach, subject};
use crate::desk::inbound::report::by_when;
use crate::desk::scene::{Scene, To};
use crate::store::rows::Purpose;
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Role};
use crate::wording::Message;

/// Takes a helmet out of use until staff have checked it: a hold, and an item that ends it.
pub(super) fn equipment(scene: &mut Scene<'_>, by: &By<'_>, athlete: &AthleteId) -> Outcome {
    let who = match whom(scene, by, athlete, HoldKind::Equipment) {
        Ok(who) => who,
        Err(outcome) => return outcome,
    };
    let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
    if item.about.is_none() {
        item.about = Some(format!("{} took it out of use: check it", by.member.first));
    }
    scene.items.put(item.id.clone(), item);
    scene.hold(athlete, HoldKind::Equipment, &by.words(), Some(&by.origin()));
    if let Some((phone, person)) = reach(scene, athlete) {
        let (place, by_when) = (scene.place(person.language), by_when(scene, athlete, person.language));
        let text = Message::HeldEquipment { first: &person.first, place: &place, by: &by_when };
        let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
        scene.send(to, Purpose::Answer, format!("held/{}/{athlete}", by.key), &text, None);
    }
    scene.tell(format!("{}: {who}'s helmet is out of use until staff have checked it", by.member.first));
    Outcome::done(who)
}

/// Keeps an athlete out for the body. The trainer who says so has the item.
pub(super) fn body(scene: &mut Scene<'_>, by: &By<'_>, athlete: &AthleteId, kind: HoldKind) -> Outcome {
    let who = match whom(scene, by, athlete, kind) {
        Ok(who) => who,
        Err(outcome) => return outcome,
    };
    let mut item = scene.item(Queue::Medical, athlete.as_str(), Some(athlete));
    if item.state == ItemState::Open {
        item.state = ItemState::Taken;
        item.taken_by = Some(by.member.id.clone());
        item.taken_at = Some(scene.now);
    }
    if item.about.is_none() {
        item.about = Some(format!("held by {}", by.member.first));
    }
    scene.items.put(item.id.clone(), item);
    scene.hold(athlete, kind, &by.words(), Some(&by.origin()));
    if let Some((phone, person)) = reach(scene, athlete) {
        let (trainer, trainer_phone) = scene.trainer_contact(Some(&person.team));
        let text = Message::HeldBody {
            first: &person.first,
            trainer: trainer.as_deref(),
            trainer_phone: trainer_phone.as_deref(),
        };
        let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
        scene.send(to, Purpose::Medical, format!("held/{}/{athlete}", by.key), &text, None);
    }
    scene.tell(format!("{}: {who} is held", by.member.first));
    Outcome::done(who)
}

/// Who is to be held; or why not.
fn whom(scene: &Scene<'_>, by: &By<'_>, athlete: &AthleteId, kind: HoldKind) -> Result<String, Outcome> {
    let Some(person) = scene.athletes.get(athlete) else { return Err(Outcome::NotFound) };
    if !by.member.serves(&person.team) {
        return Err(Outcome::NotAllowed);
    }
    let who = person.short();
    // A medical hold is the graver one: a trainer's hold beside it would end nothing and promise something.
    let there = |hold: &crate::trade::queue::Hold| {
        hold.kind == kind || (kind == HoldKind::Trainer && hold.kind == HoldKind::Medical)
    };
    if scene.holds_on(athlete).any(there) {
        return Err(Outcome::AlreadyDone { who, by: None });
    }
    Ok(who)
}

/// The trainer decides on an illness, an injury or "not right": never on a possible concussion sign, and never for
/// anyone else.
pub(super) fn may_go(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = item::closed(scene, &item) {
        return closed;
    }
    let Some(athlete) = item.athlete.clone().filter(|_| item.queue == Queue::Medical) else { return Outcome::NotFound };
    let medical = scene.holds_on(&athlete).any(|hold| hold.kind == HoldKind::Medical);
    if medical || !by.member.has(Role::Trainer) {
        return Outcome::Medical { who };
    }
    item.state = ItemState::Closed;
    item.closed_by = Some(by.member.id.clone());
    item.closed_at = Some(scene.now);
    item.done = Some("the athletic trainer decided: may take part".to_owned());
    scene.note(&by.words(), "trainer decided", athlete.as_str(), "may take part", Some(&by.origin()));
    scene.items.put(item.id.clone(), item);
    scene.release(&athlete, HoldKind::Trainer, &by.words(), Some(&by.origin()));
    scene.tell(format!("{}: {who} may take part", by.member.first));
    Outcome::done(who)
}
