//! What the client makes of answers.

use std::time::Duration;

use browline::channel::chat::ChatRefused;

use super::*;

#[tokio::test]
async fn a_second_post_of_the_same_nonce_is_the_first() {
    let fake = FakeChat::start().await;
    let client = client(&fake.base);
    let first = client.create(EQUIPMENT, &post().wire(), "n1").await.unwrap();
    let second = client.create(EQUIPMENT, &post().wire(), "n1").await.unwrap();
    assert_eq!(first.id, second.id);
    assert_eq!(fake.posts(EQUIPMENT).len(), 1);
}

#[tokio::test]
async fn failures_come_back_sorted() {
    let fake = FakeChat::start().await;
    let client = client(&fake.base);
    fake.slow_down("POST", "messages", 1.5, true);
    let refused = client.create(EQUIPMENT, &post().wire(), "n").await.unwrap_err();
    assert_eq!(refused, ChatRefused::Later { after: Duration::from_secs(2), everywhere: true });
    assert!(matches!(client.create("1", &post().wire(), "n").await, Err(ChatRefused::Place { code: 10_003, .. })));
    assert_eq!(client.edit(EQUIPMENT, "1", &post().wire()).await, Err(ChatRefused::GonePost));
    fake.once("POST", "messages", 403, 50_013);
    let refused = client.create(EQUIPMENT, &post().wire(), "n").await;
    assert!(matches!(refused, Err(ChatRefused::Place { code: 50_013, .. })), "{refused:?}");
    fake.once("POST", "messages", 500, 0);
    let refused = client.create(EQUIPMENT, &post().wire(), "n").await;
    assert!(matches!(refused, Err(ChatRefused::InDoubt { .. })), "{refused:?}");
}

#[tokio::test]
async fn a_bad_token_halts_and_is_not_in_the_reason() {
    let fake = FakeChat::start().await;
    let client = ChatRest::new(&fake.base.parse().unwrap(), SecretString::from("sesame")).unwrap();
    let refused = client.ping().await.unwrap_err();
    assert!(matches!(refused, ChatRefused::Everything { .. }));
    assert!(!format!("{refused} {refused:?} {client:?}").contains("sesame"));
}

#[tokio::test]
async fn a_platform_that_cannot_be_reached_got_nothing() {
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let base = format!("http://{}", listener.local_addr().unwrap());
    drop(listener);
    let refused = client(&base).create(EQUIPMENT, &post().wire(), "n").await;
    assert!(matches!(refused, Err(ChatRefused::Unreached { .. })), "{refused:?}");
}
