//! A carrier on loopback that speaks the REST description, for tests and benches of the whole program.
//!
//! It keeps what it took as long as it lives, so that a program killed and started again can be asked about: who got
//! what, and how often. It fails as told: by a script for the next calls, by a seeded plan, by number. Status callbacks
//! and inbound texts are signed as the carrier signs them, and go to loopback addresses alone.
//!
//! Dates in answers are those of the clock in [`Options`]: give it the program's own when that is not the machine's.
#![allow(dead_code, reason = "each test uses its part")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a stand-in for tests"
)]

use std::collections::{HashMap, HashSet, VecDeque};
use std::io;
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;

use axum::Router;
use axum::body::Bytes;
use axum::extract::connect_info::Connected;
use axum::extract::{ConnectInfo, Path, RawQuery, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::serve::IncomingStream;
use base64::Engine as _;
use browline::channel::signature;
use browline::channel::sms::SmsSettings;
use browline::clock::Clock;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use secrecy::SecretString;
use serde_json::{Value, json};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use url::Url;
use url::form_urlencoded::parse as parse_form;

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
            .route(
                "/2010-04-01/Accounts/{account}/Messages.json",
                post(create).get(list),
            )
            .route("/2010-04-01/Accounts/{account}/Messages/{file}", get(fetch))
            .with_state(Arc::clone(&shared))
            .into_make_service_with_connect_info::<Cut>();
        let server = tokio::spawn(async move {
            let _ = axum::serve(Lines(listener), app).await;
        });
        let base_url = format!("http://127.0.0.1:{port}")
            .parse()
            .expect("an address");
        Self {
            shared,
            base_url,
            server,
        }
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
        self.lock()
            .counts
            .get(&(to.to_owned(), body.to_owned()))
            .copied()
            .unwrap_or_default()
    }

    /// Who was sent the same text more than once: number, text, how often.
    pub fn repeated(&self) -> Vec<(String, String, usize)> {
        let book = self.lock();
        let more = book.counts.iter().filter(|(_, count)| **count > 1);
        more.map(|((to, body), count)| (to.clone(), body.clone(), *count))
            .collect()
    }

    /// The numbers that were sent anything.
    pub fn reached(&self) -> HashSet<String> {
        self.lock()
            .sent
            .iter()
            .map(|sent| sent.to.clone())
            .collect()
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
        ("AccountSid", "AC00000000000000000000000000000b20"),
        ("From", from),
        ("ApiVersion", "2010-04-01"),
    ];
    pairs
        .map(|(name, value)| (name.to_owned(), value.to_owned()))
        .to_vec()
}

/// Posts a signed form to a loopback address; `signed_url` is the public address that the carrier believes it calls.
pub async fn post_signed(
    url: &str,
    signed_url: &str,
    token: &str,
    form: &[(String, String)],
) -> Result<(u16, String), reqwest::Error> {
    let response = signed(&caller(), url, signed_url, token, form)
        .send()
        .await?;
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
    assert!(
        matches!(host.host_str(), Some("127.0.0.1" | "localhost" | "[::1]")),
        "loopback only: {url}"
    );
    let signature = signature::sign(&SecretString::from(token), signed_url, form);
    client
        .post(url)
        .header(signature::HEADER, signature)
        .form(form)
}

/// A client for calls to loopback.
pub fn caller() -> reqwest::Client {
    let _ = rustls::crypto::ring::default_provider().install_default();
    reqwest::Client::builder()
        .no_proxy()
        .timeout(Duration::from_secs(10))
        .build()
        .expect("a client")
}

#[expect(
    clippy::disallowed_methods,
    reason = "a stand-in for a network, which has real time"
)]
async fn pause(time: Duration) {
    tokio::time::sleep(time).await;
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Book> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn authorised(&self, account: &str, headers: &HeaderMap) -> Result<(), Answer> {
        let given = headers
            .get(header::AUTHORIZATION)
            .and_then(|value| value.to_str().ok());
        if given != Some(&self.authorization) {
            return Err(refusal(401, 20003, "authentication failed"));
        }
        if account != self.options.account {
            return Err(refusal(404, 20404, "resource was not found"));
        }
        Ok(())
    }

    fn path(&self) -> String {
        format!("/2010-04-01/Accounts/{}/Messages", self.options.account)
    }

    fn record(&self, exchange: impl FnOnce() -> Exchange) {
        if self.options.record {
            let exchange = exchange();
            self.lock().exchanges.push(exchange);
        }
    }

    /// A message in the form of answers.
    fn message(&self, sent: &Sent) -> Value {
        json!({
            "account_sid": self.options.account,
            "api_version": "2010-04-01",
            "body": sent.body,
            "date_created": sent.date_created,
            "date_sent": null,
            "date_updated": sent.date_created,
            "direction": "outbound-api",
            "error_code": null,
            "error_message": null,
            "from": sent.from,
            "messaging_service_sid": null,
            "num_media": "0",
            "num_segments": "0",
            "price": null,
            "price_unit": null,
            "sid": sent.sid,
            "status": sent.status,
            "subresource_uris": {"media": format!("{}/{}/Media.json", self.path(), sent.sid)},
            "to": sent.to,
            "uri": format!("{}/{}.json", self.path(), sent.sid),
        })
    }

    /// Checks a form as the carrier does and takes the message.
    fn take(&self, form: &[(String, String)]) -> Result<Sent, Answer> {
        let field = |name| {
            form.iter()
                .find(|(key, _)| key == name)
                .map_or("", |(_, value)| value.as_str())
        };
        let (from, to, body) = (field("From"), field("To"), field("Body"));
        check_form(
            from,
            to,
            body,
            field("StatusCallback"),
            field("ValidityPeriod"),
        )?;
        let date_created = self.options.clock.now().utc().to_rfc2822();
        let mut book = self.lock();
        if let Some(code) = book.refused.get(to) {
            return Err(refusal(400, *code, "refused as told"));
        }
        let index = book.sent.len();
        let sent = Sent {
            sid: format!("SM{:032x}", index + 1),
            from: from.to_owned(),
            to: to.to_owned(),
            body: body.to_owned(),
            form: form.to_vec(),
            status: "queued".to_owned(),
            date_created,
        };
        book.by_sid.insert(sent.sid.clone(), index);
        book.by_pair
            .entry((sent.to.clone(), sent.from.clone()))
            .or_default()
            .push(index);
        *book
            .counts
            .entry((sent.to.clone(), sent.body.clone()))
            .or_default() += 1;
        book.sent.push(sent.clone());
        Ok(sent)
    }

    /// Reports how a message fares, in the background.
    fn call_back(self: &Arc<Self>, sent: &Sent) {
        let url = sent
            .form
            .iter()
            .find(|(name, _)| name == "StatusCallback")
            .map(|(_, url)| url.clone());
        let Some(url) = url.filter(|_| self.options.callbacks) else {
            return;
        };
        self.callbacks_under_way.fetch_add(1, Ordering::SeqCst);
        let (shared, sent) = (Arc::clone(self), sent.clone());
        tokio::spawn(async move {
            let code = shared.lock().undelivered.get(&sent.to).copied();
            for status in [
                "sent",
                if code.is_some() {
                    "undelivered"
                } else {
                    "delivered"
                },
            ] {
                let answer = shared.report(&url, &sent, status, code).await;
                let mut book = shared.lock();
                book.callback_answers.push(answer);
                let index = book.by_sid[&sent.sid];
                status.clone_into(&mut book.sent[index].status);
            }
            shared.callbacks_under_way.fetch_sub(1, Ordering::SeqCst);
        });
    }

    async fn report(&self, url: &str, sent: &Sent, status: &str, code: Option<i64>) -> u16 {
        let mut form = vec![
            ("MessageSid".to_owned(), sent.sid.clone()),
            ("SmsSid".to_owned(), sent.sid.clone()),
            ("AccountSid".to_owned(), self.options.account.clone()),
            ("MessageStatus".to_owned(), status.to_owned()),
            ("SmsStatus".to_owned(), status.to_owned()),
            ("To".to_owned(), sent.to.clone()),
            ("From".to_owned(), sent.from.clone()),
            ("ApiVersion".to_owned(), "2010-04-01".to_owned()),
        ];
        if let Some(code) = code.filter(|_| status == "undelivered") {
            form.push(("ErrorCode".to_owned(), code.to_string()));
        }
        let answer = signed(&self.caller, url, url, &self.options.token, &form)
            .send()
            .await;
        answer.map_or(0, |answer| answer.status().as_u16())
    }
}

impl Book {
    /// A draw from 0 to 1.
    fn draw(&mut self) -> f64 {
        let seed = self.plan.seed;
        let chance = self
            .chance
            .get_or_insert_with(|| ChaCha8Rng::seed_from_u64(seed));
        f64::from(chance.next_u32()) / 2_f64.powi(32)
    }

    fn next_create(&mut self) -> Fault {
        self.creates += 1;
        if let Some(fault) = self.script.pop_front() {
            return fault;
        }
        let plan = self.plan;
        let mut left = self.draw();
        let shares = [
            (plan.too_many, Fault::TooMany(Some(1))),
            (plan.error, Fault::Status(500)),
            (plan.error_taken, Fault::TakenStatus(500)),
            (plan.dropped, Fault::Drop),
            (plan.dropped_taken, Fault::TakenDrop),
        ];
        for (share, fault) in shares {
            if left < share {
                return fault;
            }
            left -= share;
        }
        Fault::None
    }

    fn next_list(&mut self) -> Fault {
        self.lists += 1;
        if let Some(fault) = self.list_script.pop_front() {
            return fault;
        }
        if self.draw() < self.plan.list_error {
            Fault::Status(503)
        } else {
            Fault::None
        }
    }
}

/// An answer before it goes out.
struct Answer {
    status: u16,
    body: Value,
    retry_after: Option<u64>,
}

impl Answer {
    fn good(status: u16, body: Value) -> Self {
        Self {
            status,
            body,
            retry_after: None,
        }
    }
}

impl IntoResponse for Answer {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).expect("a status");
        let mut response = (
            status,
            [(header::CONTENT_TYPE, "application/json")],
            self.body.to_string(),
        )
            .into_response();
        if let Some(seconds) = self.retry_after {
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, seconds.into());
        }
        response
    }
}

fn refusal(status: u16, code: i64, message: &str) -> Answer {
    let more = format!("https://carrier.example/errors/{code}");
    Answer::good(
        status,
        json!({"code": code, "message": message, "more_info": more, "status": status}),
    )
}

/// The answer of a fault that lets nothing through.
fn failure(status: u16, retry_after: Option<u64>) -> Answer {
    let answer = refusal(status, 20000 + i64::from(status), "failed as told");
    Answer {
        retry_after,
        ..answer
    }
}

fn check_form(
    from: &str,
    to: &str,
    body: &str,
    callback: &str,
    validity: &str,
) -> Result<(), Answer> {
    let digits = to.strip_prefix('+').unwrap_or_default();
    let valid =
        (7..=15).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
    let refused = if to.is_empty() {
        Some((21604, "To is required"))
    } else if from.is_empty() {
        Some((21603, "From is required"))
    } else if !valid {
        Some((21211, "To is not a valid phone number"))
    } else if body.is_empty() {
        Some((21602, "Body is required"))
    } else if body.chars().count() > 1600 {
        Some((21617, "Body is over the length limit"))
    } else if !callback.is_empty() && !callback.starts_with("http") {
        Some((21609, "StatusCallback is not a valid URL"))
    } else if !validity.is_empty()
        && !validity
            .parse()
            .is_ok_and(|seconds| (1..=36_000).contains(&seconds))
    {
        Some((99_400, "ValidityPeriod is out of range"))
    } else {
        None
    };
    refused.map_or(Ok(()), |(code, message)| Err(refusal(400, code, message)))
}

async fn create(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(cut): ConnectInfo<Cut>,
    Path(account): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let (fault, latency) = {
        let mut book = shared.lock();
        (book.next_create(), book.latency)
    };
    if !latency.is_zero() {
        pause(latency).await;
    }
    let form: Vec<(String, String)> = parse_form(&body).into_owned().collect();
    let answer = match fault {
        Fault::Drop => return cut.answer(),
        Fault::TooMany(seconds) => failure(429, seconds),
        Fault::Status(status) => failure(status, None),
        _ => taken(&shared, &account, &headers, &form),
    };
    match fault {
        Fault::TakenDrop => return cut.answer(),
        Fault::TakenSlow(time) => pause(time).await,
        _ => {}
    }
    let answer = match fault {
        Fault::TakenStatus(status) => failure(status, None),
        _ => answer,
    };
    shared.record(|| Exchange {
        method: "POST",
        path: format!("/2010-04-01/Accounts/{account}/Messages.json"),
        query: Vec::new(),
        form,
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}

fn taken(
    shared: &Arc<Shared>,
    account: &str,
    headers: &HeaderMap,
    form: &[(String, String)],
) -> Answer {
    let taken = shared
        .authorised(account, headers)
        .and_then(|()| shared.take(form));
    match taken {
        Ok(sent) => {
            shared.call_back(&sent);
            Answer::good(201, shared.message(&sent))
        }
        Err(refused) => refused,
    }
}

async fn list(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(cut): ConnectInfo<Cut>,
    Path(account): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Response {
    let (fault, latency) = {
        let mut book = shared.lock();
        (book.next_list(), book.latency)
    };
    if !latency.is_zero() {
        pause(latency).await;
    }
    let query: Vec<(String, String)> = parse_form(query.unwrap_or_default().as_bytes())
        .into_owned()
        .collect();
    let answer = match fault {
        Fault::Drop | Fault::TakenDrop => return cut.answer(),
        Fault::TooMany(seconds) => failure(429, seconds),
        Fault::Status(status) | Fault::TakenStatus(status) => failure(status, None),
        Fault::None | Fault::TakenSlow(_) => {
            let page = shared
                .authorised(&account, &headers)
                .and_then(|()| page(&shared, &query));
            page.map_or_else(|refused| refused, |page| Answer::good(200, page))
        }
    };
    shared.record(|| Exchange {
        method: "GET",
        path: format!("/2010-04-01/Accounts/{account}/Messages.json"),
        query,
        form: Vec::new(),
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}

/// One page of a list, newest first. A filter that this stand-in does not know is refused, not passed over.
fn page(shared: &Shared, query: &[(String, String)]) -> Result<Value, Answer> {
    let (mut to, mut from, mut size, mut number) = (None, None, 50_usize, 0_usize);
    for (name, value) in query {
        match name.as_str() {
            "To" => to = Some(value.as_str()),
            "From" => from = Some(value.as_str()),
            "PageSize" => size = value.parse().unwrap_or_default(),
            "Page" => number = value.parse().unwrap_or_default(),
            "PageToken" => {}
            _ => {
                return Err(refusal(
                    400,
                    99_400,
                    "a filter that this stand-in does not know",
                ));
            }
        }
    }
    if !(1..=1000).contains(&size) {
        return Err(refusal(400, 99_400, "PageSize is out of range"));
    }
    let book = shared.lock();
    let indices: Vec<usize> = match (to, from) {
        (Some(to), Some(from)) => book
            .by_pair
            .get(&(to.to_owned(), from.to_owned()))
            .cloned()
            .unwrap_or_default(),
        _ => (0..book.sent.len())
            .filter(|index| to.is_none_or(|to| book.sent[*index].to == to))
            .filter(|index| from.is_none_or(|from| book.sent[*index].from == from))
            .collect(),
    };
    let start = number * size;
    let shown: Vec<Value> = indices
        .iter()
        .rev()
        .skip(start)
        .take(size)
        .map(|index| shared.message(&book.sent[*index]))
        .collect();
    let uri = |number: usize| {
        let mut query_text = url::form_urlencoded::Serializer::new(String::new());
        query_text.extend_pairs(
            [("To", to), ("From", from)]
                .into_iter()
                .filter_map(|(name, value)| Some((name, value?))),
        );
        query_text
            .append_pair("PageSize", &size.to_string())
            .append_pair("Page", &number.to_string());
        format!("{}.json?{}", shared.path(), query_text.finish())
    };
    let next = (start + shown.len() < indices.len()).then(|| uri(number + 1));
    Ok(json!({
        "first_page_uri": uri(0),
        "next_page_uri": next,
        "previous_page_uri": number.checked_sub(1).map(uri),
        "page": number,
        "page_size": size,
        "start": start,
        "end": (start + shown.len()).saturating_sub(1),
        "uri": uri(number),
        "messages": shown,
    }))
}

async fn fetch(
    State(shared): State<Arc<Shared>>,
    Path((account, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Response {
    let sid = file.strip_suffix(".json").unwrap_or_default();
    let found = shared.authorised(&account, &headers).and_then(|()| {
        let book = shared.lock();
        let index = book
            .by_sid
            .get(sid)
            .ok_or_else(|| refusal(404, 20404, "resource was not found"))?;
        Ok(Answer::good(200, shared.message(&book.sent[*index])))
    });
    let answer = found.unwrap_or_else(|refused| refused);
    shared.record(|| Exchange {
        method: "GET",
        path: format!("/2010-04-01/Accounts/{account}/Messages/{file}"),
        query: Vec::new(),
        form: Vec::new(),
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}

/// A handle that breaks its connection: whatever is answered then never leaves.
#[derive(Debug, Clone)]
struct Cut(Arc<AtomicBool>);

impl Cut {
    fn answer(&self) -> Response {
        self.0.store(true, Ordering::SeqCst);
        StatusCode::OK.into_response()
    }
}

/// Connections that can be cut.
struct Lines(TcpListener);

struct Line {
    stream: TcpStream,
    cut: Arc<AtomicBool>,
}

impl axum::serve::Listener for Lines {
    type Io = Line;
    type Addr = Cut;

    async fn accept(&mut self) -> (Line, Cut) {
        loop {
            if let Ok((stream, _)) = self.0.accept().await {
                let _ = stream.set_nodelay(true);
                let cut = Arc::new(AtomicBool::new(false));
                return (
                    Line {
                        stream,
                        cut: Arc::clone(&cut),
                    },
                    Cut(cut),
                );
            }
            pause(Duration::from_millis(10)).await;
        }
    }

    fn local_addr(&self) -> io::Result<Cut> {
        Ok(Cut(Arc::default()))
    }
}

impl Connected<IncomingStream<'_, Lines>> for Cut {
    fn connect_info(stream: IncomingStream<'_, Lines>) -> Self {
        stream.remote_addr().clone()
    }
}

impl Line {
    fn intact(&self) -> io::Result<()> {
        if self.cut.load(Ordering::SeqCst) {
            Err(io::ErrorKind::ConnectionReset.into())
        } else {
            Ok(())
        }
    }
}

impl AsyncRead for Line {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(context, buffer)
    }
}

impl AsyncWrite for Line {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        self.intact()?;
        Pin::new(&mut self.stream).poll_write(context, bytes)
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        self.intact()?;
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
