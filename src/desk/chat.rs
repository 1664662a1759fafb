//! The chat platform as a place of work: what stands there, and what people do there.
//!
//! [`render`] makes posts of items, [`plan`] says which posts are to change, both pure; [`outbox`] hands them over by lease
//! and at the platform's pace ([`outcome`] says what became of them); [`hear`] turns buttons and commands into [`act`](super::act), [`direct`] what athletes
//! answer into what a text would do; [`link`] says whose an account is.
//!
//! The platform being down delays no text: rows are written with what caused them, everything else has its own loop.
//! Invariant: who may do what is decided here by the linked person's role, whatever the server's own settings allow.

pub mod commands;
pub mod direct;
pub mod doctor;
pub mod hear;
pub mod link;
pub mod listen;
pub mod note;
mod outbox;
pub mod outcome;
pub mod plan;
pub mod render;

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex};

use secrecy::ExposeSecret as _;
use sha2::{Digest as _, Sha256};

use super::Desk;
use crate::channel::chat::rest::{ChatRest, ChatSettingsError};
use crate::config::Config;
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// A bot: one token, and the programs that it serves.
#[derive(Debug, Clone)]
pub struct Bot {
    /// Its client.
    pub rest: ChatRest,
    /// Its programs.
    pub programs: Vec<ProgramId>,
}

/// The desk's side of the chat platform. Clones share it.
#[derive(Clone)]
pub struct ChatDesk {
    desk: Desk,
    bots: Arc<Vec<Bot>>,
    /// Channels of direct messages, by account.
    direct: Arc<Mutex<HashMap<String, String>>>,
    /// Until when a channel takes nothing more, as the platform told this process.
    waits: Arc<Mutex<HashMap<String, Moment>>>,
}

impl ChatDesk {
    /// The chat side of a desk; nothing when no program has a place on the platform and a token.
    ///
    /// # Errors
    /// [`ChatSettingsError`] when the settings cannot work.
    pub fn open(desk: &Desk) -> Result<Option<Self>, ChatSettingsError> {
        let bots = bots(desk.config())?;
        let chat = Self { desk: desk.clone(), bots: Arc::new(bots), direct: Arc::default(), waits: Arc::default() };
        Ok((!chat.bots.is_empty()).then_some(chat))
    }

    /// Every bot.
    #[must_use]
    pub fn bots(&self) -> &[Bot] {
        &self.bots
    }

    /// The desk.
    #[must_use]
    pub const fn desk(&self) -> &Desk {
        &self.desk
    }

    fn rest(&self, program: &ProgramId) -> Option<&ChatRest> {
        self.bots.iter().find(|bot| bot.programs.contains(program)).map(|bot| &bot.rest)
    }
}

/// Programs by the token they share.
fn bots(config: &Config) -> Result<Vec<Bot>, ChatSettingsError> {
    let mut by_token: BTreeMap<&str, Bot> = BTreeMap::new();
    for program in config.programs.values() {
        let Some(token) = program.chat.as_ref().and_then(|chat| chat.token.as_ref()) else { continue };
        if let Some(bot) = by_token.get_mut(token.expose_secret()) {
            bot.programs.push(program.id.clone());
        } else {
            let rest = ChatRest::new(&config.chat_url, token.clone())?;
            by_token.insert(token.expose_secret(), Bot { rest, programs: vec![program.id.clone()] });
        }
    }
    Ok(by_token.into_values().collect())
}

/// A key, short enough for a button.
#[must_use]
pub fn tag(program: &ProgramId, id: &str) -> String {
    hex(format!("{program}\n{id}").as_bytes(), 8)
}

/// The first bytes of a hash, as hexadecimal.
fn hex(bytes: &[u8], most: usize) -> String {
    use std::fmt::Write as _;
    Sha256::digest(bytes).iter().take(most).fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests;
