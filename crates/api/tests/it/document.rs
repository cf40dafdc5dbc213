//! The document itself.

use std::collections::BTreeSet;

use serde_json::Value;

fn walk(value: &Value, place: &str, visit: &mut impl FnMut(&str, &Value)) {
    visit(place, value);
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                walk(member, &format!("{place}/{name}"), visit);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                walk(item, &format!("{place}/{index}"), visit);
            }
        }
        _ => {}
    }
}

#[test]
fn operation_ids_are_unique_and_every_answer_is_described() {
    let document = api::document::document();
    let mut ids = BTreeSet::new();
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let id = operation["operationId"].as_str().unwrap();
            assert!(ids.insert(id.to_owned()), "{id} stands twice");
            assert!(operation["summary"].is_string(), "{method} {path} has no summary");
            assert!(operation["tags"].as_array().is_some_and(|tags| tags.len() == 1), "{id}");
            for (status, response) in operation["responses"].as_object().unwrap() {
                let described = response["description"].as_str().is_some_and(|words| !words.is_empty());
                assert!(described || response["$ref"].is_string(), "{id} {status}");
            }
        }
    }
}

#[test]
fn every_reference_leads_somewhere_and_every_text_and_list_is_bounded() {
    let document = api::document::document();
    walk(&document, "", &mut |place, value| {
        if let Some(reference) = value["$ref"].as_str() {
            assert!(document.pointer(&reference[1..]).is_some(), "{place} -> {reference}");
        }
        let has_type = |wanted: &str| match &value["type"] {
            Value::Array(types) => types.iter().any(|one| one == wanted),
            one => one == wanted,
        };
        if place.contains("/schemas/") || place.ends_with("/schema") {
            let free =
                value["enum"].is_array() || value["const"].is_string() || place.ends_with("/propertyNames");
            if has_type("string") && !free {
                assert!(value["maxLength"].is_number(), "{place} has no maxLength");
            }
            if has_type("array") && value["items"].is_object() {
                assert!(value["maxItems"].is_number(), "{place} has no maxItems");
            }
        }
    });
}

#[test]
fn examples_hold_to_their_schemas() {
    let document = api::document::document();
    for (name, schema) in document["components"]["schemas"].as_object().unwrap() {
        let root = serde_json::json!({"allOf": [schema], "components": document["components"]});
        let validator = jsonschema::options().should_validate_formats(true).build(&root).unwrap();
        for example in schema["examples"].as_array().into_iter().flatten() {
            assert!(validator.is_valid(example), "{name}: {example}");
        }
    }
}
