//! The gateway: to ready, events, drops, resumes, invalid sessions, and an end within bounds.

use std::time::Duration;

use browline::channel::chat::gateway::{GatewayError, Heard, listen};
use browline::channel::chat::{What, Written};
use browline::clock::Clock;
use serde_json::json;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

use super::fake_chat::gateway::{Do, FakeGateway, command, control, written};
use super::*;

const CASEY: &str = "140000000000000001";

struct Line {
    rest: FakeChat,
    gateway: FakeGateway,
    heard: mpsc::Receiver<Heard>,
    stop: watch::Sender<bool>,
    listening: JoinHandle<Result<(), GatewayError>>,
}

async fn line(gateway: FakeGateway) -> Line {
    let rest = FakeChat::start().await;
    rest.told_of_gateway(&gateway.url);
    let (sender, heard) = mpsc::channel(64);
    let (stop, stopped) = watch::channel(false);
    let client = client(&rest.base);
    let listening = tokio::spawn(async move { listen(&client, &Clock::system(), sender, stopped).await });
    Line { rest, gateway, heard, stop, listening }
}

impl Line {
    /// The next thing heard that is no mere change of the connection.
    async fn next(&mut self) -> Heard {
        loop {
            let heard = tokio::time::timeout(Duration::from_secs(30), self.heard.recv()).await;
            match heard.expect("nothing was heard in time").expect("the gateway is no longer listened to") {
                Heard::Stage(_) => {}
                other => return other,
            }
        }
    }

    async fn ready(&mut self) {
        assert_eq!(self.next().await, Heard::Ready { application: APPLICATION.to_owned() });
    }

    async fn ends(self) {
        self.stop.send(true).unwrap();
        let ended = tokio::time::timeout(Duration::from_secs(10), self.listening).await;
        assert!(ended.expect("it does not end").unwrap().is_ok());
    }
}

#[tokio::test]
async fn events_come_through_and_interactions_are_acknowledged_at_once() {
    let mut line = line(FakeGateway::start(false).await).await;
    line.ready().await;
    line.gateway.dispatch("INTERACTION_CREATE", command("170000000000000001", CASEY, "athlete", &[("who", "12")]));
    let Heard::Interaction(heard) = line.next().await else { panic!("no interaction") };
    assert_eq!(heard.what, What::Command { name: "athlete".to_owned(), options: fake_chat::options(&[("who", "12")]) });
    assert_eq!((heard.user.as_str(), heard.guild.as_deref()), (CASEY, Some(GUILD)));
    line.gateway.dispatch("INTERACTION_CREATE", control("170000000000000002", CASEY, "b1:fixed:x", Some("strap")));
    let Heard::Interaction(heard) = line.next().await else { panic!("no interaction") };
    assert_eq!(heard.what, What::Control { id: "b1:fixed:x".to_owned(), picked: Some("strap".to_owned()) });
    // Each was acknowledged before it was passed on.
    let acknowledged: Vec<_> =
        line.rest.calls("POST", "callback").into_iter().map(|call| call.body["type"].clone()).collect();
    assert_eq!(acknowledged, [json!(5), json!(6)]);
    line.gateway.dispatch("MESSAGE_CREATE", written("150000000000000002", CASEY, "strap snapped"));
    let said = Written {
        id: "150000000000000002".to_owned(),
        user: CASEY.to_owned(),
        text: "strap snapped".to_owned(),
        photos: Vec::new(),
    };
    assert_eq!(line.next().await, Heard::Written(said));
    // What the bot itself writes is nobody's answer.
    line.gateway.dispatch("MESSAGE_CREATE", {
        let mut own = written("150000000000000003", APPLICATION, "sample");
        own["author"]["bot"] = json!(true);
        own
    });
    line.gateway.dispatch("MESSAGE_CREATE", written("150000000000000004", CASEY, "ok"));
    let Heard::Written(next) = line.next().await else { panic!("no message") };
    assert_eq!(next.text, "ok");
    line.ends().await;
}

#[tokio::test]
async fn an_interaction_too_late_to_acknowledge_is_passed_on_all_the_same() {
    let mut line = line(FakeGateway::start(false).await).await;
    line.ready().await;
    line.rest.once("POST", "callback", 404, 10_062);
    line.gateway.dispatch("INTERACTION_CREATE", control("170000000000000001", CASEY, "b1:take:x", None));
    assert!(matches!(line.next().await, Heard::Interaction(_)));
    line.ends().await;
}

/// Every process with the token hears everything: the one that acknowledges acts.
#[tokio::test]
async fn an_interaction_that_another_process_acknowledged_is_left_to_it() {
    let mut line = line(FakeGateway::start(false).await).await;
    line.ready().await;
    line.rest.once("POST", "170000000000000001", 400, 40_060);
    line.gateway.dispatch("INTERACTION_CREATE", control("170000000000000001", CASEY, "b1:take:x", None));
    line.rest.until("it is acknowledged", |state| state.calls.iter().any(|call| call.status == 400)).await;
    line.gateway.dispatch("INTERACTION_CREATE", control("170000000000000002", CASEY, "b1:take:y", None));
    let Heard::Interaction(heard) = line.next().await else { panic!("no interaction") };
    assert_eq!(heard.id, "170000000000000002");
    line.ends().await;
}

#[tokio::test]
async fn a_dropped_connection_is_resumed_and_events_go_on() {
    for drop in [Do::Frame(7, json!(null)), Do::Close(4_000)] {
        let mut line = line(FakeGateway::start(false).await).await;
        line.ready().await;
        line.gateway.does(drop.clone());
        line.gateway.dispatch("MESSAGE_CREATE", written("150000000000000002", CASEY, "after"));
        // The event waits at the fake until the session is resumed.
        let Heard::Written(next) = line.next().await else { panic!("{drop:?}: no message") };
        assert_eq!(next.text, "after");
        assert_eq!((line.gateway.count(2), line.gateway.count(6)), (1, 1), "{drop:?}");
        line.ends().await;
    }
}

#[tokio::test]
async fn an_invalid_session_begins_anew() {
    let mut line = line(FakeGateway::start(false).await).await;
    line.ready().await;
    line.gateway.does(Do::Frame(9, json!(false)));
    line.gateway.until(2, 2).await;
    line.ready().await;
    line.ends().await;
}

#[tokio::test]
async fn nothing_connects_where_the_platform_did_not_say() {
    let rest = FakeChat::start().await;
    let (sender, _heard) = mpsc::channel(8);
    let (_stop, stopped) = watch::channel(false);
    let client = client(&rest.base);
    let try_it = async || listen(&client, &Clock::system(), sender.clone(), stopped.clone()).await;
    // The platform does not say: the library's fallback to the real host is not taken.
    assert!(matches!(try_it().await, Err(GatewayError::Asked(_))));
    // It says something unsafe.
    rest.told_of_gateway("ws://gateway.example");
    assert!(matches!(try_it().await, Err(GatewayError::Address(_))));
    // It says so to us, and not when the library asks: the library would go to the real host.
    rest.told_of_gateway("ws://127.0.0.1:9");
    rest.state().gateway_told = Some(1);
    let elsewhere = try_it().await;
    assert!(matches!(&elsewhere, Err(GatewayError::Elsewhere(url)) if url.starts_with("wss://")), "{elsewhere:?}");
}

#[tokio::test]
async fn it_ends_within_bounds_when_the_gateway_is_silent() {
    let line = line(FakeGateway::start(true).await).await;
    line.rest.until("the gateway is asked for", |state| state.calls.iter().any(|call| call.path == "gateway")).await;
    line.ends().await;
}

/// Everything that is logged, by the library too, at the most talkative level.
#[derive(Clone, Default)]
struct Logged(std::sync::Arc<std::sync::Mutex<Vec<u8>>>);

impl std::io::Write for Logged {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[tokio::test]
async fn neither_token_is_logged_at_any_level() {
    let logged = Logged::default();
    let writer = logged.clone();
    let subscriber =
        tracing_subscriber::fmt().with_max_level(tracing::Level::TRACE).with_writer(move || writer.clone()).finish();
    // One thread: every task of this test logs to it.
    let _guard = tracing::subscriber::set_default(subscriber);
    let mut line = line(FakeGateway::start(false).await).await;
    line.ready().await;
    line.rest.once("POST", "callback", 404, 10_062);
    line.gateway.dispatch("INTERACTION_CREATE", control("170000000000000001", CASEY, "b1:take:x", None));
    assert!(matches!(line.next().await, Heard::Interaction(_)));
    line.gateway.does(Do::Frame(7, json!(null)));
    line.gateway.until(6, 1).await;
    line.ends().await;
    let text = String::from_utf8(logged.0.lock().unwrap().clone()).unwrap();
    for own in ["could not be acknowledged", "serenity", "TRACE"] {
        assert!(text.contains(own), "`{own}` was not logged: {text}");
    }
    for secret in [TOKEN, "token-170000000000000001"] {
        let found = text.lines().find(|line| line.contains(secret));
        assert_eq!(found, None, "`{secret}` is in the log");
    }
}
