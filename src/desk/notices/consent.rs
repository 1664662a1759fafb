//! Consent by text: the one question, and the answer with its words kept.
//!
//! Nobody is asked by this program's own doing: staff say that the family asked for texts, and a person is asked once for a
//! number. A minor's number takes a guardian's consent, so there the guardian is asked (an athlete's own counts from
//! eighteen on). Agreeing takes the word that was shown, or a plain yes; "ok" to something else is none.

use std::collections::BTreeSet;

use crate::desk::inbound::who::fold;
use crate::desk::inbound::{by_staff, language_of};
use crate::desk::scene::{Scene, To, phone_words};
use crate::desk::{Desk, DeskError, load};
use crate::reading::Reading;
use crate::store::Tx;
use crate::store::rows::{Happening, InMessage, Purpose};
use crate::trade::flag::Control;
use crate::trade::notice::ConsentAsk;
use crate::trade::phone::Phone;
use crate::trade::roster::{
    Athlete, AthleteId, BY_TEXT, Consent, ConsentBy, Guardian, GuardianId, Language, ProgramId, Role, StaffMember,
};
use crate::trade::time::Moment;
use crate::wording::Message;

/// What came of asking to ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asking {
    /// The question is queued.
    Asked,
    /// It was asked before, or the consent is there.
    Already,
    /// This role may not.
    NotAllowed,
    /// No such person, or no number to ask.
    Nobody,
    /// The number opted out, is somebody else's, or waits with another question.
    CannotBeAsked,
}

/// Whether a role may have families asked, and sees who has not agreed.
#[must_use]
pub fn may(member: &StaffMember) -> bool {
    member.has(Role::Administrator) || member.has(Role::Trainer)
}

/// Whom a question is for.
struct Question {
    person: String,
    /// First name of the child, when the question is about a child's number.
    child: Option<String>,
    phone: Phone,
    asked: Phone,
    given_by: String,
    standing: ConsentBy,
    language: Language,
}

impl Question {
    fn guardians_own(guardian: Guardian) -> Option<Self> {
        let phone = guardian.phone?;
        Some(Self {
            person: guardian.id.0,
            child: None,
            asked: phone.clone(),
            phone,
            given_by: format!("{} {}", guardian.first, guardian.last),
            standing: ConsentBy::Own,
            language: guardian.language,
        })
    }

    fn athletes_own(athlete: Athlete) -> Option<Self> {
        let phone = athlete.phone?;
        Some(Self {
            person: athlete.id.0,
            child: None,
            asked: phone.clone(),
            phone,
            given_by: format!("{} {}", athlete.first, athlete.last),
            standing: ConsentBy::Own,
            language: athlete.language,
        })
    }

    fn guardians_for(athlete: Athlete, guardian: Guardian) -> Option<Self> {
        Some(Self {
            person: athlete.id.0,
            child: Some(athlete.first),
            asked: guardian.phone?,
            phone: athlete.phone?,
            given_by: format!("{} {}", guardian.first, guardian.last),
            standing: ConsentBy::Guardian,
            language: guardian.language,
        })
    }
}

impl Desk {
    /// Asks for consent, once; a form sent twice asks once.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn ask_consent(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        person: &str,
        key: &str,
        now: Moment,
    ) -> Result<Asking, DeskError> {
        if !may(member) {
            return Ok(Asking::NotAllowed);
        }
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let id = format!("act/{key}");
        if !tx.happened(program, &[&id]).await?.is_empty() {
            return Ok(Asking::Asked);
        }
        let Some(question) = question(&mut tx, &scene, person).await? else { return Ok(Asking::Nobody) };
        let phones = BTreeSet::from([question.asked.clone(), question.phone.clone()]);
        load::senders(&mut tx, &mut scene, &phones).await?;
        let asks = tx.consent_asks_at(program, [&question.asked]).await?;
        let consents = tx.consents_at(program, [&question.phone]).await?;
        if consents.iter().any(|consent| consent.person == question.person)
            || asks.iter().any(|ask| ask.person == question.person && ask.phone == question.phone)
        {
            return Ok(Asking::Already);
        }
        let waits = asks.iter().any(|ask| ask.answered_at.is_none());
        if waits || phones.iter().any(|phone| scene.number(phone).is_stopped()) {
            return Ok(Asking::CannotBeAsked);
        }
        put(&mut scene, member, question, key);
        scene.happenings.push(Happening { program: program.clone(), id, at: now, outcome: "asked".to_owned() });
        self.finish(tx, scene).await?;
        Ok(Asking::Asked)
    }
}

/// Who is to be asked about a person: themselves when of age, a guardian for a minor.
async fn question(tx: &mut Tx, scene: &Scene<'_>, person: &str) -> Result<Option<Question>, DeskError> {
    let program = &scene.program.id;
    if let Some(guardian) = tx.guardians_named(program, [&GuardianId::from(person)]).await?.pop() {
        return Ok(Question::guardians_own(guardian));
    }
    let id = AthleteId::from(person);
    let Some(athlete) = tx.athletes_named(program, [&id]).await?.pop().filter(|athlete| athlete.active) else {
        return Ok(None);
    };
    if athlete.is_adult(scene.today) {
        return Ok(Question::athletes_own(athlete));
    }
    let ties = tx.guardianships_of(program, [&id]).await?;
    let guardians = tx.guardians_named(program, ties.iter().map(|tie| &tie.guardian)).await?;
    let numbers = tx.numbers_of(program, guardians.iter().filter_map(|guardian| guardian.phone.as_ref())).await?;
    let can = |phone: &Phone| numbers.iter().all(|number| number.phone != *phone || !number.is_stopped());
    let guardian = guardians.into_iter().find(|guardian| guardian.phone.as_ref().is_some_and(can));
    Ok(guardian.and_then(|guardian| Question::guardians_for(athlete, guardian)))
}

fn put(scene: &mut Scene<'_>, member: &StaffMember, question: Question, key: &str) {
    let (program, contact) = (scene.program.name.clone(), scene.program.contact.clone());
    let contact_phone = phone_words(&scene.program.contact_phone);
    let child = question.child.as_deref();
    let text = Message::ConsentAsk { program: &program, child, contact: &contact, contact_phone: &contact_phone };
    let shown = scene.say(question.language, &text);
    let to = To { phone: &question.asked, language: question.language, athlete: None };
    let id = format!("consent-ask/{}/{}", question.person, question.phone);
    // The question says itself who writes: nothing goes before it.
    scene.send_text(to, Purpose::Answer, id, shown.clone(), None);
    let why = "staff say that the family asked for it";
    scene.note(&by_staff(member), "consent asked", &question.person, why, Some(&format!("board:{key}")));
    scene.tell(format!("{}: {} is asked, once, whether texts may be sent", member.first, question.given_by));
    let ask = ConsentAsk {
        program: scene.program.id.clone(),
        person: question.person,
        phone: question.phone,
        asked: question.asked,
        given_by: question.given_by,
        standing: question.standing,
        shown,
        asked_by: member.id.clone(),
        asked_at: scene.now,
        answered_at: None,
        agreed: None,
        words: None,
    };
    scene.families.asks.put((ask.person.clone(), ask.phone.clone()), ask);
}

/// What an answer says, when it says nothing else.
fn agrees(text: &str) -> Option<bool> {
    const YES: &[&str] =
        &["agree", "i agree", "agreed", "yes i agree", "yes", "acepto", "si acepto", "si", "de acuerdo"];
    const NO: &[&str] = &["no", "no thank you", "i do not agree", "no acepto", "disagree"];
    let folded = fold(text);
    if folded.contains(['?', '¿']) {
        return None;
    }
    let words: Vec<&str> = folded.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let said = words.join(" ");
    let said = said.strip_suffix(" thanks").or_else(|| said.strip_suffix(" gracias")).unwrap_or(&said);
    if YES.contains(&said) {
        return Some(true);
    }
    NO.contains(&said).then_some(false)
}

/// Hears the answer to a question for consent. Whether the text was one, and nothing else.
pub fn answered(scene: &mut Scene<'_>, message: &mut InMessage, reading: &Reading) -> bool {
    let waiting = |ask: &&ConsentAsk| ask.asked == message.phone && ask.answered_at.is_none();
    let Some(ask) = scene.families.asks.values().find(waiting).cloned() else { return false };
    let stops = reading.control == Some(Control::Stop) || message.carrier_answered.as_deref() == Some("STOP");
    let Some(agreed) = (if stops { Some(false) } else { agrees(&message.body) }) else { return false };
    note(scene, ask, agreed, message);
    if stops {
        // What STOP asks for is done as ever.
        return false;
    }
    message.reading = Some(reading.clone());
    let now = scene.now;
    // It says who writes, how often and how to stop.
    scene.change_number(&message.phone, |number| _ = number.welcomed_at.get_or_insert(now));
    let program = scene.program.name.clone();
    let language = language(scene, &message.phone).unwrap_or_else(|| language_of(reading));
    let to = To { phone: &message.phone, language, athlete: None };
    let text = Message::ConsentNoted { program: &program, agreed };
    scene.send(to, Purpose::Rights, format!("consent-noted/{}", message.id), &text, None);
    true
}

fn language(scene: &Scene<'_>, phone: &Phone) -> Option<Language> {
    let guardian = scene.guardians.get(phone).and_then(|all| all.first()).map(|(guardian, _)| guardian.language);
    guardian.or_else(|| {
        let athlete = scene.at_phone.get(phone).and_then(|all| all.first())?;
        scene.athletes.get(athlete).map(|athlete| athlete.language)
    })
}

fn note(scene: &mut Scene<'_>, mut ask: ConsentAsk, agreed: bool, message: &InMessage) {
    ask.answered_at = Some(scene.now);
    ask.agreed = Some(agreed);
    ask.words = Some(message.body.clone());
    if agreed {
        scene.families.consents.push(Consent {
            program: scene.program.id.clone(),
            phone: ask.phone.clone(),
            person: ask.person.clone(),
            given_by: ask.given_by.clone(),
            standing: ask.standing,
            given_on: scene.today,
            how: BY_TEXT.to_owned(),
            shown: Some(ask.shown.clone()),
            words: Some(message.body.clone()),
            at: Some(scene.now),
        });
    }
    let what = if agreed { "consent given by text" } else { "consent refused by text" };
    scene.note("number", what, &ask.person, &message.body, Some(&message.id));
    scene.tell(format!("{}: {what}", ask.given_by));
    scene.families.asks.put((ask.person.clone(), ask.phone.clone()), ask);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agreeing_takes_the_word_and_nothing_else_beside_it() {
        for text in ["AGREE", "I agree.", "Acepto", "sí", "yes", "Agree, thanks"] {
            assert_eq!(agrees(text), Some(true), "{text}");
        }
        for text in ["no", "No gracias", "no acepto", "NO.", "no thanks"] {
            assert_eq!(agrees(text), Some(false), "{text}");
        }
        for text in ["ok", "agree to what?", "yes?", "yes if it is free", "", "k", "who is this", "no idea"] {
            assert_eq!(agrees(text), None, "{text}");
        }
    }
}
