//! A wrong unit put right: nothing that was read is lost, and both machines' histories say so.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{on_site, order};
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id};

fn run(n: u32, appliance: &str) -> Value {
    json!({
        "id": id(n), "appliance_id": appliance, "work_order_id": id(2), "visit_id": id(3),
        "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair", "device_id": "phone", "sequence": n,
        "taken_at": "2026-03-02T10:04:00Z", "conditions": {"confirmed": ["sump_empty"]},
        "readings": [{"step": "fill_time", "value": {"value": 22.5, "unit": "s", "text": "22,5"}}],
    })
}

async fn send(company: &Company, run: Value) -> Value {
    company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200).body["items"][0]
        .clone()
}

async fn runs_of_order(company: &Company) -> Vec<Value> {
    let runs = company.get(&format!("{}/test-runs", order()), TECHNICIAN).await.expect(200).body;
    runs["items"].as_array().unwrap().clone()
}

fn standing(runs: &[Value]) -> Vec<&Value> {
    runs.iter()
        .filter(|run| run["superseded_by_id"].is_null() && run["retraction_reason"].is_null())
        .collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_order_moves_with_all_that_was_read_and_found(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    assert_eq!(send(&company, run(20, &company::appliance())).await["status"], "created");
    let finding = json!({
        "id": id(30), "position": "fill_valve", "finding": "degraded", "failure_mode": "slow", "evidence": "timed",
        "test_run_ids": [id(20)], "found_at": "2026-03-02T10:05:00Z",
    });
    company.post(&format!("{}/findings", order()), TECHNICIAN, finding).await.expect(201);
    let patch = json!({"appliance_id": company::second_appliance()});
    let hint = company.on_current("PATCH", &order(), &order(), TECHNICIAN, patch).await.expect(409);
    assert!(
        hint.body["detail"].as_str().unwrap().contains("correction of the order's machine"),
        "{:#}",
        hint.body
    );

    let path = format!("{}/machine-corrections", order());
    let right = |n: u32, appliance: String| json!({"id": id(n), "appliance_id": appliance, "why": "The plate says so."});
    let elsewhere =
        company.post(&path, TECHNICIAN, right(40, company::appliance_elsewhere())).await.expect(422);
    assert_eq!(elsewhere.pointers(), ["/appliance_id"], "another kitchen's machine is no wrong unit");
    company.post(&path, TECHNICIAN, right(40, company::appliance())).await.expect(422);
    company.post(&path, TECHNICIAN, right(40, company::second_appliance())).await.expect(201);
    company.post(&path, TECHNICIAN, right(40, company::second_appliance())).await.expect(200);

    let moved = company.get(&order(), TECHNICIAN).await.expect(200).body;
    assert_eq!(moved["appliance_id"], company::second_appliance());
    let runs = runs_of_order(&company).await;
    let stands = standing(&runs);
    assert_eq!((runs.len(), stands.len()), (2, 1), "{runs:#?}");
    assert_eq!(stands[0]["appliance_id"], company::second_appliance());
    assert_eq!(
        (&stands[0]["supersedes_id"], &stands[0]["moved_from_id"]),
        (&json!(id(20)), &json!(company::appliance()))
    );
    assert_eq!(stands[0]["readings"][0]["value"]["text"], "22,5", "words as they were read");
    assert_eq!(stands[0]["taken_at"], "2026-03-02T10:04:00.000000Z");
    let findings = company.get(&format!("{}/findings", order()), TECHNICIAN).await.expect(200).body;
    let stands: Vec<_> = findings["items"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|finding| finding["superseded_by_id"].is_null())
        .collect();
    assert_eq!(stands.len(), 1, "{findings:#}");
    let verdicts = company.get(&format!("{}/verdicts", order()), TECHNICIAN).await.expect(200).body;
    assert!(verdicts.to_string().contains("22.5"), "{verdicts:#}");

    // What comes late and names the wrong machine is taken and moved, a correction of what was moved too.
    let late = send(&company, run(21, &company::appliance())).await;
    assert_eq!(late["status"], "created", "{late:#}");
    assert_eq!(send(&company, run(21, &company::appliance())).await["status"], "already_there");
    let mut correction = run(22, &company::appliance());
    correction["supersedes_id"] = json!(id(20));
    assert_eq!(send(&company, correction).await["status"], "created");
    let runs = runs_of_order(&company).await;
    let stands = standing(&runs);
    assert_eq!(stands.len(), 2, "{runs:#?}");
    assert!(
        stands.iter().all(|run| run["appliance_id"] == company::second_appliance().as_str()),
        "{stands:#?}"
    );

    for appliance in [company::appliance(), company::second_appliance()] {
        let history =
            company.get(&format!("/v1/appliances/{appliance}/history"), DISPATCHER).await.expect(200).body;
        let said =
            history["items"].as_array().unwrap().iter().find(|item| item["kind"] == "machine_corrected");
        let said = said.unwrap_or_else(|| panic!("{history:#}"));
        assert_eq!(said["detail"]["why"], "The plate says so.");
        assert_eq!(said["detail"]["to_appliance_id"], company::second_appliance());
    }
    assert_eq!(company.broken().await, [], "what was superseded on the wrong machine contradicts nothing");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_stop_of_use_goes_along_and_stays_behind(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut dangerous = super::call();
    dangerous["stop_use"] = json!(true);
    company.post("/v1/calls", DISPATCHER, dangerous).await.expect(201);
    let right =
        json!({"id": id(40), "appliance_id": company::second_appliance(), "why": "It is the other one."});
    company.post(&format!("{}/machine-corrections", order()), DISPATCHER, right).await.expect(201);
    for appliance in [company::appliance(), company::second_appliance()] {
        let body = company.get(&format!("/v1/appliances/{appliance}"), DISPATCHER).await.expect(200).body;
        assert_eq!(body["state"], "unsafe_do_not_use", "{appliance}");
    }
}
