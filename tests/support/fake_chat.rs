//! A chat platform on loopback: its REST interface, as far as a bot uses it, and its gateway. It keeps what was posted, drops
//! a second post of the same nonce as the platform does, and can be told to refuse.
//!
//! Nothing here sleeps: [`FakeChat::until`] waits for a change, and fails when none comes.

#![allow(dead_code, reason = "each test binary uses its part")]

#[path = "fake_chat/gateway.rs"]
pub mod gateway;

use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard};
use std::time::Duration;

use axum::Router;
use axum::body::Bytes;
use axum::http::{HeaderMap, Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use axum::routing::any;
use serde_json::{Value, json};
use tokio::sync::Notify;

pub const GUILD: &str = "110000000000000001";
pub const EQUIPMENT: &str = "120000000000000001";
pub const MEDICAL: &str = "120000000000000002";
pub const CONTACT: &str = "120000000000000003";
pub const APPLICATION: &str = "130000000000000001";
pub const TOKEN: &str = "a-token-for-tests";

/// A request as it came, and what it was answered.
#[derive(Debug, Clone)]
pub struct Call {
    pub method: String,
    pub path: String,
    pub body: Value,
    pub status: u16,
}

/// A post that stands.
#[derive(Debug, Clone)]
pub struct Standing {
    pub id: String,
    pub channel: String,
    pub body: Value,
    pub edits: usize,
}

impl Standing {
    pub fn text(&self) -> &str {
        self.body["content"].as_str().unwrap_or_default()
    }

    /// Every control under it.
    pub fn controls(&self) -> Vec<Value> {
        let rows = self.body["components"].as_array().cloned().unwrap_or_default();
        rows.iter().flat_map(|row| row["components"].as_array().cloned().unwrap_or_default()).collect()
    }

    /// The id of the control whose id holds this action.
    pub fn control(&self, action: &str) -> String {
        let ids = self.controls();
        let ids = ids.iter().filter_map(|control| control["custom_id"].as_str());
        let wanted = format!(":{action}");
        ids.filter(|id| id.contains(&wanted))
            .map(ToOwned::to_owned)
            .next()
            .unwrap_or_else(|| panic!("no `{action}`: {self:?}"))
    }
}

/// An answer that the next call of a kind gets.
#[derive(Debug, Clone)]
pub struct Trouble {
    /// Method and a part of the path.
    pub of: (&'static str, String),
    pub status: u16,
    pub code: i64,
    pub retry_after: Option<f64>,
    pub global: bool,
    /// Whether it is done all the same, and only the answer is lost.
    pub done: bool,
}

#[derive(Debug, Default)]
pub struct State {
    pub calls: Vec<Call>,
    pub standing: Vec<Standing>,
    pub channels: BTreeSet<String>,
    pub once: VecDeque<Trouble>,
    pub always: Vec<Trouble>,
    pub gateway: Option<String>,
    /// How often the gateway is told of, when not for ever.
    pub gateway_told: Option<usize>,
    nonces: HashMap<(String, String), String>,
    last_id: u64,
}

#[derive(Clone)]
pub struct FakeChat {
    pub base: String,
    state: Arc<Mutex<State>>,
    changed: Arc<Notify>,
}

impl FakeChat {
    pub async fn start() -> Self {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let channels = [EQUIPMENT, MEDICAL, CONTACT].map(ToOwned::to_owned).into();
        let state = State { channels, last_id: 150_000_000_000_000_000, ..State::default() };
        let fake = Self { base, state: Arc::new(Mutex::new(state)), changed: Arc::default() };
        let answering = fake.clone();
        let handler = async move |method: Method, uri: Uri, headers: HeaderMap, body: Bytes| {
            answering.answer(&method, &uri, &headers, &body)
        };
        let router = Router::new().fallback(any(handler));
        tokio::spawn(async move { axum::serve(listener, router).await });
        fake
    }

    pub fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap()
    }

    pub fn told_of_gateway(&self, url: &str) {
        self.state().gateway = Some(url.to_owned());
    }

    /// The next call of a kind fails.
    pub fn once(&self, method: &'static str, path: &str, status: u16, code: i64) {
        self.state().once.push_back(trouble(method, path, status, code));
    }

    /// The next call of a kind is asked to wait.
    pub fn slow_down(&self, method: &'static str, path: &str, seconds: f64, global: bool) {
        let slow = Trouble { retry_after: Some(seconds), global, ..trouble(method, path, 429, 0) };
        self.state().once.push_back(slow);
    }

    /// The next call of a kind is done, and its answer lost.
    pub fn lose_answer(&self, method: &'static str, path: &str) {
        let lost = Trouble { done: true, ..trouble(method, path, 502, 0) };
        self.state().once.push_back(lost);
    }

    /// Every call of a kind fails from now on.
    pub fn always(&self, method: &'static str, path: &str, status: u16, code: i64) {
        self.state().always.push(trouble(method, path, status, code));
    }

    pub fn all_well(&self) {
        self.state().always.clear();
    }

    /// What stands in a channel, oldest first.
    pub fn posts(&self, channel: &str) -> Vec<Standing> {
        self.state().standing.iter().filter(|post| post.channel == channel).cloned().collect()
    }

    /// What an account got directly, oldest first.
    pub fn direct(&self, user: &str) -> Vec<Standing> {
        self.posts(&direct_channel(user))
    }

    /// Somebody deletes a post.
    pub fn delete(&self, id: &str) {
        self.state().standing.retain(|post| post.id != id);
    }

    /// Every call, oldest first.
    pub fn all_calls(&self) -> Vec<Call> {
        self.state().calls.clone()
    }

    /// Calls of a kind, oldest first.
    pub fn calls(&self, method: &str, path: &str) -> Vec<Call> {
        self.state().calls.iter().filter(|call| call.method == method && call.path.contains(path)).cloned().collect()
    }

    /// Waits until something holds; fails after twenty seconds, with what was seen.
    pub async fn until(&self, what: &str, mut holds: impl FnMut(&State) -> bool) {
        let waiting = async {
            loop {
                let changed = self.changed.notified();
                tokio::pin!(changed);
                changed.as_mut().enable();
                if holds(&self.state()) {
                    return;
                }
                changed.await;
            }
        };
        if tokio::time::timeout(Duration::from_secs(20), waiting).await.is_err() {
            panic!("{what}: never; seen: {:#?}", self.state());
        }
    }

    fn answer(&self, method: &Method, uri: &Uri, headers: &HeaderMap, body: &Bytes) -> Response {
        let path = uri.path().trim_start_matches("/api/v10/").to_owned();
        let body: Value = serde_json::from_slice(body).unwrap_or(Value::Null);
        let authorised = headers.get(header::AUTHORIZATION).is_some_and(|value| value == &format!("Bot {TOKEN}"));
        let mut state = self.state();
        let trouble = state.trouble(method.as_str(), &path);
        let (status, answer, retry) = if !authorised {
            (401, json!({"code": 0, "message": "401: Unauthorized"}), None)
        } else {
            match trouble {
                Some(trouble) => {
                    if trouble.done {
                        state.act(method, &path, &body);
                    }
                    (trouble.status, trouble.answer(), trouble.retry_after)
                }
                None => {
                    let (status, answer) = state.act(method, &path, &body);
                    (status, answer, None)
                }
            }
        };
        state.calls.push(Call { method: method.to_string(), path, body, status });
        drop(state);
        self.changed.notify_waiters();
        let status = StatusCode::from_u16(status).unwrap();
        let mut response = (status, axum::Json(answer)).into_response();
        if let Some(seconds) = retry {
            response.headers_mut().insert("retry-after", format!("{}", seconds.ceil()).parse().unwrap());
        }
        response
    }
}

fn trouble(method: &'static str, path: &str, status: u16, code: i64) -> Trouble {
    Trouble { of: (method, path.to_owned()), status, code, retry_after: None, global: false, done: false }
}

impl Trouble {
    fn answer(&self) -> Value {
        match self.retry_after {
            Some(after) => {
                json!({"message": "You are being rate limited.", "retry_after": after, "global": self.global})
            }
            None => json!({"code": self.code, "message": "refused"}),
        }
    }
}

/// The channel of an account's direct messages.
pub fn direct_channel(user: &str) -> String {
    format!("19{}", &user[2..])
}

impl State {
    fn trouble(&mut self, method: &str, path: &str) -> Option<Trouble> {
        let of = |trouble: &Trouble| trouble.of.0 == method && path.contains(&trouble.of.1);
        if let Some(at) = self.once.iter().position(of) {
            return self.once.remove(at);
        }
        self.always.iter().find(|trouble| of(trouble)).cloned()
    }

    fn act(&mut self, method: &Method, path: &str, body: &Value) -> (u16, Value) {
        let parts: Vec<&str> = path.split('/').collect();
        match (method.as_str(), parts.as_slice()) {
            ("GET", ["gateway"]) => match &self.gateway {
                Some(url) if self.gateway_told != Some(0) => {
                    self.gateway_told = self.gateway_told.map(|times| times - 1);
                    (200, json!({"url": url}))
                }
                _ => (503, json!({"code": 0, "message": "no gateway"})),
            },
            ("GET", ["users", "@me"]) => (200, json!({"id": APPLICATION})),
            ("GET", ["channels", channel]) if self.channels.contains(*channel) => (200, json!({"id": channel})),
            ("POST", ["users", "@me", "channels"]) => {
                let channel = direct_channel(body["recipient_id"].as_str().unwrap());
                self.channels.insert(channel.clone());
                (200, json!({"id": channel, "type": 1}))
            }
            (_, ["channels", channel, ..]) if !self.channels.contains(*channel) => gone(10_003),
            ("POST", ["channels", channel, "messages"]) => self.create(channel, body),
            ("PATCH", ["channels", _, "messages", message]) => self.edit(message, body),
            ("POST", ["interactions", _, _, "callback"]) => (204, Value::Null),
            ("POST", ["webhooks", _, _]) | ("PATCH", ["webhooks", _, _, "messages", "@original"]) => {
                (200, json!({"id": "1"}))
            }
            ("PUT", ["applications", _, "guilds", _, "commands"]) => (200, json!([])),
            _ => gone(0),
        }
    }

    fn create(&mut self, channel: &str, body: &Value) -> (u16, Value) {
        let nonce = body["nonce"].as_str().unwrap_or_default().to_owned();
        if body["enforce_nonce"] == true
            && let Some(id) = self.nonces.get(&(channel.to_owned(), nonce.clone()))
        {
            return (200, json!({"id": id, "channel_id": channel}));
        }
        self.last_id += 1;
        let id = self.last_id.to_string();
        self.nonces.insert((channel.to_owned(), nonce), id.clone());
        self.standing.push(Standing { id: id.clone(), channel: channel.to_owned(), body: body.clone(), edits: 0 });
        (200, json!({"id": id, "channel_id": channel}))
    }

    fn edit(&mut self, message: &str, body: &Value) -> (u16, Value) {
        match self.standing.iter_mut().find(|post| post.id == message) {
            Some(post) => {
                post.body = body.clone();
                post.edits += 1;
                (200, json!({"id": message, "channel_id": post.channel}))
            }
            None => gone(10_008),
        }
    }
}

fn gone(code: i64) -> (u16, Value) {
    (404, json!({"code": code, "message": "Unknown"}))
}

/// Options of a command as the platform sends them.
pub fn options(named: &[(&str, &str)]) -> Vec<(String, String)> {
    named
        .iter()
        .map(|(name, value)| ((*name).to_owned(), (*value).to_owned()))
        .collect::<BTreeMap<_, _>>()
        .into_iter()
        .collect()
}
