//! Every operation is asked what no honest client asks, by every role and by nobody: each answer is a status that the
//! document has for the operation, and none says that the service failed.

use std::collections::BTreeMap;

use reqwest::Method;
use serde_json::{Value, json};

use super::{Patience, UNBOUNDED, tell, times};
use crate::server::{Server, new_id};

const ROLES: [&str; 4] = ["administrator", "manager", "dispatcher", "technician"];

const WORDS: [&str; 16] = [
    "x",
    "%00",
    "%F0%9F%94%A7",
    "..%2f..%2f",
    "-1",
    "0",
    "9223372036854775808",
    "1e309",
    "NaN",
    "'%20OR%201=1--",
    "2026-02-30",
    "9999-12-31T23:59:60Z",
    "00000000-0000-0000-0000-000000000000",
    "true",
    "%22%5C",
    "%E2%80%AE",
];

const BODIES: [&str; 18] = [
    "",
    "{",
    "{}",
    "[]",
    "null",
    "0",
    "\"\"",
    "{\"id\":null}",
    "{\"\\u0000\":1}",
    "[[[[[[[[[[]]]]]]]]]]",
    "{\"name\":\"\\ud800\"}",
    "{\"runs\":[{}]}",
    "{\"runs\":[null,1,\"x\"]}",
    "{\"sent_at\":\"9999-12-31T23:59:59Z\",\"runs\":[]}",
    "{\"name\":1e308,\"at\":\"0000-01-01\"}",
    "{\"id\":\"00000000-0000-7000-8000-000000000000\",\"name\":\"\\u202e\"}",
    "{\"quantity\":-0.0,\"unit_price\":\"1e999\"}",
    "{\"a\":1,\"a\":2}",
];

/// The same choices each time (a linear congruential generator; the constants are Knuth's MMIX).
struct Choices(u64);

impl Choices {
    fn among(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }

    fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.among(all.len())]
    }
}

struct Operation {
    method: Method,
    path: String,
    parameters: Vec<String>,
    statuses: Vec<u16>,
    /// The document's example of a body.
    example: Option<Value>,
}

/// What stands in one field of an example that is good otherwise.
fn hostile_values() -> Vec<Value> {
    vec![
        Value::Null,
        json!(true),
        json!(-1),
        json!(0),
        json!(i64::MAX),
        json!(u64::MAX),
        json!(1e308),
        json!(-1e308),
        json!(5e-324),
        json!(""),
        json!(" "),
        json!("\u{0}"),
        json!("\u{202e}x"),
        json!("x".repeat(5000)),
        json!("0001-01-01T00:00:00Z"),
        json!("9999-12-31T23:59:59.999999999Z"),
        json!("2026-04-15T08:46:00"),
        json!("00000000-0000-0000-0000-000000000000"),
        json!([]),
        json!({}),
        json!({"value": 1e300, "unit": "s"}),
        json!([null]),
        json!(vec![json!({}); 300]),
    ]
}

/// The values without parts of their own.
fn leaves(value: &Value, at: String, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (name, field) in fields {
                leaves(field, format!("{at}/{name}"), found);
            }
        }
        Value::Array(items) => {
            for (n, item) in items.iter().enumerate() {
                leaves(item, format!("{at}/{n}"), found);
            }
        }
        _ => found.push(at),
    }
}

fn operations(document: &Value) -> Vec<Operation> {
    let mut all = Vec::new();
    for (path, methods) in document["paths"].as_object().unwrap() {
        for (method, operation) in methods.as_object().unwrap() {
            let Some(responses) = operation["responses"].as_object() else { continue };
            let parameters = operation["parameters"].as_array().cloned().unwrap_or_default();
            let queries = parameters.iter().filter(|parameter| parameter["in"] == "query");
            all.push(Operation {
                method: method.to_uppercase().parse().unwrap(),
                path: path.clone(),
                parameters: queries.map(|query| query["name"].as_str().unwrap().to_owned()).collect(),
                example: example(operation),
                statuses: responses.keys().filter_map(|status| status.parse().ok()).collect(),
            });
        }
    }
    all
}

fn example(operation: &Value) -> Option<Value> {
    let media = operation["requestBody"]["content"].as_object()?.values().next()?;
    Some(media["example"].clone())
}

/// An example with one or two fields that nobody honest sends, or something else altogether.
fn body(operation: &Operation, ids: &[String], values: &[Value], choices: &mut Choices) -> String {
    let Some(example) = operation.example.as_ref().filter(|_| choices.among(4) > 0) else {
        return (*choices.of(&BODIES)).to_owned();
    };
    let (mut example, mut found) = (example.clone(), Vec::new());
    leaves(&example, String::new(), &mut found);
    for _ in 0..=choices.among(2) {
        let value = if choices.among(3) == 0 { json!(choices.of(ids)) } else { choices.of(values).clone() };
        if let Some(place) = (!found.is_empty()).then(|| choices.of(&found))
            && let Some(field) = example.pointer_mut(place)
        {
            *field = value;
        }
    }
    example.to_string()
}

/// Ids that are there, to get beyond "not found".
async fn known_ids(server: &Server) -> Vec<String> {
    let mut ids = vec![new_id()];
    for list in ["customers", "sites", "appliances", "calls", "work-orders", "people", "parts", "contacts"] {
        let page = server.json("administrator", &format!("/v1/{list}?limit=20")).await;
        let items = page["items"].as_array().unwrap().clone();
        ids.extend(items.iter().filter_map(|item| item["id"].as_str()).map(str::to_owned));
    }
    ids
}

#[tokio::test]
async fn hostile_requests_fail_nothing_and_get_documented_answers() {
    let wanted = times("KNOCK_HOSTILE", 1500);
    let server = Server::with_demo_and(&UNBOUNDED).await;
    let document: Value =
        server.client.get(server.url("/openapi.json")).send().await.unwrap().json().await.unwrap();
    let operations = operations(&document);
    let ids = known_ids(&server).await;
    let tokens: Vec<String> = ROLES.iter().map(|role| server.token(role)).collect();
    let values = hostile_values();
    let mut choices = Choices(20_260_422);
    let (mut odd, mut seen) = (BTreeMap::<String, usize>::new(), BTreeMap::<u16, usize>::new());
    let (mut done, patience) = (0, Patience::begin());
    for n in 0..wanted {
        if patience.has_run_out() {
            break;
        }
        done += 1;
        let operation = &operations[n % operations.len()];
        let mut path = String::new();
        for piece in operation.path.split_inclusive('/') {
            if piece.starts_with('{') {
                let value =
                    if choices.among(4) == 0 { *choices.of(&WORDS) } else { choices.of(&ids).as_str() };
                path.push_str(value);
                path.push_str(if piece.ends_with('/') { "/" } else { "" });
            } else {
                path.push_str(piece);
            }
        }
        if choices.among(2) == 0 && !operation.parameters.is_empty() {
            let (name, value) = (choices.of(&operation.parameters), choices.of(&WORDS));
            path = format!("{path}?{name}={value}");
        }
        let mut request = server.client.request(operation.method.clone(), server.url(&path));
        match choices.among(10) {
            0 => {}
            1 => request = request.bearer_auth(choices.of(&WORDS)),
            _ => request = request.bearer_auth(choices.of(&tokens)),
        }
        if operation.method != Method::GET {
            let media = ["application/json", "application/merge-patch+json", "text/plain"];
            request =
                request.header("content-type", media[choices.among(7).min(2) * usize::from(n % 3 == 0)]);
            request = request.header("if-match", *choices.of(&["\"1\"", "*", "W/\"1\"", "1"]));
            request = request.header("idempotency-key", *choices.of(&["a", "", "ä", "b"])).body(body(
                operation,
                &ids,
                &values,
                &mut choices,
            ));
        }
        // A kept connection may have ended meanwhile, as any client finds out by sending.
        let again = request.try_clone().unwrap();
        let answer = match request.send().await {
            Ok(answer) => answer,
            Err(_) => again.send().await.unwrap(),
        };
        let status = answer.status().as_u16();
        *seen.entry(status).or_default() += 1;
        let is_documented = operation.statuses.contains(&status);
        if status >= 500 || !is_documented {
            *odd.entry(format!("{status} {} {path}", operation.method)).or_default() += 1;
        }
    }
    assert!(odd.is_empty(), "{odd:#?}");
    server.check();
    tell("hostile requests over all operations and roles", done, &format!("by status {seen:?}"));
}
