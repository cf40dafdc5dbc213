//! The document's examples: for each operation a request to the demo company, and what it was answered. They were
//! recorded from the service itself (`scripts/update examples`), so they can be sent as they stand.

use std::collections::HashMap;
use std::sync::OnceLock;

use serde::Deserialize;
use serde_json::{Map, Value};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Example {
    operation: String,
    #[serde(default)]
    path: Map<String, Value>,
    #[serde(default)]
    query: Map<String, Value>,
    body: Option<Value>,
    answer: Option<Value>,
}

static RECORDED: OnceLock<HashMap<String, Example>> = OnceLock::new();

fn of(operation: &str) -> Option<&'static Example> {
    let recorded = RECORDED.get_or_init(|| {
        let examples: Vec<Example> = serde_json::from_str(include_str!("../examples.json"))
            .inspect_err(|error| tracing::error!(%error, "the recorded examples cannot be read"))
            .unwrap_or_default();
        examples.into_iter().map(|example| (example.operation.clone(), example)).collect()
    });
    recorded.get(operation)
}

/// Puts an operation's example beside its parameters, its body and its successful answers.
pub fn show(operation: &mut Value) {
    let Some(example) = operation["operationId"].as_str().and_then(of) else { return };
    for parameter in operation.get_mut("parameters").and_then(Value::as_array_mut).into_iter().flatten() {
        let name = parameter["name"].as_str().unwrap_or_default();
        let shown = match parameter["in"].as_str() {
            Some("path") => example.path.get(name),
            Some("query") => example.query.get(name),
            _ => None,
        };
        if let Some(shown) = shown.cloned() {
            parameter["example"] = shown;
        }
    }
    if let (Some(body), Some(shown)) = (&example.body, operation.get_mut("requestBody")) {
        show_in(shown, body);
    }
    let Some(answer) = &example.answer else { return };
    for (status, response) in operation["responses"].as_object_mut().into_iter().flatten() {
        if status.starts_with('2') {
            show_in(response, answer);
        }
    }
}

fn show_in(of_content: &mut Value, example: &Value) {
    for (media, content) in of_content["content"].as_object_mut().into_iter().flatten() {
        if media.ends_with("json") || example.is_string() {
            content["example"] = example.clone();
        }
    }
}
