//! With eighteen an athlete decides whether guardians hear of holds and clearances: asked once by text, changed at any time.

use super::Household;
use crate::desk::inbound::who::fold;
use crate::desk::scene::{Scene, To};
use crate::store::rows::{InMessage, Purpose};
use crate::trade::notice::FamilyChoice;
use crate::trade::roster::{Athlete, AthleteId};
use crate::wording::Message;

/// Asks an athlete of age, once. Not by a number that is a guardian's too: then the answer could be anybody's, and staff ask
/// in person.
pub(super) fn ask(scene: &mut Scene<'_>, household: &Household) {
    let athlete = &household.athlete;
    let known = scene.families.choices.get(&athlete.id);
    if known.is_some_and(|choice| choice.asked_at.is_some() || choice.tells.is_some()) || !athlete.is_adult(scene.today)
    {
        return;
    }
    let Some(phone) = household.athletes_own(scene).cloned() else { return };
    let program = scene.program.name.clone();
    let text = Message::FamilyAsk { program: &program, first: &athlete.first };
    let to = To { phone: &phone, language: athlete.language, athlete: Some(&athlete.id) };
    // No notice to a family: the athlete's own first text goes before it, if anything does.
    scene.send(to, Purpose::Change, format!("family-ask/{}", athlete.id), &text, None);
    let now = scene.now;
    scene.families.choices.put(
        athlete.id.clone(),
        FamilyChoice {
            program: scene.program.id.clone(),
            athlete: athlete.id.clone(),
            asked_at: Some(now),
            tells: None,
            answered_at: None,
            words: None,
        },
    );
    scene.note("program", "asked whether guardians are told", athlete.id.as_str(), "", None);
    scene.tell(format!("{} is of age: asked whether guardians are told", athlete.short()));
}

/// What a text decides, when it is one of the two words and nothing else.
fn decided(text: &str) -> Option<bool> {
    let word: String = fold(text).chars().filter(|c| c.is_alphanumeric()).collect();
    match word.as_str() {
        "family" | "familia" => Some(true),
        "private" | "privado" | "privada" => Some(false),
        _ => None,
    }
}

/// Hears the decision of an athlete of age. Whether the text was one.
pub fn heard(scene: &mut Scene<'_>, message: &mut InMessage, athletes: &[AthleteId]) -> bool {
    let Some(tells) = decided(&message.body) else { return false };
    // A number that a guardian has too, or several athletes: whose word it is cannot be told.
    let [id] = athletes else { return false };
    let Some(athlete) = scene.athletes.get(id).filter(|athlete| athlete.is_adult(scene.today)).cloned() else {
        return false;
    };
    if scene.guardians.contains_key(&message.phone) {
        return false;
    }
    message.athletes = athletes.to_vec();
    let (by, words) = (format!("athlete {}", athlete.id), message.body.clone());
    set(scene, &athlete, tells, &by, &words, Some(&message.id));
    let text = Message::FamilyNoted { first: &athlete.first, tells };
    let to = To { phone: &message.phone, language: athlete.language, athlete: Some(&athlete.id) };
    scene.send(to, Purpose::Answer, format!("family-noted/{}", message.id), &text, None);
    true
}

/// Notes a decision, by whichever way it was said.
pub(in crate::desk) fn set(
    scene: &mut Scene<'_>,
    athlete: &Athlete,
    tells: bool,
    by: &str,
    words: &str,
    message: Option<&str>,
) {
    let asked_at = scene.families.choices.get(&athlete.id).and_then(|choice| choice.asked_at);
    let choice = FamilyChoice {
        program: scene.program.id.clone(),
        athlete: athlete.id.clone(),
        asked_at,
        tells: Some(tells),
        answered_at: Some(scene.now),
        words: Some(words.to_owned()),
    };
    scene.families.choices.put(athlete.id.clone(), choice);
    let what = if tells { "guardians are told" } else { "guardians are not told" };
    scene.note(by, what, athlete.id.as_str(), words, message);
    scene.tell(format!("{}, of age, decided: {what}", athlete.short()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_word_decides_and_a_sentence_does_not() {
        assert_eq!(decided("Family!"), Some(true));
        assert_eq!(decided(" privado."), Some(false));
        for text in ["my family is away", "ok", "not private", "", "no"] {
            assert_eq!(decided(text), None, "{text}");
        }
    }
}
