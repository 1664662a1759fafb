//! The platform's gateway: serenity keeps the connection, its heartbeats and its resumes; here its events become ours.
//!
//! An interaction is acknowledged the moment it is heard, before anything else is done with it: the platform gives three
//! seconds. What is heard goes into a queue; a second delivery has the same id, and telling them apart is the desk's.
//!
//! Invariant: nothing connects to an address that `GET /gateway` of the configured host did not name. serenity falls back
//! to the real host when that question fails, and ignores its own `proxy` setting while its rate limiter is on; so the
//! limiter is off, and the address is compared before the connection is made.

use chrono::TimeDelta;
use secrecy::ExposeSecret as _;
use serenity::all::{
    Client, ClientBuilder, CommandDataOptionValue, CommandInteraction, ComponentInteraction,
    ComponentInteractionDataKind, ConnectionStage, Context, EventHandler, GatewayIntents, HttpBuilder,
    Interaction as Any, Message, Ready, ResumedEvent, ShardStageUpdateEvent,
};
use tokio::sync::{mpsc, watch};
use url::Url;

use super::rest::ChatRest;
use super::{ChatRefused, Interaction, What, Written};
use crate::channel::sms::is_loopback;
use crate::clock::Clock;

/// Longest wait for the connection to be closed in order.
const CLOSE_WITHIN: TimeDelta = TimeDelta::seconds(3);

/// What the gateway tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// Connected, perhaps not for the first time.
    Ready {
        /// The bot's application.
        application: String,
    },
    /// How the connection stands.
    Stage(&'static str),
    /// Somebody used a control or a command; the platform was told that it was heard.
    Interaction(Interaction),
    /// Somebody wrote to the bot.
    Written(Written),
}

/// Why the gateway could not be listened to.
#[derive(Debug, thiserror::Error)]
pub enum GatewayError {
    /// The platform did not say where it is.
    #[error("the gateway's address: {0}")]
    Asked(#[from] ChatRefused),
    /// The address would take the token in the clear, or is none.
    #[error("the gateway's address `{0}` is not a safe one")]
    Address(String),
    /// The library would connect to another address.
    #[error("the gateway would be looked for at `{0}`, which is not what the platform said")]
    Elsewhere(String),
    /// The connection ended and cannot be resumed.
    #[error("the gateway: {0}")]
    Ended(String),
}

/// Listens until `stop` turns true, or until the connection ends for good: drops, resumes and invalid sessions are dealt
/// with inside.
///
/// # Errors
/// [`GatewayError`]; it may be tried again later.
pub async fn listen(
    rest: &ChatRest,
    clock: &Clock,
    heard: mpsc::Sender<Heard>,
    mut stop: watch::Receiver<bool>,
) -> Result<(), GatewayError> {
    let mut client = connect(rest, heard).await?;
    let manager = client.shard_manager.clone();
    tokio::select! {
        ended = client.start() => match ended {
            Ok(()) => Err(GatewayError::Ended("closed".to_owned())),
            Err(error) => Err(GatewayError::Ended(error.to_string())),
        },
        () = told_to_stop(&mut stop) => {
            tokio::select! {
                () = manager.shutdown_all() => {}
                () = clock.sleep(CLOSE_WITHIN) => tracing::warn!("the chat gateway did not close in time"),
            }
            Ok(())
        }
    }
}

/// Waits until `stop` turns true, or nobody can turn it any more.
pub async fn told_to_stop(stop: &mut watch::Receiver<bool>) {
    let _ = stop.wait_for(|stop| *stop).await;
}

/// A client that will connect to where the platform says its gateway is, and nowhere else.
async fn connect(rest: &ChatRest, heard: mpsc::Sender<Heard>) -> Result<Client, GatewayError> {
    let said = rest.gateway().await?;
    safe(&said, rest.base())?;
    let base = rest.base().as_str().trim_end_matches('/');
    let http = HttpBuilder::new(rest.token().expose_secret()).proxy(base).ratelimiter_disabled(true).build();
    let handler = Handler { rest: rest.clone(), heard };
    let client = ClientBuilder::new_with_http(http, GatewayIntents::DIRECT_MESSAGES)
        .event_handler(handler)
        .await
        .map_err(|error| GatewayError::Ended(error.to_string()))?;
    let found = client.ws_url.lock().await.clone();
    if found == said { Ok(client) } else { Err(GatewayError::Elsewhere(found)) }
}

/// An encrypted address, or one on this machine where the platform is on this machine.
fn safe(said: &str, base: &Url) -> Result<(), GatewayError> {
    let fine = Url::parse(said)
        .is_ok_and(|url| url.scheme() == "wss" || (url.scheme() == "ws" && is_loopback(&url) && is_loopback(base)));
    if fine { Ok(()) } else { Err(GatewayError::Address(said.to_owned())) }
}

struct Handler {
    rest: ChatRest,
    heard: mpsc::Sender<Heard>,
}

impl Handler {
    async fn tell(&self, heard: Heard) {
        if self.heard.send(heard).await.is_err() {
            tracing::debug!("nobody listens to the chat gateway any more");
        }
    }
}

#[serenity::async_trait]
impl EventHandler for Handler {
    async fn ready(&self, _: Context, ready: Ready) {
        self.tell(Heard::Ready { application: ready.application.id.to_string() }).await;
    }

    async fn resume(&self, _: Context, _: ResumedEvent) {
        self.tell(Heard::Stage("ready")).await;
    }

    async fn shard_stage_update(&self, _: Context, update: ShardStageUpdateEvent) {
        if update.new == ConnectionStage::Disconnected {
            self.tell(Heard::Stage("dropped; connecting again")).await;
        }
    }

    async fn interaction_create(&self, _: Context, interaction: Any) {
        let ours = match interaction {
            Any::Component(component) => control(component),
            Any::Command(command) => Some(slash(command)),
            _ => None,
        };
        let Some(ours) = ours else { return };
        match self.rest.acknowledge(&ours).await {
            Ok(()) => {}
            // Every process with the token hears everything: who acknowledges it acts on it.
            Err(ChatRefused::Answered) => return,
            // What was asked is done all the same; only its answer may not be seen.
            Err(error) => tracing::warn!(%error, "an interaction could not be acknowledged"),
        }
        self.tell(Heard::Interaction(ours)).await;
    }

    async fn message(&self, _: Context, message: Message) {
        if message.guild_id.is_some() || message.author.bot {
            return;
        }
        let photos = message
            .attachments
            .iter()
            .filter(|attached| attached.content_type.as_deref().is_some_and(|kind| kind.starts_with("image/")))
            .map(|attached| attached.url.clone())
            .collect();
        let written =
            Written { id: message.id.to_string(), user: message.author.id.to_string(), text: message.content, photos };
        self.tell(Heard::Written(written)).await;
    }
}

fn control(component: ComponentInteraction) -> Option<Interaction> {
    let picked = match component.data.kind {
        ComponentInteractionDataKind::Button => None,
        ComponentInteractionDataKind::StringSelect { mut values } => values.pop(),
        _ => return None,
    };
    Some(Interaction {
        id: component.id.to_string(),
        application: component.application_id.to_string(),
        token: component.token,
        guild: component.guild_id.map(|guild| guild.to_string()),
        user: component.user.id.to_string(),
        what: What::Control { id: component.data.custom_id, picked },
    })
}

fn slash(command: CommandInteraction) -> Interaction {
    let options = command
        .data
        .options
        .into_iter()
        .filter_map(|option| match option.value {
            CommandDataOptionValue::String(text) => Some((option.name, text)),
            CommandDataOptionValue::Integer(number) => Some((option.name, number.to_string())),
            _ => None,
        })
        .collect();
    Interaction {
        id: command.id.to_string(),
        application: command.application_id.to_string(),
        token: command.token,
        guild: command.guild_id.map(|guild| guild.to_string()),
        user: command.user.id.to_string(),
        what: What::Command { name: command.data.name, options },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_token_goes_to_no_unsafe_gateway() {
        let real: Url = "https://chat.example".parse().unwrap();
        let here: Url = "http://127.0.0.1:4010".parse().unwrap();
        let table = [
            ("wss://gateway.chat.example", &real, true),
            ("ws://gateway.chat.example", &real, false),
            ("ws://127.0.0.1:4020", &here, true),
            ("ws://127.0.0.1:4020", &real, false),
            ("ws://gateway.chat.example", &here, false),
            ("gateway", &real, false),
        ];
        for (said, base, good) in table {
            assert_eq!(safe(said, base).is_ok(), good, "{said} from {base}");
        }
    }
}
