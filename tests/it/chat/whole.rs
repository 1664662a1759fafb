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

/// Every request that a full morning makes is as the platform describes it.
#[tokio::test]
async fn what_the_desk_sends_is_as_the_platform_describes_it() {
    let Some(description) = crate::chat_description::description() else { return };
    let room = Room::open(Engine::Sqlite, "").await;
    for (phone, user) in [(COLE, COLE_USER), (DANE, DANE_USER), (NOAH, NOAH_USER)] {
        room.link(phone, user).await;
    }
    room.world.to("15T06:45:00").await;
    for (from, text) in [(MARCUS, "strap broke"), (LUIS, "stop"), (BROTHERS, "both: 2 5 6"), (IVAN, "asdf")] {
        room.text(from, text).await;
    }
    room.world.clock.advance(chrono::TimeDelta::minutes(2));
    room.text(IVAN, "qwer").await;
    let check = room.fake.direct(NOAH_USER).remove(0);
    room.press(NOAH_USER, &check.control("point:").replace(":1", ":7"), None).await;
    let post = room.fake.posts(EQUIPMENT).remove(0);
    room.press(COLE_USER, &post.control("take"), None).await;
    room.press(COLE_USER, &post.control("fixed"), Some("strap")).await;
    let calls = room.fake.all_calls();
    let edits = calls.iter().filter(|call| call.method == "PATCH").count();
    assert!(calls.len() >= 10 && edits >= 2, "{} calls, {edits} edits", calls.len());
    for call in &calls {
        assert_eq!(description.wrong(call), [""; 0], "{call:?}");
    }
    // The answers to commands, too.
    let commands = [("today", ""), ("silent", ""), ("athlete", "7"), ("athlete", "12"), ("calloff", "")];
    let mut offers = Vec::new();
    for (name, who) in commands {
        for user in [COLE_USER, DANE_USER] {
            offers.push(room.command(user, name, &[("who", who)]).await);
        }
    }
    let interaction = room.interaction(COLE_USER, What::Command { name: "today".to_owned(), options: Vec::new() });
    for post in &offers {
        room.bot().rest.reply(&interaction, post).await.unwrap();
    }
    let answers = room.fake.calls("PATCH", "@original");
    assert_eq!(answers.len(), offers.len());
    for call in &answers {
        assert_eq!(description.wrong(call), [""; 0], "{call:?}");
    }
}
