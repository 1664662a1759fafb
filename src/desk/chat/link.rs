//! Whose an account of the platform is: a one-time code, texted to the number that the program has for a person, is
//! typed into the chat.
//!
//! Codes are kept as keyed hashes, work once and for ten minutes; a newer one ends the one before. Few wrong ones are
//! allowed an account, and few codes a person.

use chrono::TimeDelta;
use hmac::{Hmac, KeyInit as _, Mac as _};
use secrecy::ExposeSecret as _;

use super::ChatDesk;
use crate::config::Program;
use crate::desk::inbound::who::fold;
use crate::desk::scene::{Scene, To};
use crate::desk::{DeskError, load};
use crate::store::Tx;
use crate::store::chat::{ChatCode, ChatLink, ChatTry, PersonKind};
use crate::store::rows::{InMessage, Purpose};
use crate::trade::phone::Phone;
use crate::trade::roster::{AthleteId, Language, ProgramId, StaffId, StaffMember};
use crate::trade::time::Moment;
use crate::wording::Message;
use crate::wording::chat::{self as words, Say, say};

/// How long a code is good.
pub const GOOD_FOR: TimeDelta = TimeDelta::minutes(10);
/// Wrong codes an account may try within an hour.
const MOST_TRIES: i64 = 5;
/// Codes a person may ask for within an hour.
const MOST_CODES: i64 = 5;
/// The hour of both.
const WITHIN: TimeDelta = TimeDelta::hours(1);
/// What codes are made of: nothing that is read for something else.
pub const LETTERS: &[u8] = b"ABCDEFGHJKMNPQRSTUVWXYZ23456789";
/// How long a code is: some 40 bits, of which five tries an hour find nothing.
pub const LENGTH: usize = 8;

/// A code that somebody asked for, before it is drawn.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanted {
    /// What the person is.
    pub kind: PersonKind,
    /// Whose account it is to link.
    pub person: String,
    /// First name.
    pub first: String,
    /// The number it is texted to.
    pub phone: Phone,
    /// Language of the text.
    pub language: Language,
    /// The message that asked.
    pub message: String,
}

/// Notes who asked for a code, when the text asks for one and the program has a place on the platform. Each athlete of a
/// shared number gets a code of their own. Whether it asked.
pub fn asked(scene: &mut Scene<'_>, message: &InMessage, member: Option<&StaffMember>, athletes: &[AthleteId]) -> bool {
    let has_chat = scene.program.chat.as_ref().is_some_and(|chat| chat.token.is_some());
    let asks =
        matches!(fold(message.body.trim()).as_str(), "chat" | "chat code" | "link chat" | "codigo chat" | "chat.");
    if !has_chat || !asks || (member.is_none() && athletes.is_empty()) {
        return false;
    }
    let wanted = |kind, person: &str, first: &str, language| Wanted {
        kind,
        person: person.to_owned(),
        first: first.to_owned(),
        phone: message.phone.clone(),
        language,
        message: message.id.clone(),
    };
    let new: Vec<Wanted> = match member {
        Some(member) => vec![wanted(PersonKind::Staff, member.id.as_str(), &member.first, member.language)],
        None => athletes
            .iter()
            .filter_map(|id| scene.athletes.get(id))
            .map(|athlete| wanted(PersonKind::Athlete, athlete.id.as_str(), &athlete.first, athlete.language))
            .collect(),
    };
    scene.tell("somebody asked for a code that links a chat account");
    scene.codes_wanted.extend(new);
    true
}

/// Draws the codes that were asked for, and queues them as texts.
///
/// # Errors
/// When the store fails.
pub async fn give(tx: &mut Tx, scene: &mut Scene<'_>, mut draw: impl FnMut() -> String) -> crate::store::Result<()> {
    for wanted in std::mem::take(&mut scene.codes_wanted) {
        let (program, now) = (scene.program.id.clone(), scene.now);
        let recent = tx.chat_codes_since(&program, wanted.kind, &wanted.person, now.minus(WITHIN)).await?;
        if recent >= MOST_CODES {
            scene.note("program", "chat code refused", &wanted.person, "too many", Some(&wanted.message));
            continue;
        }
        let code = draw();
        let Some(hash) = hash(scene.program, &code) else { continue };
        tx.chat_codes_end(&program, wanted.kind, &wanted.person, now).await?;
        let row = ChatCode {
            program,
            hash,
            kind: wanted.kind,
            person: wanted.person.clone(),
            phone: wanted.phone.clone(),
            made_at: now,
            expires_at: now.plus(GOOD_FOR),
            used_at: None,
        };
        tx.insert(&[row]).await?;
        let name = scene.program.name.clone();
        let text = Message::ChatCode { program: &name, first: &wanted.first, code: &code };
        let athlete = AthleteId(wanted.person.clone());
        let athlete = (wanted.kind == PersonKind::Athlete).then_some(&athlete);
        let to = To { phone: &wanted.phone, language: wanted.language, athlete };
        let key = format!("chat-code/{}/{}", wanted.message, wanted.person);
        scene.send(to, Purpose::Staff, key, &text, Some(now.plus(GOOD_FOR)));
        scene.note("program", "chat code given", &wanted.person, "", Some(&wanted.message));
    }
    Ok(())
}

/// The keyed hash of a code, however it was typed.
fn hash(program: &Program, code: &str) -> Option<String> {
    let token = program.chat.as_ref()?.token.as_ref()?;
    let plain: String = code.chars().filter(char::is_ascii_alphanumeric).collect::<String>().to_uppercase();
    let mac = Hmac::<sha2::Sha256>::new_from_slice(token.expose_secret().as_bytes()).ok()?;
    let bytes = mac.chain_update(format!("chat code/{}/{plain}", program.id)).finalize().into_bytes();
    Some(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

impl ChatDesk {
    /// Links an account by a code. Returns what its owner is told.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn link(&self, program: &ProgramId, user: &str, code: &str, now: Moment) -> Result<String, DeskError> {
        let program = self.desk.program(program)?;
        let language = program.chat.as_ref().map_or(Language::En, |chat| chat.language);
        let mut tx = self.desk.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.desk.wording(program), now).await?;
        let mut tries = tx
            .chat_try(&program.id, user)
            .await?
            .filter(|tries| now.since(tries.since) < WITHIN)
            .unwrap_or(ChatTry { program: program.id.clone(), chat_user: user.to_owned(), tries: 0, since: now });
        if tries.tries >= MOST_TRIES {
            return Ok(say(Say::CodesTooMany, language).to_owned());
        }
        let Some((mut code, person)) = good_code(&mut tx, &scene, code).await? else {
            tries.tries += 1;
            tx.put(&[tries]).await?;
            scene.note("chat account", "chat code wrong", user, "", None);
            self.desk.finish(tx, scene).await?;
            return Ok(say(Say::CodeWrong, language).to_owned());
        };
        code.used_at = Some(now);
        let mut links = tx.chat_links_of(&program.id, code.kind, &code.person).await?;
        for link in &mut links {
            link.ended_at = Some(now);
        }
        tx.put(&links).await?;
        let link = ChatLink {
            program: program.id.clone(),
            chat_user: user.to_owned(),
            kind: code.kind,
            person: code.person.clone(),
            phone: code.phone.clone(),
            linked_at: now,
            ended_at: None,
        };
        tx.put(&[link]).await?;
        tries.tries = 0;
        tx.put(&[tries]).await?;
        scene.note("chat account", "chat account linked", &code.person, user, None);
        scene.tell(format!("{} linked a chat account", person.0));
        let kind = code.kind;
        tx.put(&[code]).await?;
        self.desk.finish(tx, scene).await?;
        Ok(match kind {
            PersonKind::Staff => words::linked_staff(&person.0, person.1),
            PersonKind::Athlete => words::linked_athlete(&person.0, person.1),
        })
    }

    /// Ends an account's link. Returns what its owner is told.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn unlink(&self, program: &ProgramId, user: &str, now: Moment) -> Result<String, DeskError> {
        let program = self.desk.program(program)?;
        let language = program.chat.as_ref().map_or(Language::En, |chat| chat.language);
        let mut tx = self.desk.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.desk.wording(program), now).await?;
        let Some(mut link) = tx.chat_link(&program.id, user).await? else {
            return Ok(say(Say::NotLinked, language).to_owned());
        };
        link.ended_at = Some(now);
        scene.note("chat account", "chat account ended", &link.person, user, None);
        tx.put(&[link]).await?;
        self.desk.finish(tx, scene).await?;
        Ok(say(Say::Unlinked, language).to_owned())
    }
}

/// The code, while it is good, with the first name and language of the person whose it is.
async fn good_code(
    tx: &mut Tx,
    scene: &Scene<'_>,
    typed: &str,
) -> Result<Option<(ChatCode, (String, Language))>, DeskError> {
    let Some(hash) = hash(scene.program, typed) else { return Ok(None) };
    let found = tx.chat_code(&scene.program.id, &hash).await?;
    let Some(code) = found.filter(|code| code.used_at.is_none() && code.expires_at > scene.now) else {
        return Ok(None);
    };
    Ok(still_theirs(tx, scene, &code).await?.map(|person| (code, person)))
}

/// First name and language of the person whose code it is, while the number that it was texted to is still theirs.
async fn still_theirs(
    tx: &mut Tx,
    scene: &Scene<'_>,
    code: &ChatCode,
) -> Result<Option<(String, Language)>, DeskError> {
    Ok(match code.kind {
        PersonKind::Staff => scene
            .staff
            .iter()
            .find(|member| member.id == StaffId(code.person.clone()) && member.phone.as_ref() == Some(&code.phone))
            .map(|member| (member.first.clone(), member.language)),
        PersonKind::Athlete => tx
            .athletes_named(&scene.program.id, [&AthleteId(code.person.clone())])
            .await?
            .pop()
            .filter(|athlete| athlete.active && athlete.phone.as_ref() == Some(&code.phone))
            .map(|athlete| (athlete.first, athlete.language)),
    })
}
