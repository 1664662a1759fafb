//! The client against peers that nobody here wrote: the carrier's published mock and its own library. Run by
//! `tests/peers/carrier.sh`, which starts them and says where they are.

use std::time::Instant;

use browline::channel::signature;
use serde::Deserialize;

use super::webhooks::Receiver;
use super::*;

const ACCOUNT: &str = "AC00000000000000000000000000000000";

fn told(name: &str) -> String {
    std::env::var(name).unwrap_or_else(|_| panic!("{name} is not set: run tests/peers/carrier.sh"))
}

fn settings(base: &str) -> SmsSettings {
    SmsSettings {
        base_url: base.parse().unwrap(),
        account: ACCOUNT.to_owned(),
        token: SecretString::from(told("BROWLINE_CARRIER_TOKEN")),
        status_callback: None,
        timeout: Duration::from_secs(20),
    }
}

/// The mock's own dates are those of the description's examples, years ago.
const LONG_AGO: Moment = Moment::from_millis(0);

#[tokio::test]
#[ignore = "needs the carrier's mock: tests/peers/carrier.sh"]
async fn the_first_answers_are_429_twice_and_500_once() {
    let client = SmsCarrier::new(settings(&told("BROWLINE_CARRIER_TROUBLED"))).unwrap();
    let check = message(123, "Helmet check");
    for _ in 0..2 {
        let Err(Refused::Retry { after, .. }) = client.send(&check).await else { panic!("429 is not retried") };
        assert_eq!(after, Some(Duration::from_secs(1)), "the mock's Retry-After");
    }
    assert_eq!(sort(&client.send(&check).await), "in doubt");
    assert_eq!(client.look(&check, LONG_AGO).await.unwrap(), [], "it did not go out");
    let accepted = client.send(&check).await.unwrap();
    let found = client.look(&check, LONG_AGO).await.unwrap();
    assert_eq!(found.len(), 1);
    assert!(found[0].carries(&check) && found[0].carrier_id == accepted.carrier_id);
}

#[tokio::test]
#[ignore = "needs the carrier's mock: tests/peers/carrier.sh"]
async fn messages_fit_the_description_and_are_reported() {
    let receiver = Receiver::start(&told("BROWLINE_CARRIER_TOKEN")).await;
    let callback = format!("{}/status", receiver.base).parse().unwrap();
    let client =
        SmsCarrier::new(SmsSettings { status_callback: Some(callback), ..settings(&told("BROWLINE_CARRIER_URL")) })
            .unwrap();
    client.ping().await.unwrap();
    let bodies = ["Helmet check", "¿Casco bien? Responda OK", "🏈 1 brow + 2 grip & 100%", " spaces \n and lines "];
    for (index, body) in bodies.into_iter().enumerate() {
        let valid_for = (index % 2 == 0).then_some(Duration::from_secs(5400));
        let check = Outgoing { valid_for, ..message(130 + u32::try_from(index).unwrap(), body) };
        let accepted = client.send(&check).await.unwrap();
        let fetched = client.fetch(&accepted.carrier_id).await.unwrap();
        assert!(fetched.carries(&check) && fetched.body == body, "{fetched:?}");
        let found = client.look(&check, LONG_AGO).await.unwrap();
        assert!(found.iter().any(|one| one.carrier_id == accepted.carrier_id), "{found:?}");
    }
    // The reports are signed by the carrier's own library; those that do not verify are not kept.
    let deadline = Instant::now() + Duration::from_secs(20);
    loop {
        let delivered = {
            let reports = receiver.reports.lock().unwrap();
            reports.iter().filter(|report| report.status == DeliveryStatus::Delivered).count()
        };
        if delivered == bodies.len() {
            break;
        }
        assert!(Instant::now() < deadline, "{delivered} of {} reported as delivered", bodies.len());
        Clock::system().sleep(TimeDelta::milliseconds(20)).await;
    }
}

/// The carrier's documented test numbers (its page on test credentials). They are not numbers that can exist, so they
/// are read back as stored ones are.
#[tokio::test]
#[ignore = "needs the carrier's mock: tests/peers/carrier.sh"]
async fn the_carriers_test_numbers_are_refused_as_documented() {
    let client = SmsCarrier::new(settings(&told("BROWLINE_CARRIER_URL"))).unwrap();
    let stored = |number: &str| serde_json::from_value::<Phone>(number.into()).unwrap();
    let table = [
        ("+15005550001", 21211, NumberTrouble::Invalid),
        ("+15005550002", 21612, NumberTrouble::NoRoute),
        ("+15005550003", 21408, NumberTrouble::NoRoute),
        ("+15005550004", 21610, NumberTrouble::OptedOut),
        ("+15005550009", 21614, NumberTrouble::NotMobile),
    ];
    for (number, code, trouble) in table {
        let refused = client.send(&Outgoing { to: stored(number), ..message(123, "x") }).await.unwrap_err();
        assert!(
            matches!(refused, Refused::Number { code: c, trouble: t, .. } if c == code && t == trouble),
            "{number}: {refused:?}"
        );
    }
    let from = Outgoing { from: stored("+15005550007"), ..message(123, "x") };
    assert_eq!(sort(&client.send(&from).await), "everything", "a sending number that is not the account's");
}

/// One call signed by the carrier's own library.
#[derive(Deserialize)]
struct Signed {
    url: String,
    token: String,
    params: Vec<(String, String)>,
    signature: String,
}

#[test]
#[ignore = "needs calls signed by the carrier's library: tests/peers/carrier.sh"]
fn signatures_are_those_of_the_carriers_library() {
    let text = std::fs::read_to_string(told("BROWLINE_SIGNED_CALLS")).unwrap();
    let calls: Vec<Signed> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(calls.len() >= 500, "{} calls", calls.len());
    for call in calls {
        let token = SecretString::from(call.token);
        assert_eq!(signature::sign(&token, &call.url, &call.params), call.signature, "{}", call.url);
        assert!(signature::verify(&token, &call.url, &call.params, &call.signature));
    }
}
