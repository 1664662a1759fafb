//! Two workers on one queue and a carrier so slow that what is claimed together outlasts its lease.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use browline::channel::sms::SmsCarrier;
use browline::clock::Clock;
use browline::config::Config;
use browline::desk::{Desk, Identity};
use browline::intake::SourceFile;
use browline::store::Store;
use browline::trade::roster::ProgramId;
use browline::trade::time::Moment;
use browline::wording::Wording;
use chrono::TimeDelta;

use crate::fake_carrier::{FakeCarrier, Fault, Options};
use crate::program::SPEED;
use crate::roster;

const CONFIG: &str = r#"
[carrier]
segments_per_second = 0.0

[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"
times = { check = "06:45", quiet_until = "06:30" }
teams = { varsity = { name = "Varsity" } }
"#;

async fn worker(name: &str, address: &str, carrier: &FakeCarrier, clock: &Clock) -> Desk {
    let config = Config::parse("test.toml", CONFIG, |_| None).unwrap();
    let wordings = BTreeMap::from([(ProgramId::from("larkspur"), Wording::embedded())]);
    let channel = Arc::new(SmsCarrier::new(carrier.settings()).unwrap());
    let identity = Identity { worker: name.to_owned(), seed: 7 };
    Desk::open(Store::open(address).await.unwrap(), config, wordings, channel, clock.clone(), identity)
}

/// Texts to hand over: as many as one worker claims at once.
const TEXTS: usize = 200;

/// A lease lasts a second and a half here; to hand over all that one claim takes, two and a half. The second worker has
/// nothing to do but to wait for the first one's lease to run out.
pub async fn each_text_once(address: &str) {
    let clock = Clock::manual(Moment::parse("2026-09-15T06:45:00-05:00").unwrap());
    let carrier = FakeCarrier::start_with(Options { clock: clock.clone(), ..Options::default() }).await;
    let one = worker("one", address, &carrier, &clock).await;
    let two = worker("two", address, &carrier, &clock).await;
    let athletes = roster::athletes(1);
    let files: Vec<SourceFile> = roster::files(&athletes[..TEXTS / 2])
        .into_iter()
        .map(|(name, text)| SourceFile { name: name.to_owned(), bytes: text.into_bytes() })
        .collect();
    one.import(&ProgramId::from("larkspur"), &files, clock.now(), false).await.unwrap();
    one.tick(clock.now()).await.unwrap();
    // Slow to take texts, quick to list them: the second worker overtakes the first.
    carrier.next([Fault::TakenSlow(Duration::from_millis(200)); TEXTS * 2]);
    clock.set_speed(SPEED);
    tokio::join!(send_all(&one, &carrier), send_all(&two, &carrier));
    assert_eq!(carrier.repeated(), []);
    assert_eq!(carrier.sent_count(), TEXTS);
}

/// Sends what there is, again and again, until all is out.
async fn send_all(worker: &Desk, carrier: &FakeCarrier) {
    let end = Clock::system().now().plus(TimeDelta::seconds(40));
    while carrier.sent_count() < TEXTS {
        worker.send_due(worker.clock().now()).await.unwrap();
        assert!(Clock::system().now() < end, "{} of {TEXTS} texts went out", carrier.sent_count());
        Clock::system().sleep(TimeDelta::milliseconds(20)).await;
    }
}
