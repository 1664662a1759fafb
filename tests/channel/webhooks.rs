//! The stand-in's signed calls, received as the program receives them.

use std::sync::{Arc, Mutex};

use axum::Router;
use axum::body::Bytes;
use axum::http::{HeaderMap, StatusCode, Uri};
use axum::routing::post;
use browline::channel::inbound::{IncomingText, StatusReport, form_pairs};
use browline::channel::signature;

use super::fake_carrier::{FakeCarrier, Options, inbound_form, post_inbound, post_signed};
use super::*;

/// A program that verifies calls and keeps what they say.
pub struct Receiver {
    pub base: String,
    pub texts: Arc<Mutex<Vec<IncomingText>>>,
    pub reports: Arc<Mutex<Vec<StatusReport>>>,
}

fn verified(token: &str, base: &str, uri: &Uri, headers: &HeaderMap, body: &[u8]) -> Option<Vec<(String, String)>> {
    let header = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let pairs = form_pairs(body);
    let url = format!("{base}{uri}");
    let (given, settings) = (header(signature::HEADER), header(signature::SETTINGS_HEADER));
    signature::check(&SecretString::from(token), &url, &pairs, given, settings).ok()?;
    Some(pairs)
}

impl Receiver {
    pub async fn start(token: &str) -> Self {
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://127.0.0.1:{}", listener.local_addr().unwrap().port());
        let (texts, reports) = (Arc::<Mutex<Vec<_>>>::default(), Arc::<Mutex<Vec<_>>>::default());
        let keep_text = {
            let (token, base, texts) = (token.to_owned(), base.clone(), Arc::clone(&texts));
            async move |uri: Uri, headers: HeaderMap, body: Bytes| {
                let Some(pairs) = verified(&token, &base, &uri, &headers, &body) else {
                    return StatusCode::FORBIDDEN;
                };
                texts.lock().unwrap().push(IncomingText::from_pairs(&pairs).unwrap());
                StatusCode::OK
            }
        };
        let keep_report = {
            let (token, base, reports) = (token.to_owned(), base.clone(), Arc::clone(&reports));
            async move |uri: Uri, headers: HeaderMap, body: Bytes| {
                let Some(pairs) = verified(&token, &base, &uri, &headers, &body) else {
                    return StatusCode::FORBIDDEN;
                };
                reports.lock().unwrap().push(StatusReport::from_pairs(&pairs).unwrap());
                StatusCode::NO_CONTENT
            }
        };
        let app = Router::new().route("/text", post(keep_text)).route("/status", post(keep_report));
        tokio::spawn(async move { axum::serve(listener, app).await });
        Self { base, texts, reports }
    }
}

#[tokio::test]
async fn texts_and_reports_arrive_signed() {
    let carrier = FakeCarrier::start_with(Options { callbacks: true, ..Options::default() }).await;
    let receiver = Receiver::start(carrier.token()).await;
    let url = format!("{}/text?school=kestrels", receiver.base);
    let body = "2 5 + strap & 100% ¡ay! 🏈";
    let answer = post_inbound(&url, carrier.token(), "+13125550123", OURS, body, "SM77").await.unwrap();
    assert_eq!(answer.0, 200);
    let text = receiver.texts.lock().unwrap().pop().unwrap();
    assert_eq!((text.carrier_id.as_str(), text.body.as_str()), ("SM77", body));

    let forged = post_inbound(&url, "another token", "+13125550123", OURS, body, "SM78").await.unwrap();
    assert_eq!(forged.0, 403);
    let form = inbound_form("+13125550123", OURS, body, "SM79");
    let elsewhere = post_signed(&url, "https://elsewhere.example/text", carrier.token(), &form).await.unwrap();
    assert_eq!(elsewhere.0, 403);
    assert!(receiver.texts.lock().unwrap().is_empty());

    let callback = format!("{}/status?x=1", receiver.base).parse().unwrap();
    let client = SmsCarrier::new(SmsSettings { status_callback: Some(callback), ..carrier.settings() }).unwrap();
    carrier.undelivered("+13125550124", 30003);
    let good = client.send(&message(123, "x")).await.unwrap().carrier_id;
    let bad = client.send(&message(124, "x")).await.unwrap().carrier_id;
    assert_eq!(carrier.callbacks_done().await, [204; 4]);
    let reports = receiver.reports.lock().unwrap().clone();
    let of = |id: &str| reports.iter().rfind(|report| report.carrier_id == id).unwrap().clone();
    assert_eq!((of(&good).status, of(&good).error_code), (DeliveryStatus::Delivered, None));
    assert_eq!((of(&bad).status, of(&bad).error_code), (DeliveryStatus::Failed, Some(30003)));
    assert_eq!(client.fetch(&good).await.unwrap().status, DeliveryStatus::Delivered);
}
