//! Requests of the client and answers of the stand-in against the carrier's published OpenAPI description, and the
//! description's own example answers through the client.
//!
//! The description is not part of the project: it is looked for in `BROWLINE_SHARED`, or in `../shared` beside the
//! project, and the tests say so and pass when neither is there.

use std::path::PathBuf;

use axum::Router;
use axum::http::{StatusCode, header};
use axum::routing::any;
use browline::channel::errors::classify;
use serde_json::{Map, Value, json};

use super::fake_carrier::{Exchange, FakeCarrier, Fault, Options};
use super::*;

const MESSAGES: &str = "/2010-04-01/Accounts/{AccountSid}/Messages.json";
const MESSAGE: &str = "/2010-04-01/Accounts/{AccountSid}/Messages/{Sid}.json";

/// The description, with what OpenAPI 3.0 writes differently put in the words of JSON Schema.
struct Description(Value);

fn description() -> Option<Description> {
    let told = std::env::var_os("BROWLINE_SHARED").map(PathBuf::from);
    let folder = told.clone().unwrap_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"));
    if told.is_none() && !folder.exists() {
        println!("skipped: the carrier's description is not here; set BROWLINE_SHARED to the folder above data/");
        return None;
    }
    let path = folder.join("data/sms-carrier-openapi.json");
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let mut all: Value = serde_json::from_str(&text).unwrap();
    nullable(&mut all);
    Some(Description(all))
}

/// `nullable: true` allows null besides the type, and besides the values of an enumeration.
fn nullable(value: &mut Value) {
    match value {
        Value::Object(map) => {
            if map.get("nullable") == Some(&Value::Bool(true)) {
                if let Some(kind) = map.get("type").cloned() {
                    map.insert("type".to_owned(), json!([kind, "null"]));
                }
                if let Some(Value::Array(values)) = map.get_mut("enum") {
                    values.push(Value::Null);
                }
            }
            map.values_mut().for_each(nullable);
        }
        Value::Array(values) => values.iter_mut().for_each(nullable),
        _ => {}
    }
}

impl Description {
    fn operation(&self, path: &str, method: &str) -> &Value {
        &self.0["paths"][path][method.to_lowercase()]
    }

    /// What is wrong with a value by a schema of the description.
    fn wrong(&self, schema: &Value, value: &Value, formats: bool) -> Vec<String> {
        let mut schema = schema.clone();
        schema["components"] = self.0["components"].clone();
        let validator = jsonschema::options()
            .with_draft(jsonschema::Draft::Draft4)
            .should_validate_formats(formats)
            .with_format("phone-number", |text: &str| Phone::parse(text).is_ok_and(|phone| phone.as_str() == text))
            .build(&schema)
            .expect("a schema");
        validator.iter_errors(value).map(|error| format!("{} at {}", error, error.instance_path())).collect()
    }

    /// What is wrong with a request: pairs the description does not have, or values it does not allow.
    fn wrong_request(&self, exchange: &Exchange) -> Vec<String> {
        let operation = self.operation(template(&exchange.path), exchange.method);
        let mut schema = operation["requestBody"]["content"]["application/x-www-form-urlencoded"]["schema"].clone();
        if schema.is_null() {
            schema = json!({"type": "object", "properties": {}});
        }
        schema["additionalProperties"] = json!(false);
        let mut wrong = self.wrong(&schema, &typed(&exchange.form, &schema["properties"]), true);
        let query: Map<String, Value> = parameters(operation, "query");
        let schema = json!({"type": "object", "properties": query, "additionalProperties": false});
        wrong.extend(self.wrong(&schema, &typed(&exchange.query, &schema["properties"]), true));
        for (name, schema) in parameters(operation, "path") {
            let value = path_value(&exchange.path, &name);
            wrong.extend(self.wrong(&schema, &json!(value), true));
        }
        wrong
    }

    /// What is wrong with an answer: its status or its body.
    fn wrong_answer(&self, exchange: &Exchange) -> Vec<String> {
        let responses = &self.operation(template(&exchange.path), exchange.method)["responses"];
        let response = &responses[exchange.status.to_string()];
        if response.is_null() {
            return vec![format!("status {} is not described", exchange.status)];
        }
        // Formats are left out: the description's own examples break one (page addresses are relative).
        self.wrong(&response["content"]["application/json"]["schema"], &exchange.answer, false)
    }

    /// The example answers of an operation: status, name, body.
    fn examples(&self, path: &str, method: &str) -> Vec<(u16, String, Value)> {
        let responses = self.operation(path, method)["responses"].as_object().unwrap();
        let mut all = Vec::new();
        for (status, response) in responses {
            let examples = response["content"]["application/json"]["examples"].as_object().unwrap();
            for (name, example) in examples {
                all.push((status.parse().unwrap(), name.clone(), example["value"].clone()));
            }
        }
        assert!(!all.is_empty());
        all
    }
}

fn template(path: &str) -> &'static str {
    if path.ends_with("/Messages.json") { MESSAGES } else { MESSAGE }
}

fn path_value<'a>(path: &'a str, name: &str) -> &'a str {
    let part = if name == "AccountSid" { 3 } else { 5 };
    path.split('/').nth(part).unwrap().trim_end_matches(".json")
}

fn parameters(operation: &Value, place: &str) -> Map<String, Value> {
    let all = operation["parameters"].as_array().unwrap().iter();
    all.filter(|parameter| parameter["in"] == place)
        .map(|parameter| (parameter["name"].as_str().unwrap().to_owned(), parameter["schema"].clone()))
        .collect()
}

/// Pairs as an object, each value in the type that its schema asks for when it can be read so.
fn typed(pairs: &[(String, String)], properties: &Value) -> Value {
    let value = |name: &str, text: &str| match properties[name]["type"].as_str() {
        Some("integer" | "number" | "boolean") => serde_json::from_str(text).unwrap_or_else(|_| json!(text)),
        Some("array") => json!([text]),
        _ => json!(text),
    };
    pairs.iter().map(|(name, text)| (name.clone(), value(name, text))).collect::<Map<_, _>>().into()
}

/// A morning with everything in it that the client can ask and the stand-in can answer.
async fn exchanges() -> Vec<Exchange> {
    let (carrier, _) = manual(true).await;
    let settings = SmsSettings {
        status_callback: Some("https://kestrels.example/carrier/status?x=1".parse().unwrap()),
        ..carrier.settings()
    };
    let client = SmsCarrier::new(settings).unwrap();
    let check = Outgoing { valid_for: Some(Duration::from_secs(5400)), ..message(123, "Helmet check 🏈 ¿listo?") };
    let accepted = client.send(&check).await.unwrap();
    for number in 0..201 {
        client.send(&message(123, &format!("text {number}"))).await.unwrap();
    }
    client.look(&check, START).await.unwrap();
    client.fetch(&accepted.carrier_id).await.unwrap();
    client.ping().await.unwrap();
    carrier.refuse("+13125550124", 21610);
    carrier.next([Fault::None, Fault::TooMany(Some(1)), Fault::Status(500), Fault::TakenStatus(503)]);
    for _ in 0..4 {
        let _ = client.send(&message(124, "x")).await;
    }
    let wrong = SmsSettings { token: SecretString::from("wrong"), ..carrier.settings() };
    let _ = SmsCarrier::new(wrong).unwrap().ping().await;
    let _ = client.fetch(&format!("SM{:032x}", 404_404)).await;
    carrier.exchanges()
}

#[tokio::test]
async fn requests_and_answers_fit_the_published_description() {
    let Some(description) = description() else {
        return;
    };
    let exchanges = exchanges().await;
    let statuses: std::collections::BTreeSet<u16> = exchanges.iter().map(|exchange| exchange.status).collect();
    assert_eq!(statuses.into_iter().collect::<Vec<_>>(), [200, 201, 400, 401, 404, 429, 500, 503]);
    for exchange in &exchanges {
        assert_eq!(description.wrong_request(exchange), [""; 0], "{exchange:?}");
        assert_eq!(description.wrong_answer(exchange), [""; 0], "{exchange:?}");
    }
}

#[tokio::test]
async fn what_does_not_fit_the_description_is_noticed() {
    let Some(description) = description() else {
        return;
    };
    let exchanges = exchanges().await;
    let good = exchanges.iter().find(|exchange| exchange.status == 201).unwrap();
    let changed = |name: &str, value: &str| {
        let mut form: Vec<_> = good.form.iter().filter(|(key, _)| key != name).cloned().collect();
        if !value.is_empty() {
            form.push((name.to_owned(), value.to_owned()));
        }
        description.wrong_request(&Exchange { form, ..good.clone() })
    };
    let table = [
        ("Recipient", "+13125550123"),
        ("To", ""),
        ("From", ""),
        ("Body", ""),
        ("To", "3125550123"),
        ("ValidityPeriod", "an hour"),
        ("StatusCallback", "nowhere"),
    ];
    for (name, value) in table {
        assert_ne!(changed(name, value), [""; 0], "{name}={value}");
    }
    let answer = json!({"sid": "1", "status": "gone"});
    assert_eq!(description.wrong_answer(&Exchange { answer, ..good.clone() }).len(), 3);
    assert_eq!(description.wrong_answer(&Exchange { status: 418, ..good.clone() }).len(), 1);
}

/// A server with one answer to everything, and a client for it.
async fn always(status: u16, body: &Value) -> SmsCarrier {
    let body = body.to_string();
    let answer = (StatusCode::from_u16(status).unwrap(), [(header::CONTENT_TYPE, "application/json")], body);
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    tokio::spawn(async move { axum::serve(listener, Router::new().fallback(any(async || answer))).await });
    let base_url = format!("http://127.0.0.1:{port}").parse().unwrap();
    let token = SecretString::from("token");
    let timeout = Duration::from_secs(2);
    SmsCarrier::new(SmsSettings { base_url, account: "AC0".to_owned(), token, status_callback: None, timeout }).unwrap()
}

#[tokio::test]
async fn every_example_answer_of_the_description_is_read() {
    let Some(description) = description() else {
        return;
    };
    for (status, name, body) in description.examples(MESSAGES, "post") {
        let client = always(status, &body).await;
        let sent = client.send(&message(123, "x")).await;
        let expected = match (status, name.as_str()) {
            (201, _) => "good",
            (400, "invalid-to" | "opted-out" | "not-mobile" | "cannot-route" | "no-permission") => "number",
            (400, "from-not-owned" | "bad-callback") | (401 | 404, _) => "everything",
            (400, _) => "message",
            (429, _) => "retry",
            _ => "in doubt",
        };
        assert_eq!(sort(&sent), expected, "{status} {name}");
        if status == 201 {
            assert_eq!(sent.unwrap().carrier_id, body["sid"], "{name}");
            let found = client.fetch("SM1").await.unwrap();
            assert_eq!(found.body, body["body"].as_str().unwrap_or_default(), "{name}");
            assert!(found.created_at.is_some(), "{name}");
        } else {
            let direct = classify(status, &body.to_string(), None);
            assert_eq!(sort(&Err::<(), _>(direct)), expected, "{status} {name}");
        }
    }
    for (status, name, mut body) in description.examples(MESSAGES, "get") {
        let listed = body["messages"].as_array().map_or(0, Vec::len);
        // The example's next page would be the example again.
        body["next_page_uri"] = Value::Null;
        let found = always(status, &body).await.look(&message(123, "x"), Moment::from_millis(0)).await;
        match status {
            200 => assert_eq!(found.unwrap().len(), listed, "{name}"),
            401 | 404 => assert_eq!(sort(&found), "everything", "{status} {name}"),
            // A list that is refused because of the account or its settings is one to mend, too.
            400 => assert!(matches!(sort(&found), "in doubt" | "everything"), "{status} {name}"),
            _ => assert_eq!(sort(&found), "in doubt", "{status} {name}"),
        }
    }
}

#[tokio::test]
async fn a_list_that_goes_on_elsewhere_is_an_error_and_the_token_stays_home() {
    let thief = FakeCarrier::start_with(Options { record: true, ..Options::default() }).await;
    let elsewhere = format!("{}2010-04-01/Accounts/AC0/Messages.json", thief.base_url());
    for uri in [elsewhere.as_str(), elsewhere.trim_start_matches("http:")] {
        let page = json!({"messages": [], "next_page_uri": uri});
        assert_eq!(sort(&always(200, &page).await.look(&message(123, "x"), START).await), "in doubt");
    }
    assert_eq!(thief.lists(), 0);
}
