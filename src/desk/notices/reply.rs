//! What a number answers to a notice: that it was received, or a question, which a person answers.

use super::{MAY_BE_ABOUT, family_of};
use crate::desk::inbound::who::fold;
use crate::desk::scene::{Scene, To, phone_words};
use crate::reading::{Kind, Reading};
use crate::store::rows::{InMessage, Purpose};
use crate::trade::notice::{Notice, NoticeState};
use crate::trade::phone::Phone;
use crate::trade::queue::Queue;
use crate::trade::roster::{AthleteId, Language};
use crate::wording::Message;

/// Of these words one has to stand in an acknowledgement.
const SAYS_SO: &str = "received recieved recibido recibida recibi ok okay okey k kk thanks thank thx ty gracias got \
                       entendido entendida enterado enterada acknowledged noted vale";
/// These may stand beside them, and nothing else.
const BESIDE: &str = "you so much muchas mil it message mensaje coach and y the";
/// How phones write that a message was liked, before its text.
const LIKED: &[&str] =
    &["liked \u{201c}", "liked \"", "loved \u{201c}", "loved \"", "le gusto \u{201c}", "le gusto \""];

/// Whether a text says that a notice was received, and nothing else.
fn is_receipt(text: &str) -> bool {
    let folded = fold(text.trim());
    if LIKED.iter().any(|head| folded.starts_with(head)) {
        return true;
    }
    let approves = |c: char| matches!(c, '👍' | '👌' | '✅' | '🙏' | '✔');
    let paints = |c: char| matches!(c, '\u{1f3fb}'..='\u{1f3ff}' | '\u{fe0f}' | '\u{200d}');
    let thumb = folded.chars().any(approves);
    let rest: String = folded.chars().filter(|c| !approves(*c) && !paints(*c)).collect();
    let words: Vec<&str> = rest
        .split(|c: char| c.is_whitespace() || matches!(c, '.' | ',' | '!' | '¡' | ';' | ':'))
        .filter(|word| !word.is_empty())
        .collect();
    let is_in = |list: &str, word: &str| list.split(' ').any(|known| known == word);
    let known = words.iter().all(|word| is_in(SAYS_SO, word) || is_in(BESIDE, word));
    // "Got" says nothing by itself.
    let says_so = words.iter().any(|word| is_in(SAYS_SO, word) && (*word != "got" || words.contains(&"it")));
    known && (thumb || says_so)
}

/// Notices to a number that wait for an answer.
fn waiting(scene: &Scene<'_>, phone: &Phone) -> Vec<Notice> {
    let since = scene.now.minus(MAY_BE_ABOUT);
    let open = |notice: &&Notice| {
        notice.phone.as_ref() == Some(phone)
            && notice.news.wants_answer()
            && notice.state.waits()
            && notice.made_at >= since
    };
    scene.families.notices.values().filter(open).cloned().collect()
}

/// Takes an acknowledgement. On a phone that an athlete has too it is never also an answer to a check: that is asked for
/// again, so that a parent's "ok" makes no helmet all right.
pub fn acknowledged(scene: &mut Scene<'_>, message: &mut InMessage, athletes: &[AthleteId]) -> bool {
    let waiting = waiting(scene, &message.phone);
    if waiting.is_empty() || !is_receipt(&message.body) {
        return false;
    }
    message.athletes = waiting.iter().map(|notice| notice.athlete.clone()).collect();
    message.athletes.sort();
    message.athletes.dedup();
    for notice in waiting {
        acknowledge(scene, notice, &message.body, Some(&message.id));
    }
    let today = scene.today;
    let check_waits =
        |id: &AthleteId| scene.checks.get(&(id.clone(), today)).is_some_and(|check| check.state.is_silent());
    if athletes.iter().any(check_waits) {
        let first = athletes.iter().find_map(|id| scene.athletes.get(id));
        let language = first.map_or(Language::En, |athlete| athlete.language);
        let to = To { phone: &message.phone, language, athlete: None };
        scene.send(to, Purpose::Answer, format!("notice-noted/{}", message.id), &Message::NoticeNoted {}, None);
    }
    true
}

/// Notes that a guardian knows: nothing more is asked of them.
pub(in crate::desk) fn acknowledge(scene: &mut Scene<'_>, mut notice: Notice, words: &str, message: Option<&str>) {
    let again = notice.message_again();
    scene.families.dropped.push(again);
    let by = format!("guardian {}", notice.guardian);
    scene.note(&by, "notice acknowledged", &notice.id, words, message);
    let who = scene.who(&notice.athlete);
    let name = scene
        .guardians
        .values()
        .flatten()
        .find(|(guardian, _)| guardian.id == notice.guardian)
        .map_or_else(|| notice.guardian.0.clone(), |(guardian, _)| format!("{} {}", guardian.first, guardian.last));
    scene.tell(format!("{name}: notice about {who} acknowledged"));
    notice.state = NoticeState::Acknowledged;
    notice.acknowledged_at = Some(scene.now);
    notice.words = Some(words.to_owned());
    notice.next_at = None;
    scene.families.notices.put(notice.id.clone(), notice);
}

/// Whether a text from a number that an athlete has too is a guardian's question about a notice rather than a reply.
#[must_use]
pub fn asks(scene: &Scene<'_>, message: &InMessage, reading: &Reading) -> bool {
    reading.kind == Kind::Unclear && message.body.contains(['?', '¿']) && latest(scene, &message.phone).is_some()
}

/// The newest notice that was texted to a number lately.
fn latest(scene: &Scene<'_>, phone: &Phone) -> Option<Notice> {
    let to = |notice: &&Notice| notice.phone.as_ref() == Some(phone);
    scene.families.notices.values().filter(to).max_by_key(|notice| notice.made_at).cloned()
}

/// Answers a guardian who asks about a notice: whom to call; and the trainer hears that somebody asks. Whether there was a
/// notice to ask about. Nothing of why is ever said by text.
pub fn question(scene: &mut Scene<'_>, message: &mut InMessage) -> bool {
    let Some(notice) = latest(scene, &message.phone) else { return false };
    let Some(athlete) = scene.athletes.get(&notice.athlete).cloned() else { return false };
    let known = scene.guardians.get(&message.phone);
    let Some(guardian) = known.and_then(|all| all.iter().find(|(one, _)| one.id == notice.guardian)) else {
        return false;
    };
    let guardian = guardian.0.clone();
    message.athletes = vec![athlete.id.clone()];
    let whom = family_of((&guardian.first, &guardian.last), &[&athlete]);
    let mut item = scene.item(Queue::Contact, message.phone.as_str(), None);
    item.team = Some(athlete.team.clone());
    item.about = Some(format!("{whom}: asks about a notice; call {}", phone_words(&message.phone)));
    item.replies.push(message.body.clone());
    scene.items.put(item.id.clone(), item);
    let (contact, contact_phone) = match scene.trainer_contact(Some(&athlete.team)) {
        (Some(name), Some(phone)) => (name, phone),
        _ => (scene.program.contact.clone(), phone_words(&scene.program.contact_phone)),
    };
    let program = scene.program.name.clone();
    let answer = Message::NoticeQuestion { program: &program, contact: &contact, contact_phone: &contact_phone };
    let to = To { phone: &message.phone, language: guardian.language, athlete: None };
    let key = format!("notice-question/{}/{}", message.phone, scene.today);
    scene.send(to, Purpose::Answer, key, &answer, None);
    let parent = format!("{} {}", guardian.first, guardian.last);
    tell_trainer(scene, &parent, &athlete.id, &message.phone);
    scene.tell(format!("{whom}: a question about a notice; told whom to call, and the trainer hears of it"));
    true
}

/// Once a number and day.
fn tell_trainer(scene: &mut Scene<'_>, parent: &str, athlete: &AthleteId, phone: &Phone) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let Some(member) = scene.trainer(Some(&person.team)) else { return };
    let Some(own) = member.phone.clone() else { return };
    let (who, number) = (person.short(), phone_words(phone));
    let text = Message::GuardianAsks { parent, who: &who, phone: Some(&number) };
    let to = To { phone: &own, language: member.language, athlete: None };
    let key = format!("guardian-asks/{phone}/{}", scene.today);
    scene.send(to, Purpose::List, key, &text, None);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn receipts_in_both_languages_and_nothing_that_says_more() {
        let liked = "Liked \u{201c}Larkspur Valley Kestrels: Jonah is held\u{201d}";
        for text in [
            "RECEIVED",
            "received.",
            "Recibido",
            "recibí",
            "ok",
            "OK thanks!",
            "Got it, thank you",
            "👍",
            "👍🏽",
            "gracias",
            "Muchas gracias",
            "vale",
            liked,
            "ok 👍",
            "k",
        ] {
            assert!(is_receipt(text), "{text}");
        }
        for text in [
            "",
            "ok?",
            "got hurt",
            "got",
            "is he ok",
            "why",
            "not received",
            "no",
            "received but why",
            "my head hurts",
            "you",
            "thanks but he is sick",
            "who is this",
            "😀",
            "it",
        ] {
            assert!(!is_receipt(text), "{text}");
        }
    }
}
