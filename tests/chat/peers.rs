//! The client against a server that checks every request by the platform's own description. Run by
//! `tests/peers/chat.sh`, which starts it and says where it is.

use super::*;

#[tokio::test]
#[ignore = "needs the platform's mock: tests/peers/chat.sh"]
async fn every_request_is_taken_by_a_server_made_from_the_description() {
    let base = std::env::var("BROWLINE_CHAT_URL").expect("BROWLINE_CHAT_URL is not set: run tests/peers/chat.sh");
    // What does not fit the description is answered with 400 and fails here.
    everything(&client(&base)).await;
}

#[tokio::test]
#[ignore = "needs the platform's mock: tests/peers/chat.sh"]
async fn the_server_refuses_what_does_not_fit() {
    let base = std::env::var("BROWLINE_CHAT_URL").expect("BROWLINE_CHAT_URL is not set: run tests/peers/chat.sh");
    let client = client(&base);
    let refused = client.create(EQUIPMENT, &post().wire(), &"x".repeat(26)).await;
    assert!(refused.is_err(), "{refused:?}");
    let refused = client.set_commands(APPLICATION, GUILD, &serde_json::json!([{"name": ""}])).await;
    assert!(refused.is_err(), "{refused:?}");
}
