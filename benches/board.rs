//! Today's page under many readers: a program of 10,000 athletes, 300 helmets on the fix list, 50 readers who ask again as
//! soon as they are answered, while replies arrive. Against a bare handler that returns the same bytes.
//!
//! `BROWLINE_BENCH_SECONDS` is how long each side is read (default 8).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

mod common;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use axum::Router;
use axum::response::Html;
use axum::routing::get;
use browline::channel::simulated::{SimulatedCarrier, SimulatedSettings};
use browline::clock::Clock;
use browline::desk::Desk;
use browline::desk::sign_in::hash;
use browline::trade::phone::Phone;
use browline::web::board::{Board, Opening, SHARED_FOR, router};
use common::{Engine, at, config, desk, numbers, program, program_number, rounds};
use tokio::net::TcpListener;
use tokio::sync::watch;
use url::Url;

const ATHLETES: usize = 10_000;
const ITEMS: usize = 300;
const READERS: usize = 50;
/// Replies a second that arrive meanwhile: a league of 10,000 answers within ten minutes.
const REPLIES_A_SECOND: u64 = 17;
/// Answered before: the rest of the morning's replies arrive while the page is read, and some stay silent.
const ANSWERED: usize = 9_000;

fn seconds() -> Duration {
    let seconds = std::env::var("BROWLINE_BENCH_SECONDS").map_or(8, |seconds| seconds.parse().expect("a number"));
    Duration::from_secs(seconds)
}

fn main() {
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    runtime.block_on(async {
        for engine in Engine::all() {
            measure(&engine).await;
        }
    });
}

async fn measure(engine: &Engine) {
    let prepared = engine.prepared(ATHLETES, true, false).await;
    let clock = Clock::practice(at("2026-09-15T13:00:00-05:00"), 1.0);
    let desk = desk(&prepared, &config(1, ""), &clock, None).await;
    answer(&desk, &clock).await;
    let cookie = sign_in(&desk, &clock).await;
    let (_stop, closing) = watch::channel(false);
    let opening = Opening {
        desk: desk.clone(),
        public_url: Url::parse("http://127.0.0.1/").unwrap(),
        seed: [7; 32],
        shared_for: SHARED_FOR,
        closing,
    };
    let board = serve(router(Board::open(opening).unwrap())).await;
    let page = page(&board, &cookie).await;
    let rows = page.matches("name=take").count();
    assert!(rows >= ITEMS, "{rows} rows on the page");
    let bytes = page.len();
    let same: &'static str = Box::leak(page.into_boxed_str());
    let bare = serve(Router::new().route("/board", get(move || async move { Html(same) }))).await;
    println!("{}: {ATHLETES} athletes, {rows} helmets on the list, {READERS} readers: {bytes} bytes", engine.name());
    assert!(bytes < 60_000, "the page is {bytes} bytes");
    let next = Arc::new(AtomicUsize::new(ANSWERED));
    let mut ratios = Vec::new();
    for _ in 0..rounds().min(3) {
        let alone = read(&bare, &cookie).await;
        let arriving = Arc::new(AtomicBool::new(true));
        let replies = tokio::spawn(arrive(desk.clone(), clock.clone(), Arc::clone(&next), Arc::clone(&arriving)));
        let shared = read(&board, &cookie).await;
        arriving.store(false, Ordering::Relaxed);
        let heard = replies.await.unwrap();
        println!("  bare {alone}\n  page {shared}   ({heard} replies meanwhile)");
        ratios.push(shared.p99.as_secs_f64() / alone.p99.as_secs_f64());
    }
    ratios.sort_by(f64::total_cmp);
    println!(
        "  p99 against the bare handler, same run: {:.1} times (median of {})",
        ratios[ratios.len() / 2],
        ratios.len()
    );
    desk.store().close().await;
    engine.drop(&prepared).await;
}

/// What readers met.
struct Read {
    answers: usize,
    median: Duration,
    p99: Duration,
    most: Duration,
}

impl std::fmt::Display for Read {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let millis = |time: Duration| time.as_secs_f64() * 1e3;
        write!(
            out,
            "{:>7.2} ms median {:>8.2} ms p99 {:>8.2} ms most, {} answers",
            millis(self.median),
            millis(self.p99),
            millis(self.most),
            self.answers
        )
    }
}

/// The morning's replies so far: 300 with something off, the rest fine.
async fn answer(desk: &Desk, clock: &Clock) {
    let numbers = numbers(ATHLETES);
    for (index, number) in numbers.iter().enumerate().take(ANSWERED) {
        let text = match index % 3 {
            _ if index >= ITEMS => "ok",
            0 => "strap broke",
            1 => "mask is loose",
            _ => "cheek pads loose",
        };
        reply(desk, clock, number, text).await;
    }
}

async fn reply(desk: &Desk, clock: &Clock, from: &str, text: &str) {
    let carrier = SimulatedCarrier::new(clock.clone(), SimulatedSettings::default());
    let (from, to) = (Phone::parse(from).unwrap(), Phone::parse(&program_number(0)).unwrap());
    let mut text = carrier.write(&from, &to, text, Vec::new());
    static SENT: AtomicUsize = AtomicUsize::new(0);
    text.carrier_id = format!("SM{:032}", SENT.fetch_add(1, Ordering::Relaxed));
    desk.receive(text, clock.now()).await.unwrap();
}

/// Replies at their pace, until told to stop; returns how many came.
async fn arrive(desk: Desk, clock: Clock, next: Arc<AtomicUsize>, on: Arc<AtomicBool>) -> usize {
    let numbers = numbers(ATHLETES);
    let mut every = tokio::time::interval(Duration::from_millis(1_000 / REPLIES_A_SECOND));
    let mut heard = 0;
    while on.load(Ordering::Relaxed) {
        every.tick().await;
        let index = next.fetch_add(1, Ordering::Relaxed);
        reply(&desk, &clock, &numbers[index % ATHLETES], "ok").await;
        heard += 1;
    }
    heard
}

async fn sign_in(desk: &Desk, clock: &Clock) -> String {
    let cole = Phone::parse("+13125550103").unwrap();
    desk.send_sign_in(&program(0), &cole, "http://x", &hash("link"), clock.now()).await.unwrap();
    desk.use_sign_in(&program(0), &hash("link"), &hash("token"), clock.now()).await.unwrap().unwrap();
    "browline=p0.token".to_owned()
}

async fn serve(routes: Router) -> String {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(axum::serve(listener, routes).into_future());
    format!("http://{address}/board")
}

async fn page(address: &str, cookie: &str) -> String {
    let answer = client().get(address).header("cookie", cookie).send().await.unwrap();
    assert_eq!(answer.status(), 200);
    answer.text().await.unwrap()
}

fn client() -> reqwest::Client {
    let _ = rustls::crypto::ring::default_provider().install_default();
    reqwest::Client::new()
}

/// So many readers for so long, each asking again when it is answered.
async fn read(address: &str, cookie: &str) -> Read {
    let end = Instant::now() + seconds();
    let client = client();
    let readers: Vec<_> = (0..READERS)
        .map(|_| {
            let (client, address, cookie) = (client.clone(), address.to_owned(), cookie.to_owned());
            tokio::spawn(async move {
                let mut times = Vec::new();
                while Instant::now() < end {
                    let start = Instant::now();
                    let answer = client.get(&address).header("cookie", &cookie).send().await.unwrap();
                    assert_eq!(answer.status(), 200);
                    let body = answer.bytes().await.unwrap();
                    assert!(body.len() > 1_000);
                    times.push(start.elapsed());
                }
                times
            })
        })
        .collect();
    let mut times = Vec::new();
    for reader in readers {
        times.extend(reader.await.unwrap());
    }
    times.sort();
    let part = |part: usize| times[(times.len() * part / 100).min(times.len() - 1)];
    Read { answers: times.len(), median: part(50), p99: part(99), most: *times.last().unwrap() }
}
