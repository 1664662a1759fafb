//! A carrier on loopback that speaks the REST description, for tests and benches of the whole program.
//!
//! It keeps what it took as long as it lives, so that a program killed and started again can be asked about: who got
//! what, and how often. It fails as told: by a script for the next calls, by a seeded plan, by number. Status callbacks
//! and inbound texts are signed as the carrier signs them, and go to loopback addresses alone.
//!
//! Dates in answers are those of the clock in [`Options`]: give it the program's own when that is not the machine's.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a stand-in for tests")]

#[path = "fake_carrier/line.rs"]
mod line;
#[path = "fake_carrier/rest.rs"]
mod rest;

use std::collections::{HashMap, HashSet, VecDeque};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::routing::{get, post};
use base64::Engine as _;
use browline::channel::signature;
use browline::channel::sms::SmsSettings;
use browline::clock::Clock;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use secrecy::SecretString;
use serde_json::Value;
use tokio::net::TcpListener;
use url::Url;

use line::{Cut, Lines};
use rest::{create, fetch, list};

/// How the carrier is set up.
pub struct Options {
    /// Account id: `AC` and 32 hexadecimal digits.
    pub account: String,
    /// Account token, which also signs its calls.
    pub token: String,
    /// Gives the dates of messages.
    pub clock: Clock,
    /// Whether every exchange is kept, see [`FakeCarrier::exchanges`].
    pub record: bool,
    /// Whether a message with a `StatusCallback` is reported as sent and delivered.
    pub callbacks: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            account: format!("AC{:032x}", 0xb20),
            token: "a-token-for-tests".to_owned(),
            clock: Clock::system(),
            record: false,
            callbacks: false,
        }
    }
}

/// What happens to one call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// Nothing: it is served.
    None,
    /// 429, never processed, with these seconds in `Retry-After`.
    TooMany(Option<u64>),
    /// This status, and nothing was taken.
    Status(u16),
    /// The message is taken, and answered with this status.
    TakenStatus(u16),
    /// The connection breaks, and nothing was taken.
    Drop,
    /// The message is taken, and the connection breaks.
    TakenDrop,
    /// The message is taken, and answered after this time.
    TakenSlow(Duration),
}

/// Shares of calls that fail, drawn in the order of calls; their sum is at most 1.
#[derive(Debug, Clone, Copy, Default)]
pub struct Plan {
    /// Decides the draws.
    pub seed: u64,
    /// [`Fault::TooMany`] with one second.
    pub too_many: f64,
    /// [`Fault::Status`] 500.
    pub error: f64,
    /// [`Fault::TakenStatus`] 500.
    pub error_taken: f64,
    /// [`Fault::Drop`].
    pub dropped: f64,
    /// [`Fault::TakenDrop`].
    pub dropped_taken: f64,
    /// Of lists: 503.
    pub list_error: f64,
}

/// A message that was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sent {
    /// The carrier's id.
    pub sid: String,
    /// Sender.
    pub from: String,
    /// Receiver.
    pub to: String,
    /// Text.
    pub body: String,
    /// The whole form as it came.
    pub form: Vec<(String, String)>,
    /// The carrier's word for its state.
    pub status: String,
    /// When it was made, in the form of answers.
    pub date_created: String,
}

/// A call and its answer.
#[derive(Debug, Clone)]
pub struct Exchange {
    /// GET or POST.
    pub method: &'static str,
    /// Path of the address.
    pub path: String,
    /// Query, decoded.
    pub query: Vec<(String, String)>,
    /// Form, decoded.
    pub form: Vec<(String, String)>,
    /// Status of the answer.
    pub status: u16,
    /// Body of the answer.
    pub answer: Value,
}

/// The carrier; it ends when dropped.
pub struct FakeCarrier {
    shared: Arc<Shared>,
    base_url: Url,
    server: tokio::task::JoinHandle<()>,
}

struct Shared {
    options: Options,
    authorization: String,
    state: Mutex<Book>,
    callbacks_under_way: AtomicUsize,
    caller: reqwest::Client,
}

#[derive(Default)]
struct Book {
    sent: Vec<Sent>,
    by_sid: HashMap<String, usize>,
    by_pair: HashMap<(String, String), Vec<usize>>,
    counts: HashMap<(String, String), usize>,
    script: VecDeque<Fault>,
    list_script: VecDeque<Fault>,
    plan: Plan,
    chance: Option<ChaCha8Rng>,
    refused: HashMap<String, i64>,
    undelivered: HashMap<String, i64>,
    latency: Duration,
    creates: usize,
    lists: usize,
    exchanges: Vec<Exchange>,
    callback_answers: Vec<u16>,
}

impl FakeCarrier {
    /// Starts one with the usual options on a free port.
    pub async fn start() -> Self {
        Self::start_with(Options::default()).await
    }

    /// Starts one on a free port.
    pub async fn start_with(options: Options) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.expect("a free port");
        let port = listener.local_addr().expect("a bound port").port();
        let pair = format!("{}:{}", options.account, options.token);
        let encoded = base64::engine::general_purpose::STANDARD.encode(pair);
        let shared = Arc::new(Shared {
            authorization: format!("Basic {encoded}"),
            options,
            state: Mutex::default(),
            callbacks_under_way: AtomicUsize::new(0),
            caller: caller(),
        });
        let app = Router::new()
            .route("/2010-04-01/Accounts/{account}/Messages.json", post(create).get(list))
            .route("/2010-04-01/Accounts/{account}/Messages/{file}", get(fetch))
            .with_state(Arc::clone(&shared))
            .into_make_service_with_connect_info::<Cut>();
        let server = tokio::spawn(async move {
            let _ = axum::serve(Lines(listener), app).await;
        });
        let base_url = format!("http://127.0.0.1:{port}").parse().expect("an address");
        Self { shared, base_url, server }
    }

    /// Its address, for the program's settings.
    pub fn base_url(&self) -> &Url {
        &self.base_url
    }

    /// Its account id.
    pub fn account(&self) -> &str {
        &self.shared.options.account
    }

    /// Its token.
    pub fn token(&self) -> &str {
        &self.shared.options.token
    }

    /// Settings of a client for it, with two seconds of patience.
    pub fn settings(&self) -> SmsSettings {
        SmsSettings {
            base_url: self.base_url.clone(),
            account: self.account().to_owned(),
            token: SecretString::from(self.token()),
            status_callback: None,
            timeout: Duration::from_secs(2),
        }
    }

    /// What happens to the next messages handed over, in order; then the plan goes on.
    pub fn next(&self, faults: impl IntoIterator<Item = Fault>) {
        self.lock().script.extend(faults);
    }

    /// What happens to the next lists asked for, in order.
    pub fn next_lists(&self, faults: impl IntoIterator<Item = Fault>) {
        self.lock().list_script.extend(faults);
    }

    /// Sets the plan for calls that have no script.
    pub fn plan(&self, plan: Plan) {
        let mut book = self.lock();
        book.plan = plan;
        book.chance = Some(ChaCha8Rng::seed_from_u64(plan.seed));
    }

    /// From now on messages to this number are refused with a code (21610, 21614, ...).
    pub fn refuse(&self, to: &str, code: i64) {
        self.lock().refused.insert(to.to_owned(), code);
    }

    /// From now on messages to this number are taken and then reported as undelivered with a code (30003, ...).
    pub fn undelivered(&self, to: &str, code: i64) {
        self.lock().undelivered.insert(to.to_owned(), code);
    }

    /// Takes back [`Self::refuse`] and [`Self::undelivered`].
    pub fn allow(&self, to: &str) {
        let mut book = self.lock();
        book.refused.remove(to);
        book.undelivered.remove(to);
    }

    /// Every answer takes this long.
    pub fn latency(&self, latency: Duration) {
        self.lock().latency = latency;
    }

    /// Every message taken, oldest first.
    pub fn sent(&self) -> Vec<Sent> {
        self.lock().sent.clone()
    }

    /// How many messages were taken.
    pub fn sent_count(&self) -> usize {
        self.lock().sent.len()
    }

    /// How often this text was taken for this number.
    pub fn count(&self, to: &str, body: &str) -> usize {
        self.lock().counts.get(&(to.to_owned(), body.to_owned())).copied().unwrap_or_default()
    }

    /// Who was sent the same text more than once: number, text, how often.
    pub fn repeated(&self) -> Vec<(String, String, usize)> {
        let book = self.lock();
        let more = book.counts.iter().filter(|(_, count)| **count > 1);
        more.map(|((to, body), count)| (to.clone(), body.clone(), *count)).collect()
    }

    /// The numbers that were sent anything.
    pub fn reached(&self) -> HashSet<String> {
        self.lock().sent.iter().map(|sent| sent.to.clone()).collect()
    }

    /// How many calls came to hand over a message, refused and failed ones too.
    pub fn creates(&self) -> usize {
        self.lock().creates
    }

    /// How many lists were asked for.
    pub fn lists(&self) -> usize {
        self.lock().lists
    }

    /// Every exchange, when [`Options::record`] is set.
    pub fn exchanges(&self) -> Vec<Exchange> {
        self.lock().exchanges.clone()
    }

    /// Waits until no status callback is under way; the statuses they were answered with (0 for none), in order.
    pub async fn callbacks_done(&self) -> Vec<u16> {
        while self.shared.callbacks_under_way.load(Ordering::SeqCst) > 0 {
            pause(Duration::from_millis(2)).await;
        }
        self.lock().callback_answers.clone()
    }

    fn lock(&self) -> MutexGuard<'_, Book> {
        self.shared.lock()
    }
}

impl Drop for FakeCarrier {
    fn drop(&mut self) {
        self.server.abort();
    }
}

/// Posts a text to the program's webhook as the carrier does: status and body of the answer, or why there is none.
pub async fn post_inbound(
    url: &str,
    token: &str,
    from: &str,
    to: &str,
    body: &str,
    sid: &str,
) -> Result<(u16, String), reqwest::Error> {
    post_signed(url, url, token, &inbound_form(from, to, body, sid)).await
}

/// The form that announces a text.
pub fn inbound_form(from: &str, to: &str, body: &str, sid: &str) -> Vec<(String, String)> {
    let pairs = [
        ("ToCountry", "US"),
        ("SmsMessageSid", sid),
        ("NumMedia", "0"),
        ("SmsSid", sid),
        ("SmsStatus", "received"),
        ("Body", body),
        ("FromCountry", "US"),
        ("To", to),
        ("NumSegments", "1"),
        ("MessageSid", sid),
        ("AccountSid", "AC00000000000000000000000000000000"),
        ("From", from),
        ("ApiVersion", "2010-04-01"),
    ];
    pairs.map(|(name, value)| (name.to_owned(), value.to_owned())).to_vec()
}

/// Posts a signed form to a loopback address; `signed_url` is the public address that the carrier believes it calls.
pub async fn post_signed(
    url: &str,
    signed_url: &str,
    token: &str,
    form: &[(String, String)],
) -> Result<(u16, String), reqwest::Error> {
    let response = signed(&caller(), url, signed_url, token, form).send().await?;
    let status = response.status().as_u16();
    Ok((status, response.text().await?))
}

/// A signed post that is not sent yet, by a client that keeps its connections: for benches.
pub fn signed(
    client: &reqwest::Client,
    url: &str,
    signed_url: &str,
    token: &str,
    form: &[(String, String)],
) -> reqwest::RequestBuilder {
    let host = url.parse::<Url>().expect("an address");
    assert!(matches!(host.host_str(), Some("127.0.0.1" | "localhost" | "[::1]")), "loopback only: {url}");
    let signature = signature::sign(&SecretString::from(token), signed_url, form);
    client.post(url).header(signature::HEADER, signature).form(form)
}

/// A client for calls to loopback.
pub fn caller() -> reqwest::Client {
    let _ = rustls::crypto::ring::default_provider().install_default();
    reqwest::Client::builder().no_proxy().timeout(Duration::from_secs(10)).build().expect("a client")
}

#[expect(clippy::disallowed_methods, reason = "a stand-in for a network, which has real time")]
async fn pause(time: Duration) {
    tokio::time::sleep(time).await;
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Book> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
