//! The whole way: the gateway delivers a press, it is acknowledged, acted on, and the post changes, with the loops of a
//! running program.

use std::sync::Arc;

use browline::run;
use browline::trade::queue::ItemState;
use tokio::sync::watch;

use super::*;
use crate::fake_chat::EQUIPMENT;
use crate::fake_chat::gateway::{Do, FakeGateway, command, control, written};

async fn whole(engine: Engine) {
    let gateway = FakeGateway::start(false).await;
    let room = Room::open(engine, "").await;
    room.fake.told_of_gateway(&gateway.url);
    room.world.to("15T06:45:00").await;
    room.link(COLE, COLE_USER).await;
    room.link(NOAH, NOAH_USER).await;
    let (stop, stopped) = watch::channel(false);
    let chat = Arc::new(room.chat.clone());
    let running = tokio::spawn({
        let chat = Arc::clone(&chat);
        async move { run::chat(&chat, stopped).await }
    });
    room.fake.until("the commands are set", |state| state.calls.iter().any(|call| call.method == "PUT")).await;
    // A text comes in; its post follows without the clock moving.
    room.world.text(MARCUS, "strap broke").await;
    room.fake.until("a post is made", |state| state.standing.iter().any(|post| post.channel == EQUIPMENT)).await;
    let take = room.fake.posts(EQUIPMENT)[0].control("take");
    gateway.dispatch("INTERACTION_CREATE", control("170000000000000101", COLE_USER, &take, None));
    room.fake
        .until("the post changes", |state| state.standing.iter().any(|post| post.text().contains("taken by Cole")))
        .await;
    assert_eq!(room.item("equipment/a4/2026-09-15").await.state, ItemState::Taken);
    let acknowledged = room.fake.calls("POST", "170000000000000101/token-170000000000000101/callback");
    assert_eq!((acknowledged.len(), &acknowledged[0].body["type"]), (1, &serde_json::json!(6)));
    // One who may not is told so, alone.
    gateway.dispatch("INTERACTION_CREATE", control("170000000000000102", STRANGER, &take, None));
    room.fake
        .until("the stranger is answered", |state| {
            state.calls.iter().any(|call| call.path.contains("token-170000000000000102") && call.body["flags"] == 64)
        })
        .await;
    // A command is answered in the message that was promised.
    gateway.dispatch("INTERACTION_CREATE", command("170000000000000103", COLE_USER, "today", &[]));
    room.fake
        .until("the list is answered", |state| {
            state.calls.iter().any(|call| {
                call.method == "PATCH"
                    && call.path.contains("token-170000000000000103")
                    && call.body["content"].as_str().is_some_and(|text| text.contains("#7 Marcus"))
            })
        })
        .await;
    // The session is lost: ready comes again, and the commands are not set again.
    gateway.does(Do::Frame(9, serde_json::json!(false)));
    gateway.until(2, 2).await;
    gateway.dispatch("MESSAGE_CREATE", written("150000000000000777", NOAH_USER, "2"));
    room.fake
        .until("words are answered", |state| {
            state.standing.iter().any(|post| post.channel == crate::fake_chat::direct_channel(NOAH_USER))
        })
        .await;
    assert_eq!(room.fake.calls("PUT", "commands").len(), 1);
    assert_eq!(room.broken().await, [""; 0], "the gateway is noted as ready");
    stop.send(true).unwrap();
    let ended = tokio::time::timeout(std::time::Duration::from_secs(15), running).await;
    assert!(ended.is_ok(), "it does not end");
}

#[tokio::test]
async fn from_gateway_to_post_on_sqlite() {
    whole(Engine::Sqlite).await;
}

#[tokio::test]
async fn from_gateway_to_post_on_postgres() {
    whole(Engine::Postgres).await;
}
