//! The platform's published OpenAPI description, to hold requests against.
//!
//! It is not part of the project: it is looked for in `BROWLINE_SHARED`, or in `../shared` beside the project, and the tests
//! say so and pass when neither is there.

use std::path::PathBuf;

use serde_json::Value;

use crate::fake_chat::Call;

pub struct Description(Value);

pub fn description() -> Option<Description> {
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

    /// What is wrong with a request.
    pub fn wrong(&self, call: &Call) -> Vec<String> {
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
