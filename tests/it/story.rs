//! The whole story of one order, and who may do what in it.

use serde_json::{Value, json};

use crate::server::{Server, demo_id, new_id};

fn run(order: &str, procedure: &str, minute: u32, phase: &str, readings: Value) -> Value {
    json!({
        "id": new_id(), "appliance_id": demo_id("hotel_combi"), "work_order_id": order,
        "procedure": {"key": procedure, "version": 1}, "phase": phase, "device_id": "acceptance", "sequence": minute,
        "taken_at": format!("2026-05-04T{:02}:{:02}:00Z", 10 + minute / 60, minute % 60), "readings": readings,
    })
}

fn with(mut run: Value, confirmed: &str) -> Value {
    run["conditions"] = json!({"confirmed": [confirmed]});
    run
}

fn value(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"value": value, "unit": unit}})
}

fn fill_tests(order: &str, from: u32, phase: &str, fill_time: f64) -> Vec<Value> {
    let look =
        json!([{"step": "inlet_strainer", "choice": "clear"}, {"step": "valve_strainer", "choice": "clear"}]);
    let pressure = json!([value("static_pressure", 3.0, "bar"), value("dynamic_pressure", 2.83, "bar")]);
    vec![
        run(order, "inlet_pressure", from, phase, pressure),
        run(order, "strainer_look", from + 1, phase, look),
        with(
            run(order, "fill_time", from + 2, phase, json!([value("fill_time", fill_time, "s")])),
            "sump_empty",
        ),
    ]
}

#[tokio::test]
async fn from_the_call_to_the_proven_repair_and_the_reports() {
    let server = Server::with_demo().await;
    let order = new_id();
    let path = format!("/v1/work-orders/{order}");
    let call = json!({
        "id": new_id(), "site_id": demo_id("hotel_kitchen"), "contact_id": demo_id("contact_hotel"),
        "words": "It takes a minute before it washes.", "urgency": "degraded", "stop_use": false,
        "received_at": "2026-05-04T08:00:00Z",
        "orders": [{"id": order, "appliance_id": demo_id("hotel_combi"), "symptoms": ["does_not_clean"]}],
    });
    server.posted("dispatcher", "/v1/calls", 201, call.clone()).await;
    server.posted("dispatcher", "/v1/calls", 200, call).await;
    moved(&server, "dispatcher", &path, "assess", json!({})).await;
    let visit = new_id();
    let booking =
        json!({"id": visit, "planned_at": "2026-05-04T10:00:00Z", "people": [demo_id("technician")]});
    server.posted("dispatcher", &format!("{path}/visits"), 201, booking).await;
    moved(&server, "dispatcher", &path, "plan", json!({})).await;
    let visit = format!("/v1/visits/{visit}");
    moved(&server, "technician", &visit, "arrive", json!({"at": "2026-05-04T10:00:00Z"})).await;

    let before = fill_tests(&order, 2, "before_repair", 31.97);
    let answer = server.posted("technician", "/v1/test-runs", 200, json!({"runs": before})).await;
    assert!(answer["items"].as_array().unwrap().iter().all(|item| item["status"] == "created"), "{answer}");
    let fill = fill_verdict(&server, &path, 0).await;
    assert_eq!((&fill["as_found"]["conformity"], &fill["condition"]), (&json!("fail"), &json!("failed")));
    let last = fill["last_healthy"]["value"].as_f64().unwrap();
    assert!((11.0..15.0).contains(&last), "the healthy reading of January stands beside it: {last}");

    let finding = new_id();
    let body = json!({
        "id": finding, "position": "fill_valve", "finding": "failed", "failure_mode": "slow", "cause": "limescale",
        "evidence": "timed", "test_run_ids": [before[2]["id"]], "found_at": "2026-05-04T10:20:00Z",
    });
    server.posted("technician", &format!("{path}/findings"), 201, body).await;
    moved(&server, "technician", &path, "start_repair", json!({})).await;
    let line = new_id();
    let body = json!({"id": line, "part_id": demo_id("part_fill_valve"), "position": "fill_valve",
        "finding_id": finding, "quantity": 1, "payer": "warranty"});
    server.posted("technician", &format!("{path}/part-lines"), 201, body).await;
    let line_path = format!("/v1/part-lines/{line}");
    for action in ["approve", "set_aside"] {
        moved(&server, "technician", &line_path, action, json!({})).await;
    }
    moved(&server, "technician", &line_path, "fit", json!({"fitted_at": "2026-05-04T10:40:00Z"})).await;
    let body = json!({"id": new_id(), "position": "fill_valve", "action": "replaced", "part_line_id": line,
        "taken_at": "2026-05-04T10:40:00Z"});
    server.posted("technician", &format!("{path}/actions-taken"), 201, body).await;

    moved(&server, "technician", &path, "report_repaired", json!({"restored_at": "2026-05-04T11:00:00Z"}))
        .await;
    let early = server.act("technician", &path, "prove", json!({})).await;
    assert_eq!(early.status(), 409, "no proof without readings after the repair");
    let missing: Value = early.json().await.unwrap();
    assert!(!missing["missing"].as_array().unwrap().is_empty(), "{missing}");
    let mut after = fill_tests(&order, 50, "after_repair", 12.71);
    let cycle = json!([{"step": "outcome", "choice": "completed"}, {"step": "cleanliness", "choice": "clean"},
        {"step": "leaks", "choice": "dry"}]);
    after.push(with(run(&order, "full_cycle", 59, "after_repair", cycle), "chemical_loaded"));
    server.posted("technician", "/v1/test-runs", 200, json!({"runs": after})).await;
    let fill = fill_verdict(&server, &path, 1).await;
    assert_eq!(fill["at_reference"]["conformity"], "pass");
    let tried = json!({"symptoms": [{"symptom": "does_not_clean", "result": "gone"}]});
    moved(&server, "technician", &path, "prove", tried).await;
    let leaving = json!({"at": "2026-05-04T11:30:00Z", "result": "repaired", "appliance_state": "up"});
    moved(&server, "technician", &visit, "leave", leaving).await;
    let closing =
        json!({"outcome": "repaired", "appliance_state": "up", "signed_off_by": demo_id("contact_hotel")});
    moved(&server, "dispatcher", &path, "close", closing).await;

    let reports = server.json("manager", "/v1/reports/parts-usage?group_by=part").await;
    let valve = reports["items"]
        .as_array()
        .unwrap()
        .iter()
        .find(|item| item["part_number"] == "fill-valve-01")
        .unwrap();
    assert_eq!((&valve["quantity"], &valve["paid_by_warranty"]), (&json!(1), &json!("86.00")));
    let recurring =
        format!("/v1/sites/{}/recurring-faults?as_of=2026-12-31T00:00:00Z", demo_id("hotel_kitchen"));
    let faults = server.json("dispatcher", &recurring).await;
    assert_eq!(faults["by_fault"][0]["failure_mode"], "slow", "{faults}");
    let history =
        server.json("technician", &format!("/v1/appliances/{}/history", demo_id("hotel_combi"))).await;
    let kinds: Vec<_> =
        history["items"].as_array().unwrap().iter().map(|item| item["kind"].as_str().unwrap()).collect();
    for kind in ["order_received", "test_run", "finding", "part_fitted", "action_taken", "order_ended"] {
        assert!(kinds.contains(&kind), "{kind} is missing in {kinds:?}");
    }
}

async fn moved(server: &Server, role: &str, resource: &str, action: &str, body: Value) {
    let response = server.act(role, resource, action, body).await;
    let status = response.status();
    assert_eq!(status, 200, "{action} {resource}: {}", response.text().await.unwrap());
}

async fn fill_verdict(server: &Server, order: &str, epoch: u32) -> Value {
    let verdicts = server.json("technician", &format!("{order}/verdicts?epoch={epoch}")).await;
    let verdicts = verdicts["verdicts"].as_array().unwrap().clone();
    verdicts.into_iter().find(|verdict| verdict["step"] == "fill_time").unwrap()
}

#[tokio::test]
async fn a_technician_sees_what_is_theirs_and_a_stranger_nothing() {
    let server = Server::with_demo().await;
    let theirs = format!("/v1/work-orders/{}", demo_id("order_hotel"));
    let not_theirs = format!("/v1/work-orders/{}", demo_id("order_bakery_3"));
    assert_eq!(server.get("technician", &theirs).await.status(), 200);
    assert_eq!(server.get("technician", &not_theirs).await.status(), 404);
    assert_eq!(server.get("dispatcher", &not_theirs).await.status(), 200);
    assert_eq!(server.get("technician", "/v1/reports/parts-usage").await.status(), 403);
    assert_eq!(server.get("manager", "/v1/reports/parts-usage").await.status(), 200);
    let stranger = reqwest::get(server.url(&theirs)).await.unwrap();
    assert_eq!(stranger.status(), 401);
    let person = json!({"id": new_id(), "name": "New", "role": "technician"});
    assert_eq!(server.post("manager", "/v1/people", &person).await.status(), 403);
    assert_eq!(server.post("administrator", "/v1/people", &person).await.status(), 201);
}
