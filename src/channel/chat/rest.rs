//! The platform's REST interface, version 10: what a bot needs of it.
//!
//! Waiting is the caller's: a 429 is given back with the wait that it names, and an answer that used up a channel's
//! allowance says how long until the next. Answers are read tolerantly.
//!
//! Invariants: the token goes to the one host of the settings and is in no error or log; nothing is repeated here; an
//! answer that leaves open whether it was done is [`ChatRefused::InDoubt`].

use std::fmt;
use std::time::Duration;

use reqwest::header::HeaderMap;
use reqwest::{Method, RequestBuilder};
use secrecy::{ExposeSecret as _, SecretString};
use serde::Deserialize;
use serde_json::{Value, json};
use url::Url;

use super::{ChatRefused, EPHEMERAL, Interaction, Post, What};
use crate::channel::sms;

/// Longest wait for an answer, well within the lease of a post and the three seconds of an acknowledgement for a platform
/// that is up.
const TIMEOUT: Duration = Duration::from_secs(10);
/// The wait where a 429 names none.
const WAIT_UNNAMED: Duration = Duration::from_secs(5);
/// The longest wait believed: an hour.
const LONGEST_WAIT: Duration = Duration::from_secs(3_600);

/// Why a client cannot be made.
#[derive(Debug, thiserror::Error)]
pub enum ChatSettingsError {
    /// The token would travel in the clear.
    #[error("the chat platform's address `{0}` cannot be used: give an https address")]
    BaseUrl(String),
    /// The HTTP client cannot start.
    #[error("cannot start an HTTP client; are the machine's root certificates installed?")]
    Client(#[source] reqwest::Error),
}

/// A post that the platform has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The platform's id of it.
    pub id: String,
    /// How long the channel takes nothing more, when it said so.
    pub pause: Option<Duration>,
}

/// The client. Clones share its connections.
#[derive(Clone)]
pub struct ChatRest {
    client: reqwest::Client,
    base: Url,
    token: SecretString,
}

impl fmt::Debug for ChatRest {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.debug_struct("ChatRest").field("base", &self.base.as_str()).finish_non_exhaustive()
    }
}

#[derive(Debug, Deserialize)]
struct Identified {
    id: String,
}

impl ChatRest {
    /// A client. Nothing is asked yet.
    ///
    /// # Errors
    /// [`ChatSettingsError`].
    pub fn new(base: &Url, token: SecretString) -> Result<Self, ChatSettingsError> {
        let loopback = sms::is_loopback(base);
        if base.scheme() != "https" && !(base.scheme() == "http" && loopback) {
            return Err(ChatSettingsError::BaseUrl(base.host_str().unwrap_or_default().to_owned()));
        }
        let client = sms::client(loopback, TIMEOUT).map_err(ChatSettingsError::Client)?;
        Ok(Self { client, base: base.clone(), token })
    }

    /// The address that everything goes to.
    #[must_use]
    pub const fn base(&self) -> &Url {
        &self.base
    }

    /// The token, for the gateway.
    #[must_use]
    pub const fn token(&self) -> &SecretString {
        &self.token
    }

    /// Posts. A second of the same nonce within the platform's memory of a few minutes is the first one again.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn create(&self, channel: &str, body: &Value, nonce: &str) -> Result<Taken, ChatRefused> {
        let mut body = body.clone();
        body["nonce"] = nonce.into();
        body["enforce_nonce"] = true.into();
        let request = self.request(Method::POST, &["channels", channel, "messages"]).json(&body);
        taken(request).await
    }

    /// Changes a post in place.
    ///
    /// # Errors
    /// [`ChatRefused`]; [`ChatRefused::GonePost`] when somebody deleted it.
    pub async fn edit(&self, channel: &str, message: &str, body: &Value) -> Result<Taken, ChatRefused> {
        let request = self.request(Method::PATCH, &["channels", channel, "messages", message]).json(body);
        taken(request).await
    }

    /// The channel of direct messages with an account.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn open_direct(&self, user: &str) -> Result<String, ChatRefused> {
        let request = self.request(Method::POST, &["users", "@me", "channels"]).json(&json!({"recipient_id": user}));
        let (answer, _) = answered::<Identified>(request).await?;
        Ok(answer.id)
    }

    /// Tells the platform within its three seconds that an interaction was heard: a command is answered later, to its
    /// sender alone; a control's post stays as it is.
    ///
    /// # Errors
    /// [`ChatRefused`]; [`ChatRefused::TooLate`] when the three seconds were over, [`ChatRefused::Answered`] when another
    /// process with the same token was first.
    pub async fn acknowledge(&self, interaction: &Interaction) -> Result<(), ChatRefused> {
        let body = match interaction.what {
            What::Command { .. } => json!({"type": 5, "data": {"flags": EPHEMERAL}}),
            What::Control { .. } => json!({"type": 6}),
        };
        let path = ["interactions", &interaction.id, &interaction.token, "callback"];
        done(self.request(Method::POST, &path).json(&body)).await
    }

    /// Answers an acknowledged interaction, or changes the post that its control stands under.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn reply(&self, interaction: &Interaction, post: &Post) -> Result<(), ChatRefused> {
        let path = ["webhooks", &interaction.application, &interaction.token, "messages", "@original"];
        done(self.request(Method::PATCH, &path).json(&post.wire())).await
    }

    /// Says something more to the one who used a control, and to nobody else.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn follow_up(&self, interaction: &Interaction, post: &Post) -> Result<(), ChatRefused> {
        let mut body = post.wire();
        body["flags"] = EPHEMERAL.into();
        let path = ["webhooks", &interaction.application, &interaction.token];
        done(self.request(Method::POST, &path).json(&body)).await
    }

    /// Sets the commands of a server: those that are there and not here go.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn set_commands(&self, application: &str, guild: &str, commands: &Value) -> Result<(), ChatRefused> {
        let path = ["applications", application, "guilds", guild, "commands"];
        done(self.request(Method::PUT, &path).json(commands)).await
    }

    /// Where the gateway is.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn gateway(&self) -> Result<String, ChatRefused> {
        #[derive(Deserialize)]
        struct Gateway {
            url: String,
        }
        Ok(answered::<Gateway>(self.request(Method::GET, &["gateway"])).await?.0.url)
    }

    /// Whether the token is good.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn ping(&self) -> Result<(), ChatRefused> {
        done(self.request(Method::GET, &["users", "@me"])).await
    }

    /// Whether a channel is there and can be seen.
    ///
    /// # Errors
    /// [`ChatRefused`].
    pub async fn see(&self, channel: &str) -> Result<(), ChatRefused> {
        done(self.request(Method::GET, &["channels", channel])).await
    }

    fn request(&self, method: Method, path: &[&str]) -> RequestBuilder {
        let mut url = self.base.clone();
        if let Ok(mut segments) = url.path_segments_mut() {
            segments.pop_if_empty().extend(["api", "v10"]).extend(path);
        }
        let token = format!("Bot {}", self.token.expose_secret());
        self.client.request(method, url).header(reqwest::header::AUTHORIZATION, token)
    }
}

async fn taken(request: RequestBuilder) -> Result<Taken, ChatRefused> {
    let (message, pause) = answered::<Identified>(request).await?;
    Ok(Taken { id: message.id, pause })
}

async fn done(request: RequestBuilder) -> Result<(), ChatRefused> {
    sent(request).await.map(|_| ())
}

async fn answered<T: for<'de> Deserialize<'de>>(request: RequestBuilder) -> Result<(T, Option<Duration>), ChatRefused> {
    let (body, pause) = sent(request).await?;
    let answer = serde_json::from_str(&body)
        .map_err(|_| ChatRefused::InDoubt { why: "an answer that is not the platform's".to_owned() })?;
    Ok((answer, pause))
}

async fn sent(request: RequestBuilder) -> Result<(String, Option<Duration>), ChatRefused> {
    let response = request.send().await.map_err(|error| {
        let why = sms::reason(&error);
        if error.is_connect() { ChatRefused::Unreached { why } } else { ChatRefused::InDoubt { why } }
    })?;
    let status = response.status().as_u16();
    let headers = response.headers().clone();
    let body = response.text().await;
    if (200..300).contains(&status) {
        let body = body.map_err(|error| ChatRefused::InDoubt { why: sms::reason(&error) })?;
        return Ok((body, pause(&headers)));
    }
    Err(classify(status, &headers, &body.unwrap_or_default()))
}

fn seconds(headers: &HeaderMap, name: &str) -> Option<Duration> {
    wait(headers.get(name)?.to_str().ok()?.trim().parse().ok()?)
}

fn wait(seconds: f64) -> Option<Duration> {
    Duration::try_from_secs_f64(seconds).ok().map(|wait| wait.min(LONGEST_WAIT))
}

/// How long a channel takes nothing more, by its allowance.
fn pause(headers: &HeaderMap) -> Option<Duration> {
    let left = headers.get("x-ratelimit-remaining")?.to_str().ok()?;
    (left.trim() == "0").then(|| seconds(headers, "x-ratelimit-reset-after")).flatten()
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Answer {
    code: Option<i64>,
    message: Option<String>,
    retry_after: Option<f64>,
    global: Option<bool>,
}

/// Sorts an answer of failure (the platform's pages on its error codes and rate limits).
fn classify(status: u16, headers: &HeaderMap, body: &str) -> ChatRefused {
    let answer: Answer = serde_json::from_str(body).unwrap_or_default();
    let code = answer.code.unwrap_or_else(|| i64::from(status));
    let said: String = answer.message.as_deref().unwrap_or("no reason given").chars().take(200).collect();
    let why = format!("{said} (HTTP {status})");
    match (status, code) {
        (429, _) => ChatRefused::Later {
            after: answer
                .retry_after
                .and_then(wait)
                .into_iter()
                .chain(seconds(headers, "retry-after"))
                .max()
                .unwrap_or(WAIT_UNNAMED),
            everywhere: answer.global.unwrap_or(false) || headers.contains_key("x-ratelimit-global"),
        },
        (401, _) => ChatRefused::Everything {
            why: format!("{why}: check the bot's token in the environment; a token made anew ends the one before"),
        },
        (408 | 500..=599, _) => ChatRefused::InDoubt { why },
        // Unknown message; a message of somebody else's, such as of the bot before this one.
        (_, 10_008 | 50_005) => ChatRefused::GonePost,
        // Unknown interaction, webhook, token.
        (_, 10_062 | 10_015 | 50_027) => ChatRefused::TooLate,
        (_, 40_060) => ChatRefused::Answered,
        // No direct messages to this account, unknown user, no server in common.
        (_, 50_007 | 10_013 | 50_278) => ChatRefused::Person { code, why },
        // Unknown channel or server, missing access, missing permissions, and what else concerns the place.
        (_, 10_003 | 10_004 | 50_001 | 50_013 | 50_083) | (403 | 404, _) => ChatRefused::Place { code, why },
        _ => ChatRefused::Request { code, why },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sorted(status: u16, body: &str) -> ChatRefused {
        classify(status, &HeaderMap::new(), body)
    }

    #[test]
    fn failures_are_sorted_by_what_to_do() {
        let body = |code: i64| format!(r#"{{"code": {code}, "message": "x"}}"#);
        for code in [10_003, 50_001, 50_013] {
            assert!(matches!(sorted(403, &body(code)), ChatRefused::Place { code: c, .. } if c == code));
        }
        assert_eq!(sorted(404, &body(10_008)), ChatRefused::GonePost);
        assert_eq!(sorted(404, &body(10_062)), ChatRefused::TooLate);
        assert_eq!(sorted(400, &body(40_060)), ChatRefused::Answered);
        assert!(matches!(sorted(403, &body(50_007)), ChatRefused::Person { .. }));
        assert!(matches!(sorted(400, &body(50_035)), ChatRefused::Request { code: 50_035, .. }));
        assert!(matches!(sorted(401, ""), ChatRefused::Everything { .. }));
        for status in [500, 502, 503, 408] {
            assert!(matches!(sorted(status, "<html>"), ChatRefused::InDoubt { .. }), "{status}");
        }
    }

    #[test]
    fn the_longer_of_two_waits_counts_and_none_is_a_few_seconds() {
        let mut headers = HeaderMap::new();
        assert_eq!(
            sorted(429, r#"{"message": "x", "retry_after": 1.337, "global": false}"#),
            ChatRefused::Later { after: Duration::from_millis(1_337), everywhere: false }
        );
        assert_eq!(sorted(429, "<html>"), ChatRefused::Later { after: WAIT_UNNAMED, everywhere: false });
        headers.insert("retry-after", "65".parse().unwrap());
        headers.insert("x-ratelimit-global", "true".parse().unwrap());
        assert_eq!(
            classify(429, &headers, r#"{"retry_after": 64.57, "global": true}"#),
            ChatRefused::Later { after: Duration::from_secs(65), everywhere: true }
        );
        for wild in ["-1", "NaN", "1e300"] {
            let body = format!(r#"{{"retry_after": {wild}}}"#);
            assert!(matches!(sorted(429, &body), ChatRefused::Later { after, .. } if after <= LONGEST_WAIT), "{wild}");
        }
    }

    #[test]
    fn the_token_is_not_printed_and_travels_encrypted() {
        let client = |base: &str| ChatRest::new(&base.parse().unwrap(), SecretString::from("sesame"));
        assert!(!format!("{:?}", client("https://chat.example").unwrap()).contains("sesame"));
        assert!(client("http://chat.example").is_err());
        assert!(client("http://127.0.0.1:4010").is_ok());
    }

    #[test]
    fn a_used_up_allowance_names_its_pause() {
        let mut headers = HeaderMap::new();
        headers.insert("x-ratelimit-remaining", "1".parse().unwrap());
        headers.insert("x-ratelimit-reset-after", "2.5".parse().unwrap());
        assert_eq!(pause(&headers), None);
        headers.insert("x-ratelimit-remaining", "0".parse().unwrap());
        assert_eq!(pause(&headers), Some(Duration::from_millis(2_500)));
    }
}
