//! Messages a second against a carrier on loopback, unpaced, against a bare loop of the same posts with the same HTTP
//! library, as many side by side.
//!
//! A: `send_due` over a full queue: claim, hand over, note. B: the same forms posted by reqwest. The stand-in runs in a
//! runtime of its own, the same for both. Alternating.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

mod common;
#[path = "../tests/support/fake_carrier.rs"]
mod fake_carrier;

use std::sync::Arc;
use std::time::Duration;

use browline::channel::sms::SmsCarrier;
use browline::clock::Clock;
use common::{CHECK, Engine, at, config, desk, median, rounds, spread, timed};
use fake_carrier::{FakeCarrier, Sent, caller};
use futures::StreamExt as _;

/// Each gets a welcome and a check.
const ATHLETES: usize = 4_000;
/// As the program does.
const SIDE_BY_SIDE: usize = 16;

fn main() {
    let runtime =
        |threads| tokio::runtime::Builder::new_multi_thread().worker_threads(threads).enable_all().build().unwrap();
    let (ours, theirs) = (runtime(2), runtime(1));
    for engine in Engine::all() {
        let prepared = ours.block_on(engine.prepared(ATHLETES, true, false));
        let (mut bare, mut whole) = (Vec::new(), Vec::new());
        let mut forms: Vec<Sent> = Vec::new();
        for round in 0..=rounds() {
            let carrier = theirs.block_on(FakeCarrier::start());
            let address = ours.block_on(engine.copy(&prepared));
            let time = ours.block_on(queue(&address, &carrier));
            ours.block_on(engine.drop(&address));
            assert_eq!(carrier.sent_count(), ATHLETES * 2);
            assert!(carrier.repeated().is_empty());
            if round == 0 {
                // Not counted: it makes the forms, and warms up.
                forms = carrier.sent();
                continue;
            }
            whole.push(time);

            let carrier = theirs.block_on(FakeCarrier::start());
            bare.push(ours.block_on(posts(&carrier, &forms)));
            assert_eq!(carrier.sent_count(), ATHLETES * 2);
        }
        let rate = |times: &[Duration]| (ATHLETES * 2) as f64 / median(times).as_secs_f64();
        println!(
            "{}: {} texts, {SIDE_BY_SIDE} side by side: from the queue {} = {:.0}/s, bare posts {} = {:.0}/s; ratio {:.2}",
            engine.name(),
            ATHLETES * 2,
            spread(&whole),
            rate(&whole),
            spread(&bare),
            rate(&bare),
            rate(&whole) / rate(&bare),
        );
    }
}

async fn queue(address: &str, carrier: &FakeCarrier) -> Duration {
    let clock = Clock::manual(at(CHECK));
    let client = SmsCarrier::new(carrier.settings()).unwrap();
    let desk = desk(address, &config(1, ""), &clock, Some(Arc::new(client))).await;
    let (time, report) = timed(desk.send_due(clock.now())).await;
    assert_eq!(report.unwrap().sent, ATHLETES * 2);
    desk.store().close().await;
    time
}

async fn posts(carrier: &FakeCarrier, forms: &[Sent]) -> Duration {
    let client = caller();
    let url = format!("{}2010-04-01/Accounts/{}/Messages.json", carrier.base_url(), carrier.account());
    let post = |form: &Sent| {
        let request = client.post(&url).basic_auth(carrier.account(), Some(carrier.token())).form(&form.form);
        async move {
            let answer = request.send().await.unwrap();
            assert_eq!(answer.status(), 201);
            answer.bytes().await.unwrap()
        }
    };
    let work = futures::stream::iter(forms).map(post).buffer_unordered(SIDE_BY_SIDE).for_each(|_| async {});
    timed(work).await.0
}
