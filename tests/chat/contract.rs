//! Every request of the client against the platform's published OpenAPI description.

use serde_json::{Value, json};

use super::chat_description::description;
use super::fake_chat::Call;
use super::*;

async fn calls() -> Vec<Call> {
    let fake = FakeChat::start().await;
    fake.told_of_gateway("ws://127.0.0.1:9");
    everything(&client(&fake.base)).await;
    fake.all_calls()
}

#[tokio::test]
async fn every_request_is_as_the_platform_describes_it() {
    let Some(description) = description() else { return };
    let calls = calls().await;
    assert!(calls.len() >= 11, "{}", calls.len());
    for call in &calls {
        assert_eq!(description.wrong(call), [""; 0], "{call:?}");
    }
}

#[tokio::test]
async fn what_does_not_fit_the_description_is_noticed() {
    let Some(description) = description() else { return };
    let calls = calls().await;
    let made = calls.iter().find(|call| call.method == "POST" && call.path.ends_with("messages")).unwrap();
    let changed = |pointer: &str, value: Value| {
        let mut body = made.body.clone();
        *body.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = value;
        description.wrong(&Call { body, ..made.clone() })
    };
    for (pointer, value) in [
        ("/content", json!(7)),
        ("/nonce", json!("x".repeat(26))),
        ("/components/0/components/0/custom_id", json!("x".repeat(101))),
        ("/components/1/components/0/options", json!([])),
        ("/components/0/type", json!(99)),
    ] {
        assert_ne!(changed(pointer, value), [""; 0], "{pointer}");
    }
    let unknown = Call { path: "channels/1/nothing".to_owned(), ..made.clone() };
    assert_ne!(description.wrong(&unknown), [""; 0]);
}
