//! Signing in to the board: a link by text that works once, and the session that it begins.
//!
//! The desk is given hashes, never tokens, but for the link that goes into the text. It answers alike whether a number is
//! known or not; who asked is told only by the text that comes.

use chrono::TimeDelta;
use sha2::{Digest as _, Sha256};

use super::inbound::by_staff;
use super::scene::To;
use super::{Desk, DeskError, load};
use crate::store::rows::{Purpose, Session, SignIn};
use crate::trade::phone::Phone;
use crate::trade::roster::{ProgramId, StaffMember};
use crate::trade::time::Moment;
use crate::wording::Message;

/// A link is of no use after this.
pub const LINK_STANDS: TimeDelta = TimeDelta::minutes(15);
/// A session ends after this, whatever is done meanwhile.
pub const SESSION_LASTS: TimeDelta = TimeDelta::hours(12);
/// A session ends when no page was asked for so long.
pub const SESSION_IDLE: TimeDelta = TimeDelta::hours(2);
/// Links texted to one staff member within an hour, at most.
pub const LINKS_AN_HOUR: i64 = 5;
/// Links and sessions are forgotten so long after they are over; the record keeps who signed in when.
const FORGOTTEN_AFTER: TimeDelta = TimeDelta::days(7);
/// A session that is used is noted at most this often.
const NOTED_EVERY: TimeDelta = TimeDelta::minutes(1);

/// SHA-256 of a token, lower-case hexadecimal: all that is kept of it.
#[must_use]
pub fn hash(token: &str) -> String {
    Sha256::digest(token.as_bytes()).iter().fold(String::with_capacity(64), |mut text, byte| {
        use std::fmt::Write as _;
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Who is signed in, for one request.
#[derive(Debug, Clone)]
pub struct SignedIn {
    /// The program.
    pub program: ProgramId,
    /// The staff member, as they are on file now.
    pub member: StaffMember,
    /// The session's hash.
    pub session: String,
    /// The last line of the record that changed something.
    pub changed: i64,
}

/// What became of a request for a link. It is never shown to whoever asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Asked {
    /// A text is queued.
    Sent,
    /// No active staff member of the program has the number.
    Unknown,
    /// They were sent enough of them lately.
    Enough,
}

impl Desk {
    /// Texts a link to the staff member with this number, if there is one.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn send_sign_in(
        &self,
        program: &ProgramId,
        phone: &Phone,
        link: &str,
        hash: &str,
        now: Moment,
    ) -> Result<Asked, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let Some(member) = scene.staff.iter().find(|member| member.phone.as_ref() == Some(phone)).cloned() else {
            return Ok(Asked::Unknown);
        };
        if tx.sign_ins_since(&program.id, &member.id, now.minus(TimeDelta::hours(1))).await? >= LINKS_AN_HOUR {
            return Ok(Asked::Enough);
        }
        let ends_at = now.plus(LINK_STANDS);
        let row = SignIn {
            program: program.id.clone(),
            hash: hash.to_owned(),
            staff: member.id.clone(),
            made_at: now,
            ends_at,
            used_at: None,
        };
        tx.insert(std::slice::from_ref(&row)).await?;
        tx.forget_sessions(&program.id, now.minus(FORGOTTEN_AFTER)).await?;
        let minutes = usize::try_from(LINK_STANDS.num_minutes()).unwrap_or_default();
        let text = Message::SignIn { program: &program.name, link, minutes };
        let to = To { phone, language: member.language, athlete: None };
        scene.send(to, Purpose::Staff, format!("{SIGN_IN_TEXT}{hash}"), &text, Some(ends_at));
        scene.note(&by_staff(&member), "sign-in link sent", member.id.as_str(), "", None);
        self.finish(tx, scene).await?;
        Ok(Asked::Sent)
    }

    /// Whether a link could be used now. Looking uses nothing up.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn sign_in_stands(&self, program: &ProgramId, hash: &str, now: Moment) -> Result<bool, DeskError> {
        let mut tx = self.core.store.read().await?;
        let row = tx.sign_in(program, hash).await?;
        Ok(row.is_some_and(|row| stands(&row, now)))
    }

    /// Uses a link up and begins a session; nothing when it was used before, is too old, or is of somebody who is no
    /// longer staff.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn use_sign_in(
        &self,
        program: &ProgramId,
        hash: &str,
        session: &str,
        now: Moment,
    ) -> Result<Option<StaffMember>, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let Some(mut row) = tx.lock_sign_in(&program.id, hash).await?.filter(|row| stands(row, now)) else {
            return Ok(None);
        };
        let Some(member) = scene.staff.iter().find(|member| member.id == row.staff).cloned() else {
            return Ok(None);
        };
        row.used_at = Some(now);
        tx.put(std::slice::from_ref(&row)).await?;
        let session = Session {
            program: program.id.clone(),
            hash: session.to_owned(),
            staff: member.id.clone(),
            made_at: now,
            seen_at: now,
            ends_at: now.plus(SESSION_LASTS),
            ended_at: None,
        };
        tx.insert(std::slice::from_ref(&session)).await?;
        scene.note(&by_staff(&member), "signed in", member.id.as_str(), "board", None);
        self.finish(tx, scene).await?;
        Ok(Some(member))
    }

    /// Who is signed in with a session; nobody when it is over, or its staff member is no longer staff.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn signed_in(
        &self,
        program: &ProgramId,
        session: &str,
        now: Moment,
    ) -> Result<Option<SignedIn>, DeskError> {
        let mut tx = self.core.store.read().await?;
        let Some(row) = tx.session(program, session).await?.filter(|row| is_open(row, now)) else {
            return Ok(None);
        };
        let Some(member) = tx.staff_member(program, &row.staff).await? else {
            return Ok(None);
        };
        let changed = tx.changed_seq(program).await?;
        drop(tx);
        if now.since(row.seen_at) >= NOTED_EVERY {
            let mut tx = self.core.store.write().await?;
            tx.session_seen(program, session, now).await?;
            tx.commit().await?;
        }
        Ok(Some(SignedIn { program: program.clone(), member, session: session.to_owned(), changed }))
    }

    /// Ends a session.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn sign_out(&self, who: &SignedIn, now: Moment) -> Result<(), DeskError> {
        let program = self.program(&who.program)?;
        let mut tx = self.core.store.write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        tx.end_session(&program.id, &who.session, now).await?;
        scene.note(&by_staff(&who.member), "signed out", who.member.id.as_str(), "board", None);
        self.finish(tx, scene).await
    }
}

/// How the key of such a text begins. The text is a key to the board: no page shows it.
pub const SIGN_IN_TEXT: &str = "sign-in/";

fn stands(row: &SignIn, now: Moment) -> bool {
    row.used_at.is_none() && now < row.ends_at
}

fn is_open(row: &Session, now: Moment) -> bool {
    row.ended_at.is_none() && now < row.ends_at && now.since(row.seen_at) < SESSION_IDLE
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::roster::StaffId;

    fn session(now: Moment) -> Session {
        Session {
            program: ProgramId::from("p"),
            hash: String::new(),
            staff: StaffId::from("ana"),
            made_at: now,
            seen_at: now,
            ends_at: now.plus(SESSION_LASTS),
            ended_at: None,
        }
    }

    #[test]
    fn a_session_ends_by_sign_out_by_rest_and_by_age() {
        let start = Moment::from_millis(0);
        let row = session(start);
        assert!(is_open(&row, start.plus(SESSION_IDLE - TimeDelta::seconds(1))));
        assert!(!is_open(&row, start.plus(SESSION_IDLE)));
        let used = Session { seen_at: start.plus(SESSION_LASTS - TimeDelta::minutes(1)), ..row.clone() };
        assert!(is_open(&used, start.plus(SESSION_LASTS - TimeDelta::seconds(1))));
        assert!(!is_open(&used, start.plus(SESSION_LASTS)));
        assert!(!is_open(&Session { ended_at: Some(start), ..row }, start));
    }

    #[test]
    fn a_hash_is_that_of_the_standard() {
        // FIPS 180-2, example for "abc".
        assert_eq!(hash("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    }
}
