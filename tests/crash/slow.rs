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

use crate::fake_carrier::{FakeCarrier, Options};
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

/// A lease lasts a second and a half here; to hand over all that one claim takes, two and a half.
pub async fn each_text_once(address: &str) {
    let clock = Clock::manual(Moment::parse("2026-09-15T06:45:00-05:00").unwrap());
    let carrier = FakeCarrier::start_with(Options { clock: clock.clone(), ..Options::default() }).await;
    let one = worker("one", address, &carrier, &clock).await;
    let two = worker("two", address, &carrier, &clock).await;
    let athletes = roster::athletes(1);
    let files: Vec<SourceFile> = roster::files(&athletes[..200])
        .into_iter()
        .map(|(name, text)| SourceFile { name: name.to_owned(), bytes: text.into_bytes() })
        .collect();
    one.import(&ProgramId::from("larkspur"), &files, clock.now(), false).await.unwrap();
    one.tick(clock.now()).await.unwrap();
    carrier.latency(Duration::from_millis(200));
    clock.set_speed(SPEED);
    let end = Clock::system().now().plus(TimeDelta::seconds(40));
    while carrier.sent_count() < 400 {
        let (first, second) = tokio::join!(one.send_due(clock.now()), two.send_due(clock.now()));
        first.unwrap();
        second.unwrap();
        assert!(Clock::system().now() < end, "{} of 400 texts went out", carrier.sent_count());
    }
    assert_eq!(carrier.repeated(), []);
    assert_eq!(carrier.sent_count(), 400);
}
