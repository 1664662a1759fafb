//! The gateway: says hello, takes an identification or a resume, answers heartbeats, and sends what it is told to.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use futures::{SinkExt as _, StreamExt as _};
use serde_json::{Value, json};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Notify;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::protocol::CloseFrame;

use super::{APPLICATION, GUILD};

/// Something for the gateway to do with the connection that stands.
#[derive(Debug, Clone)]
pub enum Do {
    /// An event.
    Dispatch(&'static str, Value),
    /// Another frame, by its number.
    Frame(u8, Value),
    /// Closes the connection.
    Close(u16),
}

#[derive(Debug, Default)]
pub struct Seen {
    /// Frames that came, by number: 1 heartbeat, 2 identification, 6 resume.
    pub frames: Vec<u8>,
    pub connections: usize,
    sequence: u64,
    to_do: VecDeque<Do>,
    /// The connection with the session: the only one that does what there is to do.
    session: Option<usize>,
}

#[derive(Clone)]
pub struct FakeGateway {
    pub url: String,
    seen: Arc<Mutex<Seen>>,
    changed: Arc<Notify>,
}

impl FakeGateway {
    /// `silent` takes connections and never says a word.
    pub async fn start(silent: bool) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("ws://{}", listener.local_addr().unwrap());
        let fake = Self { url, seen: Arc::default(), changed: Arc::default() };
        let serving = fake.clone();
        tokio::spawn(async move { serving.serve(listener, silent).await });
        fake
    }

    pub fn does(&self, what: Do) {
        self.seen.lock().unwrap().to_do.push_back(what);
        self.changed.notify_waiters();
    }

    pub fn dispatch(&self, event: &'static str, data: Value) {
        self.does(Do::Dispatch(event, data));
    }

    pub fn count(&self, frame: u8) -> usize {
        self.seen.lock().unwrap().frames.iter().filter(|seen| **seen == frame).count()
    }

    /// Waits until so many frames of a number have come.
    pub async fn until(&self, frame: u8, times: usize) {
        let waiting = async {
            loop {
                let changed = self.changed.notified();
                tokio::pin!(changed);
                changed.as_mut().enable();
                if self.count(frame) >= times {
                    return;
                }
                changed.await;
            }
        };
        let waited = tokio::time::timeout(Duration::from_secs(30), waiting).await;
        assert!(waited.is_ok(), "frame {frame} did not come {times} times: {:?}", self.seen.lock().unwrap());
    }

    /// Connections side by side: a client opens the next before it lets go of the last.
    async fn serve(self, listener: TcpListener, silent: bool) {
        let mut held = Vec::new();
        loop {
            let Ok((stream, _)) = listener.accept().await else { return };
            if silent {
                held.push(stream);
                continue;
            }
            let serving = self.clone();
            tokio::spawn(async move {
                let Ok(socket) = tokio_tungstenite::accept_async(stream).await else { return };
                let number = {
                    let mut seen = serving.seen.lock().unwrap();
                    seen.connections += 1;
                    seen.connections
                };
                serving.connection(socket, number).await;
            });
        }
    }

    /// What there is to do next on this connection, while it has the session.
    async fn next(&self, number: usize) -> Do {
        loop {
            let changed = self.changed.notified();
            tokio::pin!(changed);
            changed.as_mut().enable();
            {
                let mut seen = self.seen.lock().unwrap();
                if seen.session == Some(number)
                    && let Some(what) = seen.to_do.pop_front()
                {
                    return what;
                }
            }
            changed.await;
        }
    }

    async fn connection(&self, mut socket: WebSocketStream<TcpStream>, number: usize) {
        self.say(&mut socket, 10, json!({"heartbeat_interval": 41_250}), None).await;
        loop {
            tokio::select! {
                frame = socket.next() => {
                    let Some(Ok(frame)) = frame else { return };
                    let Ok(text) = frame.to_text() else { continue };
                    let Ok(frame) = serde_json::from_str::<Value>(text) else { continue };
                    if self.heard(&mut socket, &frame).await {
                        self.session(Some(number));
                    }
                }
                what = self.next(number) => match what {
                    Do::Dispatch(event, data) => self.say(&mut socket, 0, data, Some(event)).await,
                    Do::Frame(op, data) => {
                        // Reconnect, invalid session: what comes next waits for the session after.
                        if matches!(op, 7 | 9) {
                            self.session(None);
                        }
                        self.say(&mut socket, op, data, None).await;
                    }
                    Do::Close(code) => {
                        self.session(None);
                        let frame = CloseFrame { code: code.into(), reason: "".into() };
                        let _ = socket.close(Some(frame)).await;
                        return;
                    }
                },
            }
        }
    }

    fn session(&self, number: Option<usize>) {
        self.seen.lock().unwrap().session = number;
        self.changed.notify_waiters();
    }

    /// Whether there is a session now.
    async fn heard(&self, socket: &mut WebSocketStream<TcpStream>, frame: &Value) -> bool {
        let number = u8::try_from(frame["op"].as_u64().unwrap_or(99)).unwrap();
        let session = match number {
            1 => {
                self.say(socket, 11, Value::Null, None).await;
                false
            }
            2 => {
                self.say(socket, 0, self.ready(frame), Some("READY")).await;
                true
            }
            6 => {
                self.say(socket, 0, json!({}), Some("RESUMED")).await;
                true
            }
            _ => false,
        };
        self.seen.lock().unwrap().frames.push(number);
        self.changed.notify_waiters();
        session
    }

    fn ready(&self, identify: &Value) -> Value {
        json!({
            "v": 10, "user": user(APPLICATION, true), "guilds": [{"id": GUILD, "unavailable": true}],
            "session_id": "session", "resume_gateway_url": self.url, "shard": identify["d"]["shard"],
            "application": {"id": APPLICATION, "flags": 0},
        })
    }

    async fn say(&self, socket: &mut WebSocketStream<TcpStream>, op: u8, data: Value, event: Option<&str>) {
        let sequence = event.map(|_| {
            let mut seen = self.seen.lock().unwrap();
            seen.sequence += 1;
            seen.sequence
        });
        let frame = json!({"op": op, "d": data, "s": sequence, "t": event});
        let _ = socket.send(Message::Text(frame.to_string())).await;
    }
}

fn user(id: &str, bot: bool) -> Value {
    json!({"id": id, "username": "casey", "discriminator": "0", "global_name": "Casey", "avatar": null, "bot": bot,
           "public_flags": 0, "verified": true, "mfa_enabled": false, "flags": 0, "email": null})
}

fn interaction(id: &str, by: &str, kind: u8, data: Value) -> Value {
    let member = json!({"user": user(by, false), "nick": null, "avatar": null, "roles": [],
        "joined_at": "2026-01-01T00:00:00+00:00", "deaf": false, "mute": false, "flags": 0, "pending": false,
        "permissions": "2147483647", "premium_since": null, "communication_disabled_until": null});
    json!({"id": id, "application_id": APPLICATION, "token": format!("token-{id}"), "version": 1, "type": kind,
        "guild_id": GUILD, "channel_id": super::EQUIPMENT, "member": member, "data": data, "locale": "en-US",
        "guild_locale": "en-US", "app_permissions": "2147483647", "entitlements": [],
        "authorizing_integration_owners": {"0": GUILD}, "context": 0, "attachment_size_limit": 10_485_760})
}

fn message(id: &str, by: &str, text: &str) -> Value {
    json!({"id": id, "channel_id": super::direct_channel(by), "author": user(by, false), "content": text,
        "timestamp": "2026-09-15T11:30:00+00:00", "edited_timestamp": null, "tts": false, "mention_everyone": false,
        "mentions": [], "mention_roles": [], "attachments": [], "embeds": [], "pinned": false, "type": 0, "flags": 0,
        "components": []})
}

/// Somebody uses a command.
pub fn command(id: &str, by: &str, name: &str, options: &[(&str, &str)]) -> Value {
    let options: Vec<Value> =
        options.iter().map(|(name, value)| json!({"type": 3, "name": name, "value": value})).collect();
    interaction(id, by, 2, json!({"id": "160000000000000001", "name": name, "type": 1, "options": options}))
}

/// Somebody presses a button, or picks from a menu.
pub fn control(id: &str, by: &str, control: &str, picked: Option<&str>) -> Value {
    let data = match picked {
        None => json!({"custom_id": control, "component_type": 2}),
        Some(value) => json!({"custom_id": control, "component_type": 3, "values": [value]}),
    };
    let mut interaction = interaction(id, by, 3, data);
    interaction["message"] = message("150000000000000009", APPLICATION, "post");
    interaction
}

/// Somebody writes to the bot.
pub fn written(id: &str, by: &str, text: &str) -> Value {
    message(id, by, text)
}
