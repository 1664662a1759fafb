//! Items: take, done, needs, hand on.

use super::{By, HandTo, Outcome, first_name, may, reach, subject};
use crate::desk::inbound::who::fold;
use crate::desk::kits::record::{Part, part_used};
use crate::desk::kits::say::item_words;
use crate::desk::scene::{Scene, To};
use crate::store::rows::Purpose;
use crate::trade::flag::Flags;
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Language, Role, StaffMember};
use crate::wording::{Helmet, Message};

/// What cannot be done to an item that is closed.
pub(super) fn closed(scene: &Scene<'_>, item: &Item) -> Option<Outcome> {
    (item.state == ItemState::Closed).then(|| Outcome::AlreadyDone {
        who: subject(scene, item),
        by: item.closed_by.as_ref().and_then(|staff| first_name(scene, staff)),
    })
}

pub(super) fn take(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = closed(scene, &item) {
        return closed;
    }
    if item.state == ItemState::Taken
        && let Some(has) = &item.taken_by
    {
        return Outcome::AlreadyDone { who, by: first_name(scene, has) };
    }
    let others = item.alerts >= 3;
    item.state = ItemState::Taken;
    item.taken_by = Some(by.member.id.clone());
    item.taken_at = Some(scene.now);
    let medical = item.queue == Queue::Medical;
    let what = if medical { "body report acknowledged" } else { "item taken" };
    scene.note(&by.words(), what, &item.id, "", Some(&by.origin()));
    scene.items.put(item.id.clone(), item.clone());
    if medical {
        if others {
            tell_other_trainers(scene, by, &item, &who);
        }
        scene.tell(format!("{} has the body report on {who}", by.member.first));
    } else {
        scene.tell(format!("{} takes {who}", by.member.first));
    }
    Outcome::done(who)
}

/// Every trainer was called: those who were hear that somebody has it.
fn tell_other_trainers(scene: &mut Scene<'_>, by: &By<'_>, item: &Item, who: &str) {
    let others: Vec<StaffMember> =
        scene.staff.iter().filter(|member| member.has(Role::Trainer) && member.id != by.member.id).cloned().collect();
    for member in others {
        let Some(phone) = &member.phone else { continue };
        let text = Message::BodyAcknowledged { who, by_whom: &by.member.first };
        let to = To { phone, language: member.language, athlete: None };
        scene.send(to, Purpose::Medical, format!("acknowledged/{}/{}/{}", item.id, by.key, member.id), &text, None);
    }
}

pub(super) fn done(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item, what: Option<&str>) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = closed(scene, &item) {
        return closed;
    }
    // A fix is never about a body: that ends with a decision. One that belongs to nobody has none to wait for.
    if item.queue == Queue::Medical && item.athlete.is_some() {
        return Outcome::Medical { who };
    }
    if item.taken_at.is_none() {
        item.taken_by = Some(by.member.id.clone());
    }
    item.state = ItemState::Closed;
    item.closed_by = Some(by.member.id.clone());
    item.closed_at = Some(scene.now);
    item.done = what.map(ToOwned::to_owned);
    scene.note(&by.words(), "item done", &item.id, what.unwrap_or_default(), Some(&by.origin()));
    let athlete = item.athlete.clone().filter(|_| item.queue == Queue::Equipment);
    scene.items.put(item.id.clone(), item);
    if let Some(athlete) = athlete {
        scene.release(&athlete, HoldKind::Equipment, &by.words(), Some(&by.origin()));
        tell_fixed(scene, by, &athlete, what);
        let key = format!("{}/part/{athlete}", by.key);
        let part = match what.map(|what| part_used(scene, by.member, &athlete, what, &key)) {
            Some(Part::Taken(item)) => format!(" (1 {} from the room)", item_words(&item, Language::En)),
            Some(Part::OneOf(items)) => {
                ask_which_part(scene, by, &items);
                String::new()
            }
            Some(Part::None) | None => String::new(),
        };
        let words = what.map(|what| format!(": {what}{part}")).unwrap_or_default();
        scene.tell(format!("{} fixed {who}{words}; the athlete hears", by.member.first));
    } else {
        scene.tell(format!("{} is done with {who}", by.member.first));
    }
    Outcome::done(who)
}

/// Several parts could have been used: who fixed it is asked which, and nothing is taken meanwhile.
fn ask_which_part(scene: &mut Scene<'_>, by: &By<'_>, items: &[String]) {
    let Some(phone) = &by.member.phone else { return };
    let language = by.member.language;
    let names: Vec<String> = items.iter().map(|item| item_words(item, language)).collect();
    let what = match language {
        Language::En => format!("which was used? {}.", names.join(", ")),
        Language::Es => format!("¿cuál se usó? {}.", names.join(", ")),
    };
    let example = format!("kit room used 1 {}", names.first().map(String::as_str).unwrap_or_default());
    let to = To { phone, language, athlete: None };
    let text = Message::KitAsk { what: &what, example: &example };
    scene.send(to, Purpose::Staff, format!("which-part/{}", by.key), &text, None);
}

fn tell_fixed(scene: &mut Scene<'_>, by: &By<'_>, athlete: &AthleteId, what: Option<&str>) {
    let Some((phone, person)) = reach(scene, athlete) else { return };
    let still_held = scene.is_held_for_body(athlete);
    let text = Message::Fixed { first: &person.first, done: what, still_held };
    let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
    scene.send(to, Purpose::Answer, format!("fixed/{}/{athlete}", by.key), &text, None);
}

pub(super) fn needs(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item, what: &str) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = closed(scene, &item) {
        return closed;
    }
    if item.queue == Queue::Medical {
        return Outcome::NotFound;
    }
    item.state = ItemState::Taken;
    item.taken_by = Some(by.member.id.clone());
    item.taken_at.get_or_insert(scene.now);
    item.about = Some(format!("needs {what}"));
    scene.note(&by.words(), "item needs", &item.id, what, Some(&by.origin()));
    let athlete = item.athlete.clone().filter(|_| item.queue == Queue::Equipment);
    scene.items.put(item.id.clone(), item);
    if let Some(athlete) = athlete.filter(|_| fold(what).contains("helmet") || fold(what).contains("casco")) {
        scene.hold(&athlete, HoldKind::Equipment, &by.words(), Some(&by.origin()));
        if let Some((phone, person)) = reach(scene, &athlete) {
            let place = scene.place(person.language);
            let text = Message::OutOfUse { first: &person.first, place: &place };
            let to = To { phone: &phone, language: person.language, athlete: Some(&athlete) };
            scene.send(to, Purpose::Answer, format!("out-of-use/{}/{athlete}", by.key), &text, None);
        }
    }
    scene.tell(format!("{}: {who} needs {what}", by.member.first));
    Outcome::done(who)
}

pub(super) fn hand_on(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item, to: &HandTo) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = closed(scene, &item) {
        return closed;
    }
    let to = match to {
        HandTo::Staff(staff) => {
            let Some(member) = scene.staff.iter().find(|member| member.id == *staff).cloned() else {
                return Outcome::NotFound;
            };
            // Nobody is handed what they may not take.
            if !may(&member, &super::Action::Take { item: item.id.clone() }, Some(&item)) {
                return Outcome::NotAllowed;
            }
            Some(member)
        }
        HandTo::Open => None,
    };
    if item.taken_by == to.as_ref().map(|member| member.id.clone()) {
        return Outcome::AlreadyDone { who, by: to.map(|member| member.first) };
    }
    item.taken_by = to.as_ref().map(|member| member.id.clone());
    item.taken_at = to.as_ref().map(|_| scene.now);
    item.state = if to.is_some() { ItemState::Taken } else { ItemState::Open };
    if to.is_none() && item.queue == Queue::Medical {
        // Nobody has it any more: the ladder starts anew.
        item.opened_at = scene.now;
        item.alerts = 0;
    }
    let name = to.as_ref().map_or("open", |member| member.id.as_str());
    scene.note(&by.words(), "item handed on", &item.id, name, Some(&by.origin()));
    scene.items.put(item.id.clone(), item.clone());
    match to {
        Some(member) => {
            if member.id != by.member.id {
                tell_handed(scene, by, &item, &member, &who);
            }
            scene.tell(format!("{}: {who} goes to {}", by.member.first, member.first));
        }
        None => scene.tell(format!("{}: {who} is open again", by.member.first)),
    }
    Outcome::done(who)
}

fn tell_handed(scene: &mut Scene<'_>, by: &By<'_>, item: &Item, member: &StaffMember, who: &str) {
    let Some(phone) = &member.phone else { return };
    let medical = item.queue == Queue::Medical;
    let helmet =
        item.athlete.as_ref().and_then(|athlete| scene.helmets.get(athlete)).map(|helmet| helmet.tag.0.clone());
    let helmet = helmet.filter(|_| !medical);
    let text = Message::HandedOn {
        who,
        helmet: helmet.as_deref(),
        flags: Helmet(if medical { Flags::NONE } else { item.flags }),
        from: &by.member.first,
    };
    let to = To { phone, language: member.language, athlete: None };
    scene.send(to, Purpose::Staff, format!("handed/{}/{}/{}", item.id, by.key, member.id), &text, None);
}
