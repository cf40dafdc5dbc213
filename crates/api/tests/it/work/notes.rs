//! What people tell each other about an order, when somebody is to be rung back, and what holds of a kitchen whoever comes.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{call, on_site, order};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

fn notes() -> String {
    format!("{}/notes", order())
}

fn note(n: u32, more: &Value) -> Value {
    let mut note = json!({"id": id(n), "words": "She asks the board tonight."});
    note.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    note
}

#[sqlx::test(migrations = "../../migrations")]
async fn who_is_to_be_rung_back_is_rung_once_and_perhaps_again(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    let asked = note(20, &json!({"ring_back_at": "2026-03-03T08:00:00Z"}));
    company.post(&notes(), DISPATCHER, asked.clone()).await.expect(201);
    company.at("2026-03-03T09:00:00Z");
    company.post(&notes(), DISPATCHER, asked).await.expect(200);
    let again = json!({"settles": id(20), "ring_back_at": "2026-03-04T08:00:00Z"});
    company.post(&notes(), DISPATCHER, note(21, &again)).await.expect(201);
    let twice = company.post(&notes(), DISPATCHER, note(22, &json!({"settles": id(20)}))).await;
    twice.assert_problem(422, "invalid").assert_fault("/settles");
    let unasked = company.post(&notes(), DISPATCHER, note(23, &json!({}))).await.expect(201);
    assert_eq!(unasked.body["settled_by"], Value::Null);
    let plain = company.post(&notes(), DISPATCHER, note(24, &json!({"settles": id(23)}))).await;
    plain.assert_problem(422, "invalid").assert_fault("/settles");
    let all = company.get(&notes(), DISPATCHER).await.expect(200);
    let settled: Vec<&Value> =
        all.body["items"].as_array().unwrap().iter().map(|note| &note["settled_by"]).collect();
    assert_eq!(settled, [&json!(id(21)), &Value::Null, &Value::Null], "{}", all.body);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_time_to_ring_lies_ahead_and_nobody_is_rung_about_what_is_closed(pool: PgPool) {
    let company = Company::over(pool).await;
    company.post("/v1/calls", DISPATCHER, call()).await.expect(201);
    for at in ["2026-02-01T08:00:00Z", "2027-09-01T08:00:00Z"] {
        let answer = company.post(&notes(), DISPATCHER, note(20, &json!({"ring_back_at": at}))).await;
        answer.assert_problem(422, "invalid").assert_fault("/ring_back_at");
    }
    company
        .act(&order(), "cancel", DISPATCHER, json!({"why": "They rang again: it runs."}))
        .await
        .expect(200);
    let late = note(21, &json!({"ring_back_at": "2026-03-20T08:00:00Z"}));
    company.post(&notes(), DISPATCHER, late).await.assert_problem(409, "not-now");
    company.post(&notes(), DISPATCHER, note(22, &json!({}))).await.expect(201);
}

#[sqlx::test(migrations = "../../migrations")]
async fn whoever_is_sent_to_a_kitchen_tells_what_holds_there(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let path = format!("/v1/sites/{}/standing-facts", company::site());
    let told = json!({"shut_offs": "Board K2 beside the cold room.", "parking": "In the yard."});
    company.on_current("PATCH", &path, &path, TECHNICIAN, told).await.expect(200);
    let emptied =
        company.on_current("PATCH", &path, &path, DISPATCHER, json!({"parking": null})).await.expect(200);
    assert_eq!(emptied.body["parking"], Value::Null);
    assert_eq!(emptied.body["shut_offs"], "Board K2 beside the cold room.");
    company.get(&path, OTHER_TECHNICIAN).await.assert_problem(404, "not-found");
}
