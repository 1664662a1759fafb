//! What an unclear reply meant, by the word of staff: it is acted on as if the athlete had said it so, and kept, so that
//! the reader can be judged by it.

use super::{By, Meant, Outcome, item, reach, subject};
use crate::desk::inbound::report::{self, Source};
use crate::desk::scene::{Scene, To};
use crate::reading::{Kind, Reading, read};
use crate::store::rows::{Interpretation, Purpose};
use crate::trade::flag::Flags;
use crate::trade::morning::CheckState;
use crate::trade::queue::{Item, ItemState, Queue};
use crate::trade::roster::AthleteId;
use crate::wording::Message;

pub(super) fn interpret(scene: &mut Scene<'_>, by: &By<'_>, item: Item, meant: Meant) -> Outcome {
    let who = subject(scene, &item);
    if let Some(closed) = item::closed(scene, &item) {
        return closed;
    }
    let (Some(athlete), true) = (item.athlete.clone(), item.is_unread()) else { return Outcome::NotFound };
    if meant == Meant::Flags(Flags::NONE) {
        return Outcome::NotFound;
    }
    let text = item.unread_text();
    keep(scene, by, &item, text.as_deref(), meant);
    match meant {
        Meant::AllClear => all_clear(scene, by, item, &athlete),
        Meant::Flags(flags) => flagged(scene, by, item, &athlete, text.as_deref().unwrap_or_default(), flags),
    }
    scene.tell(format!("{} says what {who} meant", by.member.first));
    Outcome::done(who)
}

/// Keeps the reply with what it meant, as a labelled line for the reader.
fn keep(scene: &mut Scene<'_>, by: &By<'_>, item: &Item, text: Option<&str>, meant: Meant) {
    let (kind, flags) = match meant {
        Meant::AllClear => (Kind::AllClear, Flags::NONE),
        Meant::Flags(flags) => (Kind::Flagged, flags),
    };
    let names: Vec<&str> = flags.helmet().iter().map(crate::trade::flag::Flag::name).collect();
    let body = if flags.body().is_empty() { "" } else { "body report" };
    let why = [kind.name(), &names.join(" "), body].join(" ");
    scene.note(&by.words(), "reply interpreted", &item.id, why.trim(), Some(&by.origin()));
    let Some(text) = text else { return };
    scene.interpretations.push(Interpretation {
        program: item.program.clone(),
        id: format!("{}/{}", item.id, by.key),
        text: text.to_owned(),
        lang: read(text).lang,
        reading: kind,
        flags,
        said_by: by.member.id.clone(),
        at: scene.now,
    });
}

/// Nothing was off. What was flagged before, and every hold, stays as it is.
fn all_clear(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item, athlete: &AthleteId) {
    if !item.flags.is_empty() {
        item.about = None;
        scene.items.put(item.id.clone(), item);
        return;
    }
    item.state = ItemState::Closed;
    item.closed_by = Some(by.member.id.clone());
    item.closed_at = Some(scene.now);
    item.done = Some("staff say what was meant: all clear".to_owned());
    scene.items.put(item.id.clone(), item);
    let check = scene.latest_check(athlete).cloned();
    if check.as_ref().is_some_and(|check| check.state == CheckState::Unclear) {
        report::set_state(scene, check.as_ref(), CheckState::Clear, Flags::NONE);
    }
    // Whoever is held is not told that nothing is off.
    if scene.holds_on(athlete).next().is_some() {
        return;
    }
    let Some((phone, person)) = reach(scene, athlete) else { return };
    let text = Message::AllClear { first: &person.first };
    let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
    scene.send(to, Purpose::Answer, format!("answer/meant/{}/{athlete}", by.key), &text, None);
}

/// Something was off: the same way as a reply that said so.
fn flagged(scene: &mut Scene<'_>, by: &By<'_>, mut item: Item, athlete: &AthleteId, text: &str, flags: Flags) {
    let red_flag = !flags.body().is_empty() && read(text).red_flag;
    item.about = None;
    if flags.helmet().is_empty() && item.flags.is_empty() {
        item.state = ItemState::Closed;
        item.closed_by = Some(by.member.id.clone());
        item.closed_at = Some(scene.now);
        item.done = Some("passed on: see the athletic trainer".to_owned());
    }
    scene.items.put(item.id.clone(), item);
    let reading =
        Reading { lang: read(text).lang, kind: Kind::Flagged, flags, control: None, evidence: Vec::new(), red_flag };
    let reach = reach(scene, athlete);
    let (words, origin) = (by.words(), by.origin());
    let phone = reach.as_ref().map(|(phone, _)| phone);
    // Its own key: a text that says what was meant is answered under that text's.
    let key = format!("meant/{}", by.key);
    let source = Source { key: &key, origin: &origin, by: &words, phone, photos: &[] };
    let check = scene.latest_check(athlete).cloned();
    report::flagged(scene, &source, athlete, check.as_ref(), text, &reading);
    hide_body_words(scene, athlete, flags);
}

/// A reply with body words in it is not shown with what was on the list before.
fn hide_body_words(scene: &mut Scene<'_>, athlete: &AthleteId, flags: Flags) {
    if flags.body().is_empty() {
        return;
    }
    let open = scene
        .items
        .values()
        .find(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete))
        .map(|item| item.id.clone());
    if let Some(id) = open {
        scene.items.change(&id, |item| item.about = Some("ask the athletic trainer about the reply".to_owned()));
    }
}
