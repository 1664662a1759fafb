//! What is wrong with the chat, each with how to mend it.

use std::collections::BTreeMap;

use super::ChatDesk;
use crate::channel::chat::ChatRefused;
use crate::channel::chat::rest::ChatRest;
use crate::config::{CHAT_TOKEN, Chat, Program, token_variable};
use crate::desk::doctor::{Finding, broken, fine, watch};
use crate::store::chat::{ChatPost, PersonKind, PostKind};
use crate::store::{Result, Tx};

/// What the configuration alone tells of a program's chat; nothing when it has none.
#[must_use]
pub fn config(program: &Program) -> Vec<Finding> {
    let Some(chat) = &program.chat else { return Vec::new() };
    let mut found = Vec::new();
    if chat.token.is_none() {
        found.push(broken(
            format!("{}: no chat token: neither {} nor {CHAT_TOKEN} is set", program.name, token_variable(program.id.as_str())),
            "copy the bot's token into the environment; never into a file that is committed. Until then all goes by text",
        ));
    }
    if chat.trainer_page.is_none() {
        found.push(watch(
            format!("{}: posts in the medical channel have no link to the trainer's page", program.name),
            "set server.public_url",
        ));
    }
    found
}

/// What the store tells of a program's chat.
///
/// # Errors
/// When the store fails.
pub async fn stored(tx: &mut Tx, program: &Program) -> Result<Vec<Finding>> {
    let Some(chat) = &program.chat else { return Ok(Vec::new()) };
    let mut found = Vec::new();
    if let Some(state) = tx.chat_state(&program.id).await? {
        if let Some(why) = state.halted_why {
            found.push(broken(format!("the chat platform takes nothing: {why}"), "mend it; posting goes on by itself"));
        }
        match (state.gateway.as_deref(), state.gateway_at) {
            (Some("ready"), _) | (None, _) => {}
            (Some(why), at) => {
                let since = at.map(|at| format!(" since {}", at.local(program.zone))).unwrap_or_default();
                found.push(watch(
                    format!("buttons and commands in chat are not heard{since}: {why}"),
                    "it is tried again by itself; if it stays so, check the token and the bot's intents. Texts work",
                ));
            }
        }
    }
    found.extend(troubles(chat, &tx.chat_troubled(&program.id).await?));
    let staff = tx.staff(&program.id).await?;
    let links = tx.chat_links(&program.id).await?;
    let linked = |kind| links.iter().filter(|link| link.kind == kind).count();
    found.push(fine(format!(
        "chat: {} of {} staff and {} athletes have linked an account",
        linked(PersonKind::Staff),
        staff.len(),
        linked(PersonKind::Athlete)
    )));
    Ok(found)
}

/// Posts that are not taken, a line a place and reason.
fn troubles(chat: &Chat, posts: &[ChatPost]) -> Vec<Finding> {
    let mut counted: BTreeMap<(String, String), usize> = BTreeMap::new();
    for post in posts {
        let place = match post.kind {
            PostKind::Direct => "direct messages".to_owned(),
            PostKind::Item => place(chat, post.channel.as_deref().unwrap_or_default()),
        };
        let why = post.error.clone().unwrap_or_default();
        *counted.entry((place, why)).or_default() += 1;
    }
    counted
        .into_iter()
        .map(|((place, why), count)| {
            let what = format!("chat, {place}: {count} not posted: {why}");
            if place == "direct messages" {
                watch(what, "those athletes get texts; they may allow direct messages from the server's members")
            } else {
                broken(what, mend(&why))
            }
        })
        .collect()
}

fn mend(why: &str) -> &'static str {
    if why.contains("(10003)") {
        "the channel is gone: make one and put its id into the settings; what waits is posted there"
    } else if why.contains("(50001)") || why.contains("(50013)") {
        "give the bot's role in that channel: view channel, send messages; what waits is posted then"
    } else {
        "it is tried again by itself; nothing is lost, and texts go out as ever"
    }
}

fn place(chat: &Chat, channel: &str) -> String {
    let name = match channel {
        id if id == chat.equipment => "equipment channel",
        id if id == chat.medical => "medical channel",
        id if id == chat.contact => "contact channel",
        _ => "a channel that is not in the settings any more",
    };
    name.to_owned()
}

/// Asks the platform whether the token is good and the channels can be seen. Posts nothing.
pub async fn online(rest: &ChatRest, program: &Program) -> Vec<Finding> {
    let Some(chat) = &program.chat else { return Vec::new() };
    if let Err(error) = rest.ping().await {
        let mend = match error {
            ChatRefused::Everything { .. } => "set the token that the platform shows for the bot now",
            _ => "ask again later; nothing is lost, and texts go out as ever",
        };
        return vec![broken(format!("{}: the chat platform: {error}", program.name), mend)];
    }
    let mut found = vec![fine(format!("{}: the chat platform answers and takes the token", program.name))];
    for channel in [&chat.equipment, &chat.medical, &chat.contact] {
        if let Err(error) = rest.see(channel).await {
            found
                .push(broken(format!("{}: {}: {error}", program.name, place(chat, channel)), mend(&error.to_string())));
        }
    }
    found
}

impl ChatDesk {
    /// Asks the platform, for every program.
    pub async fn examine_online(&self) -> Vec<Finding> {
        let mut found = Vec::new();
        for (program, _) in self.places() {
            if let Some(rest) = self.rest(&program.id) {
                found.extend(online(rest, program).await);
            }
        }
        found
    }
}
