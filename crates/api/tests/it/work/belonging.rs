//! What a body names belongs to what it is about: another machine's, order's or customer's thing is refused.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{call, on_site, order};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id, uuid};

fn run(n: u32, appliance: &str, work_order: Option<u32>) -> Value {
    json!({
        "id": id(n), "appliance_id": appliance, "work_order_id": work_order.map(id),
        "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair", "device_id": "phone", "sequence": n,
        "taken_at": "2026-03-02T10:04:00Z", "conditions": {"confirmed": ["sump_empty"]},
        "readings": [{"step": "fill_time", "value": {"value": 12.7, "unit": "s"}}],
    })
}

async fn send(company: &Company, token: &str, run: Value) -> Value {
    company.post("/v1/test-runs", token, json!({"runs": [run]})).await.expect(200).body["items"][0].clone()
}

fn finding(n: u32, runs: &[u32]) -> Value {
    json!({
        "id": id(n), "position": "fill_valve", "finding": "degraded", "failure_mode": "slow", "evidence": "timed",
        "test_run_ids": runs.iter().map(|n| id(*n)).collect::<Vec<_>>(), "found_at": "2026-03-02T10:05:00Z",
    })
}

/// A second order, of the second machine.
async fn second_order(company: &Company) -> String {
    let body = json!({
        "id": id(51), "site_id": company::site(), "words": "The right one too.", "urgency": "degraded", "stop_use": false,
        "orders": [{"id": id(52), "appliance_id": company::second_appliance(), "symptoms": ["noisy"]}],
    });
    company.post("/v1/calls", DISPATCHER, body).await.expect(201);
    format!("/v1/work-orders/{}", id(52))
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_finding_rests_on_runs_of_its_machine_and_a_line_on_a_finding_of_its_order(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let other = second_order(&company).await;
    send(&company, DISPATCHER, run(20, &company::appliance(), Some(2))).await;
    send(&company, DISPATCHER, run(21, &company::second_appliance(), Some(52))).await;
    let findings = format!("{}/findings", order());
    let refused = company.post(&findings, TECHNICIAN, finding(30, &[20, 21, 99])).await.expect(422);
    assert_eq!(refused.pointers(), ["/test_run_ids/1", "/test_run_ids/2"], "{:#}", refused.body);
    company.post(&findings, TECHNICIAN, finding(31, &[20])).await.expect(201);
    company.post(&format!("{other}/findings"), DISPATCHER, finding(32, &[21])).await.expect(201);
    let line = |n: u32, finding: u32| {
        json!({"id": id(n), "part_id": company::part(), "finding_id": id(finding), "quantity": 1,
        "payer": "contract"})
    };
    let lines = format!("{}/part-lines", order());
    let refused = company.post(&lines, TECHNICIAN, line(40, 32)).await.expect(422);
    assert_eq!(refused.pointers(), ["/finding_id"]);
    company.post(&lines, TECHNICIAN, line(41, 31)).await.expect(201);
    // The schema keeps it too, whoever writes.
    let linked = sqlx::query!(
        "INSERT INTO finding_test_run (finding_id, test_run_id, appliance_id) VALUES ($1, $2, $3)",
        uuid(&id(31)),
        uuid(&id(21)),
        uuid(&company::appliance())
    );
    assert!(linked.execute(&company.pool).await.is_err());
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_without_a_machine_takes_runs_of_its_kitchen_and_is_confirmed_as_theirs(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut unknown = call();
    unknown["orders"] = json!([{"id": id(2), "symptoms": ["does_not_clean"]}]);
    company.post("/v1/calls", DISPATCHER, unknown).await.expect(201);
    company.at("2026-03-02T10:05:00Z");
    let elsewhere = send(&company, DISPATCHER, run(20, &company::appliance_elsewhere(), Some(2))).await;
    assert_eq!(elsewhere["problem"]["errors"][0]["pointer"], "/appliance_id", "{elsewhere:#}");
    for (n, appliance) in [(21, company::appliance()), (22, company::second_appliance())] {
        assert_eq!(send(&company, DISPATCHER, run(n, &appliance, Some(2))).await["status"], "created");
    }
    let confirm = json!({"appliance_id": company::appliance()});
    let refused =
        company.on_current("PATCH", &order(), &order(), DISPATCHER, confirm.clone()).await.expect(409);
    assert!(refused.body["detail"].as_str().unwrap().contains(&id(22)), "{:#}", refused.body);
    let mut back = run(23, &company::second_appliance(), Some(2));
    back["readings"] = json!([]);
    back["supersedes_id"] = json!(id(22));
    back["retraction_reason"] = json!("read at the wrong machine");
    assert_eq!(send(&company, DISPATCHER, back).await["status"], "created");
    company.on_current("PATCH", &order(), &order(), DISPATCHER, confirm).await.expect(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_defeat_that_is_not_there_and_another_customers_contact_are_refused(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let mut alone = run(20, &company::appliance(), None);
    alone["interlock_defeat_id"] = json!(id(77));
    let refused = send(&company, TECHNICIAN, alone).await;
    assert_eq!(refused["problem"]["errors"][0]["pointer"], "/interlock_defeat_id", "{refused:#}");
    sqlx::query!(
        "WITH c AS (INSERT INTO customer (id, name, body_sha256, created_at) VALUES ($1, 'Another', '', now()))
         INSERT INTO contact (id, customer_id, name, body_sha256, created_at) VALUES ($2, $1, 'A stranger', '', now())",
        uuid(&id(60)),
        uuid(&id(61))
    )
    .execute(&company.pool)
    .await
    .unwrap();
    let line = json!({"id": id(40), "part_id": company::part(), "quantity": 1, "payer": "customer"});
    company.post(&format!("{}/part-lines", order()), TECHNICIAN, line).await.expect(201);
    let quote = json!({"id": id(41), "part_line_ids": [id(40)]});
    company.post(&format!("{}/quotes", order()), DISPATCHER, quote).await.expect(201);
    let approval = |contact: String| {
        json!({"id": id(42), "quote_id": id(41), "decision": "approved", "decided_at": "2026-03-02T10:05:00Z",
            "contact_id": contact})
    };
    let approvals = format!("{}/approvals", order());
    let refused = company.post(&approvals, DISPATCHER, approval(id(61))).await.expect(422);
    assert_eq!(refused.pointers(), ["/contact_id"]);
    company.post(&approvals, DISPATCHER, approval(company::contact())).await.expect(201);
    company.act(&format!("/v1/part-lines/{}", id(40)), "withdraw", DISPATCHER, json!({})).await.expect(200);
    let leave = json!({"result": "diagnosed", "appliance_state": "degraded"});
    company.act(&super::visit(3), "leave", TECHNICIAN, leave).await.expect(200);
    let close = json!({"outcome": "explained_use", "signed_off_by": id(61)});
    let refused = company.act(&order(), "close", DISPATCHER, close).await.expect(422);
    assert_eq!(refused.pointers(), ["/signed_off_by"]);
    company.get(&order(), OTHER_TECHNICIAN).await.expect(404);
}
