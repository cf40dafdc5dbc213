//! A part of the document that stands alone.

use std::collections::BTreeSet;

use serde_json::Value;

/// The operations of one tag, with the components that they need and no others; none of a tag that there is not. Links lead
/// only to operations that are there.
pub fn of_tag(mut document: Value, tag: &str) -> Option<Value> {
    let tags = document["tags"].as_array_mut()?;
    tags.retain(|known| known["name"] == tag);
    if tags.is_empty() {
        return None;
    }
    let paths = document["paths"].as_object_mut()?;
    for item in paths.values_mut().filter_map(Value::as_object_mut) {
        item.retain(|_, operation| operation["tags"][0] == tag);
    }
    paths.retain(|_, item| item.as_object().is_some_and(|item| !item.is_empty()));
    let here: BTreeSet<String> =
        operations(paths).filter_map(|operation| text(&operation["operationId"])).collect();
    for operation in paths.values_mut().filter_map(Value::as_object_mut).flat_map(|item| item.values_mut()) {
        let responses = operation["responses"].as_object_mut();
        for links in responses.into_iter().flat_map(|responses| responses.values_mut()) {
            if let Some(links) = links.get_mut("links").and_then(Value::as_object_mut) {
                links.retain(|_, link| text(&link["operationId"]).is_some_and(|id| here.contains(&id)));
            }
        }
    }
    let needed = needed(&document);
    let kinds =
        document["components"].as_object_mut()?.iter_mut().filter(|(kind, _)| *kind != "securitySchemes");
    for (kind, components) in kinds {
        let components = components.as_object_mut()?;
        components.retain(|name, _| needed.contains(&format!("#/components/{kind}/{name}")));
    }
    Some(document)
}

fn operations(paths: &serde_json::Map<String, Value>) -> impl Iterator<Item = &Value> {
    paths.values().filter_map(Value::as_object).flat_map(|item| item.values())
}

fn text(value: &Value) -> Option<String> {
    value.as_str().map(str::to_owned)
}

/// What the operations refer to, and what that refers to.
fn needed(document: &Value) -> BTreeSet<String> {
    let (mut needed, mut open) = (BTreeSet::new(), Vec::new());
    references(&document["paths"], &mut open);
    while let Some(reference) = open.pop() {
        if let (Some(found), true) = (document.pointer(&reference[1..]), needed.insert(reference.clone())) {
            references(found, &mut open);
        }
    }
    needed
}

fn references(value: &Value, found: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            found.extend(members.get("$ref").and_then(text));
            members.values().for_each(|member| references(member, found));
        }
        Value::Array(items) => items.iter().for_each(|item| references(item, found)),
        _ => {}
    }
}
