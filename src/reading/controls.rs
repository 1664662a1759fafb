//! STOP, START, HELP, wrong number, absent, later: when a reply is about the conversation.
//!
//! A control word inside a sentence about the helmet is none; a word that is also an everyday one counts only when it is
//! the whole message (47 CFR 64.1200(a)(10) lists stop, quit, end, revoke, opt out, cancel, unsubscribe).

use super::lexicon::Concept;
use super::tokens::Item;
use super::{Evidence, Findings, is};
use crate::trade::flag::Control;

const COURTESY: &[&str] = &[
    "please",
    "pls",
    "plz",
    "por favor",
    "porfa",
    "porfavor",
    "thanks",
    "thank you",
    "gracias",
    "now",
    "ya",
    "me",
    "it",
    "sir",
    "coach",
    "all",
];

/// The control that a reply is, if it is one.
pub fn control(items: &[Item], found: &Findings) -> Option<(Control, Evidence)> {
    let said: Vec<&Item> = items.iter().filter(|item| !is(item, Concept::Break)).collect();
    if said.is_empty() {
        return None;
    }
    let wanted = [
        (Concept::Stop, Control::Stop),
        (Concept::Start, Control::Start),
        (Concept::WrongNumber, Control::WrongNumber),
        (Concept::Help, Control::Help),
    ];
    for (concept, control) in wanted {
        let Some(item) = said.iter().find(|item| is(item, concept)) else { continue };
        if counts(&said, item, concept) && !(found.all_good && concept != Concept::Stop) {
            return Some((control, evidence(item, control)));
        }
    }
    let doubtful = said.iter().any(|item| is(item, Concept::Question)) && said.len() > 8;
    for (concept, control) in [(Concept::Absent, Control::Absent), (Concept::Later, Control::Later)] {
        let item = said.iter().find(|item| is(item, concept) && (item.folded.contains(' ') || said.len() <= 4));
        if let Some(item) = item.filter(|_| !found.all_good && !doubtful) {
            return Some((control, evidence(item, control)));
        }
    }
    None
}

/// A word of opting out that is the whole message, whatever else it may mean.
pub fn whole_stop(items: &[Item]) -> Option<(Control, Evidence)> {
    let mut said = items.iter().filter(|item| !is(item, Concept::Break));
    match (said.next(), said.next()) {
        (Some(only), None) if is(only, Concept::Stop) => Some((Control::Stop, evidence(only, Control::Stop))),
        _ => None,
    }
}

fn evidence(item: &Item, control: Control) -> Evidence {
    Evidence { span: (item.start, item.end), says: control.name().to_owned() }
}

/// A phrase of several words counts anywhere among few words; a single word only when nothing else is said.
fn counts(said: &[&Item], item: &Item, concept: Concept) -> bool {
    let rest = said.iter().filter(|other| other.start != item.start && !COURTESY.contains(&other.folded.as_str()));
    let others = rest
        .filter(|other| {
            !(is(other, concept) || is(other, Concept::Benign) && other.folded.chars().all(|c| !c.is_alphanumeric()))
        })
        .count();
    let unmistakable =
        ["unsubscribe", "unsub", "stopall", "optout", "unstop"].iter().any(|word| item.folded.contains(word));
    if unmistakable {
        return true;
    }
    let about_helmet = said.iter().any(|other| {
        other.concepts.subject().is_some()
            && !is(other, concept)
            && !is(other, Concept::Other)
            && other.folded != "it"
            && other.folded != "mine"
    });
    if item.folded.contains(' ') {
        return !about_helmet || others <= 2;
    }
    others == 0
}
