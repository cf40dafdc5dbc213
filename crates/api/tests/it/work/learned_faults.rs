//! What closed orders teach of faults, against figures made by hand.

use serde_json::{Value, json};
use sqlx::PgPool;

use super::{on_site, order};
use crate::company::{self, Company, DISPATCHER, TECHNICIAN, id};

const AS_OF: &str = "2026-03-02T12:00:00Z";
/// A mean Gregorian year earlier.
const YEAR_BEFORE: &str = "2025-03-02T06:10:48Z";

fn per_year(catalogue: &Value, fault: &str) -> f64 {
    let faults = catalogue["faults"].as_array().unwrap();
    faults.iter().find(|of| of["key"] == fault).unwrap()["per_year"].as_f64().unwrap()
}

async fn learned(company: &Company, n: i64) -> Value {
    company.get(&format!("/v1/knowledge-versions/{n}/faults/demo_combi"), DISPATCHER).await.expect(200).body
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_confirmed_fault_raises_its_rate_within_the_cap_and_replay_gives_the_same(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    let since: chrono::DateTime<chrono::Utc> = YEAR_BEFORE.parse().unwrap();
    sqlx::query!("UPDATE appliance SET created_at = $1", since).execute(&company.pool).await.unwrap();
    on_site(&company).await;
    for (n, position, fault, evidence) in
        [(10, "fill_valve", "fill_valve_weak", "timed"), (11, "wash_pump", "wash_pump_clogged", "heard")]
    {
        let finding = json!({"id": id(n), "position": position, "fault": {"key": fault, "version": 1},
            "finding": "failed", "failure_mode": "slow", "evidence": evidence, "found_at": "2026-03-02T10:05:00Z"});
        company.post(&format!("{}/findings", order()), TECHNICIAN, finding).await.expect(201);
    }
    let before = company.get(&format!("{}/diagnosis", order()), TECHNICIAN).await.expect(200).body;
    assert_eq!(before["knowledge_version"], Value::Null);
    sqlx::query!(
        "UPDATE work_order SET state = 'closed', outcome = 'temporary_fix', closed_at = '2026-03-02T11:00:00Z'
         WHERE id = $1",
        company::uuid(&id(2))
    )
    .execute(&company.pool)
    .await
    .unwrap();
    company.at(AS_OF);
    let first = company.learn(AS_OF).await;
    let taught = learned(&company, first).await;
    // One confirmed arising, of which one site and one technician may give no more than a tenth of all that is
    // known: c = 0.1·(4 + c), so 4/9. Two machines stand at its site, weighed alike, and one elsewhere.
    let catalogue = json!(domain::equipment::demo_combi_faults());
    let prior = per_year(&catalogue, "fill_valve_weak");
    let share = 4.0 / 9.0;
    let expected = (4.0 + share) / (4.0 / prior + 2.0 * share + 1.0);
    let rate = per_year(&taught["catalogue"], "fill_valve_weak");
    assert!((rate / expected - 1.0).abs() < 1e-9, "{rate} is not {expected}");
    // Heard and not mended: counts by its expectation, which is far below one arising.
    let heard = per_year(&taught["catalogue"], "wash_pump_clogged");
    assert!(heard < per_year(&catalogue, "wash_pump_clogged"), "{heard}");
    assert_eq!(taught["jobs"], 1);
    assert!((taught["appliance_years"].as_f64().unwrap() - 3.0).abs() < 1e-9);

    let again = company.learn(AS_OF).await;
    let repeated = learned(&company, again).await;
    assert_eq!((&repeated["catalogue"], &repeated["sha256"]), (&taught["catalogue"], &taught["sha256"]));

    let after = company.get(&format!("{}/diagnosis", order()), TECHNICIAN).await.expect(200).body;
    assert_eq!(after["knowledge_version"], json!(again));
    let chosen = format!("{}/diagnosis?knowledge_version={first}", order());
    let chosen = company.get(&chosen, TECHNICIAN).await.expect(200).body;
    assert_eq!((&chosen["knowledge_version"], &chosen["sets"]), (&json!(first), &after["sets"]));
    assert_ne!(after["sets"], before["sets"]);
    company
        .get("/v1/knowledge-versions/9/faults/demo_combi", DISPATCHER)
        .await
        .assert_problem(404, "not-found");
}
