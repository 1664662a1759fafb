//! The SMS client against a carrier on loopback, and both against the carrier's published description.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

#[path = "channel/contract.rs"]
mod contract;
#[path = "support/fake_carrier.rs"]
mod fake_carrier;
#[path = "channel/peers.rs"]
mod peers;
#[path = "channel/signatures.rs"]
mod signatures;
#[path = "channel/webhooks.rs"]
mod webhooks;

use std::time::{Duration, Instant};

use browline::channel::sms::{SmsCarrier, SmsSettings};
use browline::channel::{Channel, DeliveryStatus, Found, NumberTrouble, Outgoing, Refused};
use browline::clock::Clock;
use browline::trade::phone::Phone;
use browline::trade::time::Moment;
use chrono::TimeDelta;
use secrecy::SecretString;

use fake_carrier::{FakeCarrier, Fault, Options, Plan};

const START: Moment = Moment::from_millis(1_788_000_000_000);
const OURS: &str = "+13125550100";

fn phone(last: u32) -> Phone {
    Phone::parse(&format!("+1312555{last:04}")).unwrap()
}

fn message(to: u32, body: &str) -> Outgoing {
    Outgoing { from: Phone::parse(OURS).unwrap(), to: phone(to), body: body.to_owned(), valid_for: None }
}

fn client(carrier: &FakeCarrier) -> SmsCarrier {
    SmsCarrier::new(carrier.settings()).unwrap()
}

/// What was sorted, without its words.
fn sort<T>(result: &Result<T, Refused>) -> &'static str {
    match result {
        Ok(_) => "good",
        Err(Refused::Retry { .. }) => "retry",
        Err(Refused::InDoubt { .. }) => "in doubt",
        Err(Refused::Number { .. }) => "number",
        Err(Refused::Message { .. }) => "message",
        Err(Refused::Everything { .. }) => "everything",
    }
}

async fn manual(record: bool) -> (FakeCarrier, Clock) {
    let clock = Clock::manual(START);
    let options = Options { clock: clock.clone(), record, ..Options::default() };
    (FakeCarrier::start_with(options).await, clock)
}

#[tokio::test]
async fn a_message_is_taken_found_and_fetched() {
    let (carrier, clock) = manual(false).await;
    let client = client(&carrier);
    let check =
        Outgoing { valid_for: Some(Duration::from_secs(5400)), ..message(123, "¿Casco bien? ok + 1 & 2 🏈") };
    let accepted = client.send(&check).await.unwrap();
    client.send(&message(124, "somebody else")).await.unwrap();

    let sent = &carrier.sent()[0];
    assert_eq!((sent.from.as_str(), sent.to.as_str()), (OURS, "+13125550123"));
    assert_eq!(sent.body, check.body);
    assert!(sent.form.contains(&("ValidityPeriod".to_owned(), "5400".to_owned())));

    let expected = Found {
        carrier_id: accepted.carrier_id.clone(),
        body: check.body.clone(),
        created_at: Some(START),
        status: DeliveryStatus::Underway,
    };
    assert_eq!(client.look(&check, clock.now()).await.unwrap(), std::slice::from_ref(&expected));
    assert_eq!(client.fetch(&accepted.carrier_id).await.unwrap(), expected);
    assert_eq!(sort(&client.fetch("SM404").await), "message");
    client.ping().await.unwrap();
}

#[tokio::test]
async fn a_look_leaves_out_what_was_made_before() {
    let (carrier, clock) = manual(false).await;
    let client = client(&carrier);
    let check = message(123, "Helmet check");
    client.send(&check).await.unwrap();
    clock.advance(TimeDelta::hours(24));
    let today = clock.now();
    assert_eq!(client.look(&check, today).await.unwrap(), [], "yesterday's is not today's");
    client.send(&check).await.unwrap();
    assert_eq!(client.look(&check, today).await.unwrap().len(), 1);
    // The carrier's clock may be behind ours by up to a minute.
    assert_eq!(client.look(&check, today.plus(TimeDelta::seconds(59))).await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_look_reads_every_page() {
    let (carrier, _) = manual(false).await;
    let client = client(&carrier);
    for number in 0..450 {
        client.send(&message(123, &format!("text {number}"))).await.unwrap();
    }
    let found = client.look(&message(123, ""), START).await.unwrap();
    let bodies: std::collections::HashSet<String> = found.into_iter().map(|one| one.body).collect();
    assert_eq!(bodies.len(), 450);
    assert_eq!(carrier.lists(), 3);
}

#[tokio::test]
async fn a_look_stops_at_what_is_older() {
    let (carrier, clock) = manual(false).await;
    let client = client(&carrier);
    for number in 0..450 {
        client.send(&message(123, &format!("text {number}"))).await.unwrap();
    }
    clock.advance(TimeDelta::hours(24));
    client.send(&message(123, "today")).await.unwrap();
    assert_eq!(client.look(&message(123, ""), clock.now()).await.unwrap().len(), 1);
    assert_eq!(carrier.lists(), 2, "the first page has a new one, the second none");
}

#[tokio::test]
async fn faults_are_sorted_by_whether_the_message_may_have_gone_out() {
    let carrier = FakeCarrier::start().await;
    let settings = SmsSettings { timeout: Duration::from_millis(300), ..carrier.settings() };
    let client = SmsCarrier::new(settings).unwrap();
    let table = [
        (Fault::None, "good", 1),
        (Fault::TooMany(Some(7)), "retry", 0),
        (Fault::TooMany(None), "retry", 0),
        (Fault::Status(500), "in doubt", 0),
        (Fault::Status(503), "in doubt", 0),
        (Fault::TakenStatus(500), "in doubt", 1),
        (Fault::Drop, "in doubt", 0),
        (Fault::TakenDrop, "in doubt", 1),
        (Fault::TakenSlow(Duration::from_secs(2)), "in doubt", 1),
        (Fault::Status(401), "everything", 0),
    ];
    for (index, (fault, expected, taken)) in table.into_iter().enumerate() {
        let body = format!("text {index}");
        carrier.next([fault]);
        let result = client.send(&message(123, &body)).await;
        assert_eq!(sort(&result), expected, "{fault:?}");
        assert_eq!(carrier.count("+13125550123", &body), taken, "{fault:?}");
        if let (Fault::TooMany(seconds), Err(Refused::Retry { after, .. })) = (fault, result) {
            assert_eq!(after, seconds.map(Duration::from_secs));
        }
    }
    assert_eq!(carrier.creates(), table.len(), "nothing is sent again by the client itself");
}

#[tokio::test]
async fn where_nobody_listens_nothing_was_sent() {
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let carrier = FakeCarrier::start().await;
    let settings = SmsSettings { base_url: format!("http://127.0.0.1:{port}").parse().unwrap(), ..carrier.settings() };
    let client = SmsCarrier::new(settings).unwrap();
    assert_eq!(sort(&client.send(&message(123, "x")).await), "retry");
    assert_eq!(sort(&client.look(&message(123, "x"), START).await), "in doubt");
}

#[tokio::test]
async fn a_redirect_is_not_followed() {
    let elsewhere = FakeCarrier::start().await;
    let location = format!("{}2010-04-01/Accounts/{}/Messages.json", elsewhere.base_url(), elsewhere.account());
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    let to = axum::response::Redirect::temporary(&location);
    let app = axum::Router::new().fallback(axum::routing::any(async || to));
    tokio::spawn(async move { axum::serve(listener, app).await });
    let settings = SmsSettings { base_url: base.parse().unwrap(), ..elsewhere.settings() };
    let client = SmsCarrier::new(settings).unwrap();
    assert_eq!(sort(&client.send(&message(123, "x")).await), "in doubt");
    assert_eq!(sort(&client.look(&message(123, "x"), START).await), "in doubt");
    assert_eq!((elsewhere.creates(), elsewhere.lists()), (0, 0));
}

#[tokio::test]
async fn a_look_that_fails_leaves_the_message_in_doubt() {
    let (carrier, _) = manual(false).await;
    let client = client(&carrier);
    let table = [
        (Fault::TooMany(Some(1)), "in doubt"),
        (Fault::Status(400), "in doubt"),
        (Fault::Status(500), "in doubt"),
        (Fault::Drop, "in doubt"),
        (Fault::Status(401), "everything"),
    ];
    for (fault, expected) in table {
        carrier.next_lists([fault]);
        assert_eq!(sort(&client.look(&message(123, "x"), START).await), expected, "{fault:?}");
    }
}

#[tokio::test]
async fn refusals_blame_the_number_the_message_or_the_account() {
    let carrier = FakeCarrier::start().await;
    let client = client(&carrier);
    let table = [
        (21610, NumberTrouble::OptedOut),
        (21211, NumberTrouble::Invalid),
        (21614, NumberTrouble::NotMobile),
        (21612, NumberTrouble::NoRoute),
    ];
    for (code, trouble) in table {
        carrier.refuse("+13125550123", code);
        let refused = client.send(&message(123, "x")).await.unwrap_err();
        assert!(matches!(refused, Refused::Number { code: c, trouble: t, .. } if c == code && t == trouble));
    }
    carrier.allow("+13125550123");
    client.send(&message(123, "x")).await.unwrap();
    let long = client.send(&message(123, &"x".repeat(1601))).await.unwrap_err();
    assert!(matches!(long, Refused::Message { code: 21617, .. }), "{long:?}");

    let wrong = SmsSettings { token: SecretString::from("wrong-token"), ..carrier.settings() };
    let wrong = SmsCarrier::new(wrong).unwrap();
    let halted = wrong.send(&message(123, "y")).await.unwrap_err();
    assert!(matches!(&halted, Refused::Everything { why } if !why.contains("wrong-token")), "{halted:?}");
    assert_eq!(sort(&wrong.ping().await), "everything");
    let stranger = SmsSettings { account: "AC0".to_owned(), ..carrier.settings() };
    assert_eq!(sort(&SmsCarrier::new(stranger).unwrap().send(&message(123, "y")).await), "everything");
    assert_eq!(carrier.count("+13125550123", "y"), 0);
}

#[tokio::test]
async fn who_looks_first_sends_everything_once() {
    let (carrier, _) = manual(false).await;
    let share = 0.12;
    carrier.plan(Plan {
        seed: 11,
        too_many: share,
        error: share,
        error_taken: share,
        dropped: share,
        dropped_taken: share,
        list_error: share,
    });
    let client = client(&carrier);
    for to in 100..200 {
        let check = message(to, "Helmet check");
        let mut result = client.send(&check).await;
        while let Err(refused) = result {
            let taken = match refused {
                Refused::InDoubt { .. } => {
                    client.look(&check, START).await.map(|found| found.iter().any(|one| one.carries(&check)))
                }
                _ => Ok(false),
            };
            match taken {
                Ok(true) => break,
                Ok(false) => result = client.send(&check).await,
                Err(still) => result = Err(still),
            }
        }
    }
    assert_eq!(carrier.reached().len(), 100);
    assert_eq!(carrier.repeated(), []);
    assert!(carrier.creates() > 150, "faults happened: {} calls", carrier.creates());
}

/// Not a benchmark: a floor under which it would be no use for one.
#[tokio::test]
async fn the_stand_in_is_fast_enough_for_benches() {
    let carrier = FakeCarrier::start().await;
    let client = client(&carrier);
    let started = Instant::now();
    let mut tasks = tokio::task::JoinSet::new();
    for lane in 0..16 {
        let client = client.clone();
        tasks.spawn(async move {
            for number in 0..125 {
                client.send(&message(100 + lane, &format!("text {number}"))).await.unwrap();
            }
        });
    }
    tasks.join_all().await;
    let rate = 2000.0 / started.elapsed().as_secs_f64();
    println!("{rate:.0} messages a second, client and stand-in in one thread");
    assert_eq!(carrier.sent_count(), 2000);
    assert!(rate > 100.0, "{rate:.0} messages a second");
}
