use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::Past;
use crate::places::send_there;

fn told(page: &Value) -> Vec<(String, String)> {
    let text = |item: &Value, name: &str| item[name].as_str().unwrap().to_owned();
    page["items"].as_array().unwrap().iter().map(|item| (text(item, "kind"), text(item, "at"))).collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn everything_that_happened_to_a_machine_is_told_newest_first(pool: PgPool) {
    let past = Past::of(pool.clone()).await;
    let person = past.service.people[&Role::Dispatcher];
    let order = past.order(&past.left, "corrective", "01-01 08:00Z", Some("01-03 12:00Z")).await;
    past.write(format!("INSERT INTO symptom VALUES ('{order}', 'does_not_clean')")).await;
    past.failed(&order, "fill_valve", "slow", "01-02 09:00Z").await;
    past.line(&order, &past.valve, "1 EUR 148.50", "warranty", "fitted", "01-03 10:00Z").await;
    let id = || past.service.id();
    let (visit, run, late_run) = (id(), id(), id());
    past.write(format!(
        "INSERT INTO visit (id, work_order_id, planned_at, arrived_at, left_at, result, body_sha256, created_at)
             VALUES ('{visit}', '{order}', '2026-01-02 07:00Z', '2026-01-02 08:00Z', '2026-01-02 11:00Z', 'diagnosed',
                 '', now());
         INSERT INTO visit_person VALUES ('{visit}', '{person}');
         INSERT INTO test_run (id, appliance_id, work_order_id, procedure_key, procedure_version, phase, device_id,
             sequence, taken_at, clock_correction, received_at, taken_by, payload, body_sha256)
             VALUES ('{run}', '{left}', '{order}', 'fill_time', 1, 'before_repair', 'phone', 1, '2026-01-02 08:29:50Z',
                 10000000, now(), '{person}', '{{}}', ''),
                 ('{late_run}', '{left}', NULL, 'drain_time', 1, 'check', 'phone', 2, '2026-02-01 08:00Z', 0, now(),
                 '{person}', '{{}}', '');
         INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value)
             VALUES ('{run}', 'fill_time', 'duration', '31.97', 31.97, 's', 31.97);
         INSERT INTO action_taken (id, work_order_id, position, action, taken_by, taken_at, body_sha256, created_at)
             VALUES ('{action}', '{order}', 'fill_valve', 'replaced', '{person}', '2026-01-03 10:30Z', '', now());",
        left = past.left,
        action = id(),
    ))
    .await;
    let noted = json!({"id": id(), "position": "door_gasket", "part_id": past.gasket, "fitted_at": "2025-06-01T08:00:00Z"});
    let parts = format!("/v1/appliances/{}/fitted-parts", past.left);
    past.service.administrator().post(&parts, noted).await.assert(201);
    let beside = past.order(&past.right, "corrective", "01-02 08:00Z", None).await;
    past.failed(&beside, "fill_valve", "slow", "01-02 09:00Z").await;

    let path = format!("/v1/appliances/{}/history?as_of=2026-01-31T00:00:00Z", past.left);
    let ask = async |query: &str| past.service.as_role(Role::Dispatcher).get(&format!("{path}{query}")).await;
    let all = ask("").await;
    let expected = [
        ("order_ended", "2026-01-03T12:00:00.000000Z"),
        ("action_taken", "2026-01-03T10:30:00.000000Z"),
        ("part_fitted", "2026-01-03T10:00:00.000000Z"),
        ("finding", "2026-01-02T10:00:00.000000Z"),
        ("test_run", "2026-01-02T08:30:00.000000Z"),
        ("visit", "2026-01-02T08:00:00.000000Z"),
        ("order_received", "2026-01-01T08:00:00.000000Z"),
        ("part_noted", "2025-06-01T08:00:00.000000Z"),
    ]
    .map(|(kind, at)| (kind.to_owned(), at.to_owned()));
    assert_eq!(told(&all.body), expected);
    let item =
        |kind: &str| all.body["items"].as_array().unwrap().iter().find(|item| item["kind"] == kind).unwrap();
    assert_eq!(item("order_received")["detail"]["symptoms"], json!(["does_not_clean"]));
    assert_eq!(
        item("test_run")["detail"]["readings"],
        json!([{"step": "fill_time", "as_read": "31.97", "unit": "s"}])
    );
    assert_eq!(item("visit")["detail"]["people"], json!(["dispatcher of the test"]));
    let of_valve: Vec<_> =
        told(&ask("&position=fill_valve").await.body).into_iter().map(|(kind, _)| kind).collect();
    assert_eq!(of_valve, ["action_taken", "part_fitted", "finding", "test_run"]);

    let mut walked = Vec::new();
    let mut query = "&limit=3".to_owned();
    loop {
        let page = ask(&query).await;
        walked.extend(told(&page.body));
        let Some(next) = page.body["cursor"].as_str() else { break };
        query = format!("&limit=3&cursor={next}");
    }
    assert_eq!(walked, expected);
    let other = format!("/v1/appliances/{}/history?{}", past.right, query.trim_start_matches('&'));
    past.service.administrator().get(&other).await.assert_problem(400, "malformed").assert_fault("cursor");

    let technician = || past.service.as_role(Role::Technician);
    technician().get(&path).await.assert_problem(404, "not-found");
    send_there(&past.service, &pool, &past.site).await;
    technician().get(&path).await.assert(200);

    let glance = technician().get(&format!("/v1/appliances/{}/positions", past.left)).await;
    let position = |key: &str| {
        let items = glance.body["items"].as_array().unwrap();
        items.iter().find(|item| item["position"] == key).unwrap()
    };
    let valve = position("fill_valve");
    assert_eq!(valve["last_finding"]["failure_mode"], json!("slow"));
    assert_eq!((&valve["faulty_orders"], &valve["actions"]), (&json!(1), &json!(1)));
    assert_eq!(valve["last_action"]["action"], json!("replaced"));
    assert_eq!(valve["last_tested_at"], json!("2026-01-02T08:30:00.000000Z"));
    assert_eq!(position("door_gasket")["fitted_part"]["part_number"], json!("G-1"));
    assert_eq!(position("drain_pump")["last_tested_at"], json!("2026-02-01T08:00:00.000000Z"));
    assert_eq!(position("heater")["last_finding"], json!(null));
}
