//! Links: what can be done next with what was just made. Each operation below the address of a new thing follows the
//! one that makes it, with the id, and the ETag where it asks for one, out of that answer.

use serde_json::{Value, json};

/// An operation that speaks of one thing: `/v1/visits/{id}` and everything below.
struct Follower {
    collection: String,
    operation: String,
    takes_if_match: bool,
}

/// What is not there yet when its owner was just made.
const LATER: &[&str] = &["get_outcome_snapshot"];

pub fn link(document: &mut Value) {
    let followers = followers(document);
    for (path, item) in document["paths"].as_object_mut().into_iter().flatten() {
        let Some(operation) = item.get_mut("post") else { continue };
        let collection = path.rsplit('/').next().unwrap_or_default();
        let Some(pointer) = id_of_answer(operation) else { continue };
        let links: serde_json::Map<String, Value> = followers
            .iter()
            .filter(|follower| follower.collection == collection)
            .map(|follower| (follower.operation.clone(), follower.link(pointer)))
            .collect();
        for status in ["200", "201"] {
            if !links.is_empty() {
                operation["responses"][status]["links"] = json!(links);
            }
        }
    }
}

fn followers(document: &Value) -> Vec<Follower> {
    let mut followers = Vec::new();
    for (path, item) in document["paths"].as_object().into_iter().flatten() {
        let mut parts = path.trim_start_matches("/v1/").split('/');
        let (Some(collection), Some("{id}")) = (parts.next(), parts.next()) else { continue };
        for operation in item.as_object().into_iter().flat_map(|item| item.values()) {
            let parameters = operation["parameters"].as_array();
            let id = operation["operationId"].as_str().unwrap_or_default();
            if LATER.contains(&id) {
                continue;
            }
            followers.push(Follower {
                collection: collection.to_owned(),
                operation: id.to_owned(),
                takes_if_match: parameters
                    .is_some_and(|all| all.iter().any(|parameter| parameter["name"] == "If-Match")),
            });
        }
    }
    followers
}

/// Where the answer of an operation that makes something names it.
fn id_of_answer(operation: &Value) -> Option<&'static str> {
    let answer = &operation["responses"].get("201")?["content"]["application/json"]["example"];
    ["/id", "/call/id"].into_iter().find(|pointer| answer.pointer(pointer).is_some())
}

impl Follower {
    fn link(&self, pointer: &str) -> Value {
        let mut parameters = json!({"id": format!("$response.body#{pointer}")});
        if self.takes_if_match {
            parameters["If-Match"] = json!("$response.header.ETag");
        }
        json!({"operationId": self.operation, "parameters": parameters})
    }
}
