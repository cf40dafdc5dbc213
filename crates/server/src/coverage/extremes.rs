//! No stored value that cannot be read: the extremes of every field are written, and every operation is read. Derived from the
//! document: what it lets through, the store takes and every reader reads.

use axum::http::Method;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::provoke;
use super::service::{Service, Temper};
use super::shape::{Leaf, leaves, set};
use super::walk::{self, Example};
use crate::demo::script::id_of;

#[sqlx::test(migrations = "../../migrations")]
async fn extremes_of_every_field_are_written_and_every_operation_reads_on(pool: PgPool) {
    let mut service = Service::over(pool).await;
    let examples = walk::examples();
    let (mut faults, mut written, mut kept, mut made) = (Vec::new(), 0, 0, Vec::new());
    for example in &examples {
        provoke::success(&mut service, example).await;
        if example.operation == "create_knowledge_version" {
            service.application.learn().await;
        }
        // A token or a person of the test's own must stay what it is.
        if example.body.is_none() || ["create_token", "erase_contact"].contains(&example.operation.as_str()) {
            continue;
        }
        let (_, _, operation) = service.operation(&example.operation);
        for leaf in leaves(&service.document, &operation) {
            for extreme in extremes(&leaf) {
                written += 1;
                let Some(example) = with(example, &leaf.pointer, extreme.clone(), written) else { continue };
                let asked = provoke::good(&service, &example).await.without("idempotency-key");
                let answered = service.send(Temper::Usual, &asked).await;
                if answered.status >= 500 {
                    let said =
                        format!("{} {} = {extreme}: {}", example.operation, leaf.pointer, answered.status);
                    faults.push(said.chars().take(300).collect());
                }
                kept += usize::from(answered.status < 300);
                if let Some(location) = answered.headers.get("location").filter(|_| answered.status == 201) {
                    made.push(location.to_str().unwrap().to_owned());
                }
            }
        }
    }
    for example in &examples {
        let (method, _, _) = service.operation(&example.operation);
        if method == Method::GET {
            let asked = provoke::good(&service, example).await;
            let answered = service.send(Temper::Usual, &asked).await;
            if answered.status >= 500 {
                faults.push(format!("{} reads {}", asked.path, answered.status));
            }
        }
    }
    for path in made {
        let asked = provoke::reading(&service, &path);
        let answered = service.send(Temper::Usual, &asked).await;
        if answered.status >= 500 {
            faults.push(format!("{path} reads {}", answered.status));
        }
    }
    for checked in store::check::all(service.application.database(), &mut |_| {}).await.unwrap() {
        if checked.broken > 0 {
            faults.push(format!("{checked:?}"));
        }
    }
    faults.extend(store::check::unreadable(service.application.database()).await.unwrap());
    assert!(faults.is_empty(), "{} faults of {written} values:\n{}", faults.len(), faults.join("\n"));
    assert!(kept > 100, "of {written} extremes {kept} were kept");
    eprintln!(
        "beyond\textremes of every field of every body\t{written}\t{kept} kept, all read again; check is sound"
    );
}

/// The example about something new of its own, with this value in this place.
fn with(example: &Example, pointer: &str, value: Value, written: usize) -> Option<Example> {
    let mut example = example.clone();
    let mut body = example.body.clone()?;
    if ["/id", "/runs/0/id", "/orders/0/id"].contains(&pointer) {
        return None;
    }
    for own in ["/id", "/runs/0/id", "/orders/0/id"] {
        if body.pointer(own).is_some() {
            set(&mut body, own, json!(id_of(&format!("extreme_{written}{own}"))));
        }
    }
    set(&mut body, pointer, value).then(|| {
        example.body = Some(body);
        example
    })
}

/// The ends of what the document lets through, and what lies beyond every quantity.
fn extremes(leaf: &Leaf) -> Vec<Value> {
    let schema = &leaf.schema;
    if schema["enum"].is_array() || schema["format"] == "uuid" {
        return Vec::new();
    }
    let is_text = schema["type"] == "string"
        || schema["type"].as_array().is_some_and(|types| types.contains(&json!("string")));
    if !is_text {
        let mut numbers = vec![
            json!(0),
            json!(-1),
            json!(1e-300),
            json!(1e300),
            json!(f64::MAX),
            json!(-1e300),
            json!(i64::MAX),
        ];
        numbers.extend(
            ["minimum", "maximum"]
                .into_iter()
                .map(|bound| schema[bound].clone())
                .filter(|bound| !bound.is_null()),
        );
        return numbers;
    }
    match schema["format"].as_str() {
        Some("date-time") => [
            "1970-01-01T00:00:00Z",
            "2199-12-31T23:59:59.999999Z",
            "2026-04-20T00:00:00+23:59",
            "9999-12-31T23:59:59Z",
        ]
        .map(Value::from)
        .to_vec(),
        Some("date") => ["1970-01-01", "2199-12-31", "9999-12-31"].map(Value::from).to_vec(),
        _ if schema["pattern"].is_string() => {
            vec![schema["examples"][0].clone(), json!("9999999999.99"), json!("a"), json!("z".repeat(64))]
        }
        _ => {
            let longest = schema["maxLength"].as_u64().unwrap_or(100).min(4000);
            let longest = usize::try_from(longest).unwrap();
            vec![json!("\u{10FFFF}".repeat(longest)), json!("\u{1}"), json!("'\"\\%_\r\n\u{202E}")]
        }
    }
}
