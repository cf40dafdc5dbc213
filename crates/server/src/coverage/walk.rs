//! The examples: requests to the demo company that succeed in this order.

use std::collections::HashMap;

use serde::Deserialize;
use serde_json::{Map, Value, json};

use crate::demo::script::name_ids;

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Example {
    pub operation: String,
    #[serde(default)]
    pub path: Map<String, Value>,
    #[serde(default)]
    pub query: Map<String, Value>,
    pub body: Option<Value>,
    /// For what is changed without being read by itself; else the ETag that it is read with.
    pub if_match: Option<String>,
}

pub fn examples() -> Vec<Example> {
    let mut script: Value = serde_json::from_str(include_str!("../../demo/examples.json")).unwrap();
    name_ids(&mut script);
    serde_json::from_value(script).unwrap()
}

impl Example {
    /// `$create_token.id` in a path stands for what an earlier answer said.
    pub fn resolve(&mut self, answers: &HashMap<String, Value>) {
        for value in self.path.values_mut() {
            let Some((operation, field)) =
                value.as_str().and_then(|text| text.strip_prefix('$')).and_then(|text| text.split_once('.'))
            else {
                continue;
            };
            *value = answers[operation][field].clone();
        }
    }
}

/// Writes requests and answers to where the document takes its examples from.
pub fn write(examples: &[Example], answers: Vec<Value>, known: &HashMap<String, Value>) {
    let mut lines = Vec::new();
    for (example, mut answer) in examples.iter().zip(answers) {
        shorten(&mut answer);
        let mut example = example.clone();
        example.resolve(known);
        let mut line = json!({"operation": example.operation});
        let parts = [("path", &example.path), ("query", &example.query)];
        for (name, map) in parts.into_iter().filter(|(_, map)| !map.is_empty()) {
            line[name] = json!(map);
        }
        if let Some(body) = &example.body {
            line["body"] = body.clone();
        }
        if example.operation.starts_with("get_openapi") {
            answer = json!({"openapi": answer["openapi"]});
        }
        if example.operation == "create_token" {
            answer["secret"] = json!("shown-this-once");
        }
        if !answer.is_null() {
            line["answer"] = answer;
        }
        lines.push(line.to_string());
    }
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../api/examples.json");
    std::fs::write(file, format!("[\n{}\n]\n", lines.join(",\n"))).unwrap();
}

/// A reader needs no more than two of a kind.
fn shorten(value: &mut Value) {
    match value {
        Value::Array(items) => {
            items.truncate(2);
            items.iter_mut().for_each(shorten);
        }
        Value::Object(members) => members.values_mut().for_each(shorten),
        Value::String(text) if text.lines().count() > 3 => {
            *text = text.lines().take(3).collect::<Vec<_>>().join("\n");
        }
        _ => {}
    }
}
