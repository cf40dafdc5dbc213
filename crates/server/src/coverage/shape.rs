//! The leaves of a request's body, as the document describes them.

use serde_json::Value;

/// A place in a body and what the document says of it.
#[derive(Debug, Clone)]
pub struct Leaf {
    /// JSON Pointer; the first member stands for an array's.
    pub pointer: String,
    pub schema: Value,
}

/// Bodies nest no deeper.
const DEEPEST: usize = 12;

/// Every leaf of the body of an operation.
pub fn leaves(document: &Value, operation: &Value) -> Vec<Leaf> {
    let mut found = Vec::new();
    for content in
        operation["requestBody"]["content"].as_object().into_iter().flat_map(|content| content.values())
    {
        walk(document, &content["schema"], String::new(), 0, &mut found);
    }
    found
}

fn walk(document: &Value, schema: &Value, pointer: String, depth: usize, found: &mut Vec<Leaf>) {
    if depth > DEEPEST {
        return;
    }
    if let Some(reference) = schema["$ref"].as_str() {
        let schema = document.pointer(&reference[1..]).unwrap();
        return walk(document, schema, pointer, depth + 1, found);
    }
    for choice in ["allOf", "anyOf", "oneOf"] {
        for schema in schema[choice].as_array().into_iter().flatten() {
            walk(document, schema, pointer.clone(), depth + 1, found);
        }
    }
    for (property, schema) in schema["properties"].as_object().into_iter().flatten() {
        walk(document, schema, format!("{pointer}/{property}"), depth + 1, found);
    }
    if !schema["items"].is_null() {
        walk(document, &schema["items"], format!("{pointer}/0"), depth + 1, found);
    }
    let is = |kind: &str| match &schema["type"] {
        Value::String(known) => known == kind,
        Value::Array(known) => known.iter().any(|known| known == kind),
        _ => false,
    };
    if ["string", "number", "integer"].into_iter().any(is)
        && !found.iter().any(|leaf| leaf.pointer == pointer)
    {
        found.push(Leaf { pointer, schema: schema.clone() });
    }
}

/// Sets a leaf in a body; false if the body has nothing that could hold it.
pub fn set(body: &mut Value, pointer: &str, value: Value) -> bool {
    let (parent, last) = pointer.rsplit_once('/').unwrap();
    match body.pointer_mut(parent) {
        Some(Value::Object(members)) => {
            members.insert(last.to_owned(), value);
            true
        }
        Some(Value::Array(items)) => {
            items.clear();
            items.push(value);
            true
        }
        _ => false,
    }
}
