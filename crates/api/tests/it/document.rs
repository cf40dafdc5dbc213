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
                let is_bound = value["pattern"].is_string() || value["format"].is_string();
                assert!(
                    is_bound || !place.contains("/parameters/"),
                    "{place} has no pattern: it takes U+0000"
                );
            }
            if has_type("array") && value["items"].is_object() {
                assert!(value["maxItems"].is_number(), "{place} has no maxItems");
            }
        }
    });
}

/// Makers of clients differ in what they take from these.
#[test]
fn no_schema_has_a_default_and_no_parameter_is_a_list() {
    let document = api::document::document();
    walk(&document, "", &mut |place, value| {
        let is_schema = place.contains("/schemas/") || place.contains("/schema");
        assert!(!is_schema || value["default"].is_null() || place.ends_with("/properties"), "{place}");
        let is_parameter = place.contains("/parameters/") && place.ends_with("/schema");
        assert!(!is_parameter || value["type"] != "array", "{place}");
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

#[test]
fn every_body_parameter_and_good_answer_shows_what_holds_to_its_schema() {
    let document = api::document::document();
    let mut faults = Vec::new();
    let mut judge = |place: String, content: &Value| {
        let Some(example) = content.get("example") else {
            faults.push(format!("{place} has no example: see demo/examples.json and scripts/update"));
            return;
        };
        let root = serde_json::json!({"allOf": [content["schema"]], "components": document["components"]});
        let validator = jsonschema::options().should_validate_formats(true).build(&root).unwrap();
        faults.extend(validator.iter_errors(example).map(|error| format!("{place}: {error}")));
    };
    for (_, item) in document["paths"].as_object().unwrap() {
        for operation in item.as_object().unwrap().values() {
            let id = operation["operationId"].as_str().unwrap();
            let parameters = operation["parameters"].as_array().into_iter().flatten();
            for parameter in parameters.filter(|parameter| parameter.get("example").is_some()) {
                judge(format!("{id} parameter {}", parameter["name"]), parameter);
            }
            for (media, content) in operation["requestBody"]["content"].as_object().into_iter().flatten() {
                judge(format!("{id} body {media}"), content);
            }
            let good = operation["responses"]
                .as_object()
                .unwrap()
                .iter()
                .filter(|(status, _)| status.starts_with('2'));
            for (status, response) in good {
                for (media, content) in response["content"].as_object().into_iter().flatten() {
                    // A table in another notation is told by the JSON beside it.
                    if media.ends_with("json") || response["content"].as_object().unwrap().len() == 1 {
                        judge(format!("{id} {status} {media}"), content);
                    }
                }
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Of two wire types with one name, the document would show the one and the service send the other.
#[test]
fn no_two_wire_types_share_a_name() {
    let mut seen = std::collections::BTreeMap::<String, String>::new();
    let mut folders = vec![std::path::PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/src"))];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = std::fs::read_to_string(&path).unwrap();
            let mut derived = text.split("ToSchema").skip(1).filter(|rest| rest.starts_with([')', ',']));
            derived.by_ref().for_each(|rest| {
                let head = rest.lines().skip(1).find(|line| {
                    line.starts_with("pub ") || line.starts_with("struct ") || line.starts_with("enum ")
                });
                let words: Vec<_> = head.unwrap_or_default().split([' ', '<', '{', '(', ';']).collect();
                let Some(at) = words.iter().position(|word| ["struct", "enum"].contains(word)) else {
                    return;
                };
                let renamed =
                    rest.split("pub struct").next().and_then(|head| head.split("schema(as = ").nth(1));
                let name =
                    renamed.and_then(|rest| rest.split(')').next()).unwrap_or(words[at + 1]).to_owned();
                if let Some(other) = seen.insert(name.clone(), path.display().to_string()) {
                    panic!("{name} stands in {other} and in {}", path.display());
                }
            });
        }
    }
    assert!(seen.len() > 50, "the wire types were found: {seen:?}");
}

#[test]
fn a_link_leads_to_an_operation_and_takes_what_is_in_the_answer() {
    let document = api::document::document();
    let paths = document["paths"].as_object().unwrap();
    let operations: Vec<_> = paths.values().flat_map(|item| item.as_object().unwrap().values()).collect();
    let mut seen = 0;
    for operation in &operations {
        for response in operation["responses"].as_object().unwrap().values() {
            for link in response["links"].as_object().into_iter().flat_map(|links| links.values()) {
                assert!(operations.iter().any(|other| other["operationId"] == link["operationId"]), "{link}");
                let pointer =
                    link["parameters"]["id"].as_str().unwrap().strip_prefix("$response.body#").unwrap();
                let example = &response["content"]["application/json"]["example"];
                assert!(example.pointer(pointer).is_some(), "{} {link}", operation["operationId"]);
                if !link["parameters"]["If-Match"].is_null() {
                    assert!(response["headers"]["ETag"].is_object(), "{} {link}", operation["operationId"]);
                }
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "{seen}");
}

#[test]
fn each_tag_is_a_document_of_its_own_and_together_they_are_the_whole() {
    let document = api::document::document();
    let count = |document: &Value| {
        let paths = document["paths"].as_object().unwrap().values();
        paths.map(|item| item.as_object().unwrap().len()).sum::<usize>()
    };
    let mut operations = 0;
    for tag in document["tags"].as_array().unwrap() {
        let name = tag["name"].as_str().unwrap();
        let part = api::document::part::of_tag(document.clone(), name).unwrap();
        operations += count(&part);
        let mut named = 0;
        walk(&part, "", &mut |place, value| {
            if let Some(reference) = value["$ref"].as_str() {
                assert!(part.pointer(&reference[1..]).is_some(), "{name}: {place} -> {reference}");
                named += 1;
            }
        });
        assert!(named > 0 && part.to_string().len() < document.to_string().len(), "{name}");
    }
    assert_eq!(operations, count(&document));
    assert!(api::document::part::of_tag(document, "no such tag").is_none());
}

#[test]
fn what_is_one_of_several_has_a_name() {
    walk(&api::document::document()["components"]["schemas"], "", &mut |place, value| {
        let objects = value["oneOf"].as_array().into_iter().flatten().filter(|one| one["type"] == "object");
        for one in objects {
            assert!(one["title"].is_string(), "{place} has a member without a name: {one}");
        }
    });
}
