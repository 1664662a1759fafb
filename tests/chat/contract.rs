//! Every request of the client, and every post that the desk makes of items, against the platform's published OpenAPI
//! description.
//!
//! The description is not part of the project: it is looked for in `BROWLINE_SHARED`, or in `../shared` beside the project,
//! and the tests say so and pass when neither is there.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::fake_chat::Call;
use super::*;

struct Description(Value);

fn description() -> Option<Description> {
    let told = std::env::var_os("BROWLINE_SHARED").map(PathBuf::from);
    let folder = told.clone().unwrap_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"));
    if told.is_none() && !folder.exists() {
        println!("skipped: the platform's description is not here; set BROWLINE_SHARED to the folder above data/");
        return None;
    }
    let path = folder.join("data/chat-openapi.json");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    Some(Description(serde_json::from_str(&text).unwrap()))
}

impl Description {
    /// The operation that a request is: a path of as many parts, each the same or a variable.
    fn operation(&self, call: &Call) -> Option<&Value> {
        let path = format!("/api/v10/{}", call.path);
        let parts: Vec<&str> = path.split('/').collect();
        let same = |template: &str| {
            let template: Vec<&str> = template.split('/').collect();
            template.len() == parts.len()
                && template.iter().zip(&parts).all(|(known, part)| known == part || known.starts_with('{'))
        };
        let mut found: Vec<(&String, &Value)> =
            self.0["paths"].as_object()?.iter().filter(|(template, _)| same(template)).collect();
        // The one with the fewest variables is meant.
        found.sort_by_key(|(template, _)| template.matches('{').count());
        found.first().map(|(_, item)| &item[call.method.to_lowercase()]).filter(|operation| operation.is_object())
    }

    fn wrong(&self, call: &Call) -> Vec<String> {
        let Some(operation) = self.operation(call) else {
            return vec![format!("no operation {} {}", call.method, call.path)];
        };
        let schema = &operation["requestBody"]["content"]["application/json"]["schema"];
        if schema.is_null() {
            return if call.body.is_null() { Vec::new() } else { vec!["a body where none is taken".to_owned()] };
        }
        let mut schema = schema.clone();
        schema["components"] = self.0["components"].clone();
        let validator =
            jsonschema::options().with_draft(jsonschema::Draft::Draft202012).build(&schema).expect("a schema");
        validator.iter_errors(&call.body).map(|error| format!("{error} at {}", error.instance_path())).collect()
    }
}

async fn calls() -> Vec<Call> {
    let fake = FakeChat::start().await;
    fake.told_of_gateway("ws://127.0.0.1:9");
    everything(&client(&fake.base)).await;
    let calls = fake.state().calls.clone();
    calls
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
