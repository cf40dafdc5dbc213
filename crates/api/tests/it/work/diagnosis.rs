//! Diagnoses of orders and of cases that nobody called about.

use domain::equipment::demo_combi_faults;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::{call, on_site, order};
use crate::company::{self, Company, DISPATCHER, OTHER_TECHNICIAN, TECHNICIAN, id};

fn path() -> String {
    format!("{}/diagnosis", order())
}

fn value(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"value": value, "unit": unit}})
}

fn fill(seconds: f64) -> Value {
    json!({"procedure": {"key": "fill_time"}, "readings": [value("fill_time", seconds, "s")]})
}

fn wash(strength: &str, held: f64) -> Value {
    json!({"procedure": {"key": "wash_flow_hold"}, "readings": [
        value("level_before", 2.9, "L"), value("run_length", 60.0, "s"), {"step": "strength", "choice": strength},
        value("hold_time", held, "s"),
    ]})
}

#[expect(clippy::needless_pass_by_value, reason = "tests read better without the borrow")]
fn case(runs: Value) -> Value {
    json!({"model": {"key": "demo_combi"}, "complaint": "does_not_clean", "runs": runs})
}

/// No number is missing, none out of its range, whatever was asked.
fn assert_sane(diagnosis: &Value) {
    let sets = diagnosis["sets"].as_array().unwrap();
    let sum: f64 = sets.iter().map(|set| set["probability"].as_f64().unwrap()).sum();
    assert!(sum > 0.0 && sum <= 1.0 + 1e-9, "{sum}");
    for of in ["machine_sound", "nothing_found", "other"] {
        assert!((0.0..=1.0 + 1e-9).contains(&diagnosis[of].as_f64().unwrap()), "{of}");
    }
    for fault in diagnosis["faults"].as_array().unwrap() {
        assert!((0.0..=1.0 + 1e-9).contains(&fault["probability"].as_f64().unwrap()), "{fault}");
    }
}

fn kinds(diagnosis: &Value) -> Vec<&str> {
    diagnosis["notes"].as_array().unwrap().iter().map(|note| note["kind"].as_str().unwrap()).collect()
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_is_diagnosed_for_those_who_see_it_and_named_what_is_lacking(pool: PgPool) {
    let company = Company::over(pool).await;
    on_site(&company).await;
    let refused = company.get(&path(), TECHNICIAN).await;
    refused.assert_problem(409, "conflict");
    assert!(refused.body["detail"].as_str().unwrap().contains("no catalogue of faults"), "{}", refused.body);
    let company = company.with_faults().await;
    let diagnosis = company.get(&path(), TECHNICIAN).await.expect(200);
    assert_eq!(diagnosis.body["complaint"], "does_not_clean");
    assert_eq!(diagnosis.body["appliance_id"], json!(company::appliance()));
    assert_eq!(kinds(&diagnosis.body), ["nothing_read"]);
    assert_sane(&diagnosis.body);
    let etag = diagnosis.etag();
    let same = company.send("GET", &path(), TECHNICIAN, &[("if-none-match", &etag)], None).await;
    same.assert(304);
    let cached = sqlx::query_scalar!("SELECT count(*) FROM diagnosis_cache").fetch_one(&company.pool).await;
    assert_eq!(cached.unwrap(), Some(1));
    company.get(&path(), OTHER_TECHNICIAN).await.assert_problem(404, "not-found");
    company.get(&format!("{}?knowledge_version=9", path()), TECHNICIAN).await.assert_problem(409, "conflict");
    // The cache may be dropped at any time.
    sqlx::query!("TRUNCATE diagnosis_cache").execute(&company.pool).await.unwrap();
    let again = company.get(&path(), DISPATCHER).await.expect(200);
    assert_eq!((again.etag(), &again.body), (etag, &diagnosis.body));
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_order_on_no_known_machine_is_a_mixture_of_its_kitchen_and_says_so(pool: PgPool) {
    let company = Company::over(pool).await;
    let mut body = call();
    body["orders"][0].as_object_mut().unwrap().remove("appliance_id");
    company.post("/v1/calls", DISPATCHER, body).await.expect(201);
    let refused = company.get(&path(), DISPATCHER).await;
    refused.assert_problem(409, "conflict");
    assert!(refused.body["detail"].as_str().unwrap().contains("which appliance"));
    let company = company.with_faults().await;
    let diagnosis = company.get(&path(), DISPATCHER).await.expect(200).body;
    assert_eq!(diagnosis["appliance_id"], Value::Null);
    assert_eq!(kinds(&diagnosis)[0], "which_machine");
    assert!(
        diagnosis["notes"][0]["sentence"].as_str().unwrap().contains("demo combi"),
        "{}",
        diagnosis["notes"]
    );
    assert_sane(&diagnosis);
}

#[sqlx::test(migrations = "../../migrations")]
async fn odd_cases_get_an_answer_that_says_what_is_odd(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    let ask = async |body: Value| company.post("/v1/diagnoses", TECHNICIAN, body).await;

    let nothing = ask(json!({"model": {"key": "demo_combi"}})).await.expect(200).body;
    assert_eq!(kinds(&nothing), ["nothing_known"]);
    assert_sane(&nothing);

    // Full flow that holds, and a winding that is open: one of them is wrong.
    let dead = json!({"procedure": {"key": "dead_electrical"}, "readings": [
        {"step": "wash_motor_winding", "choice": "open"},
    ]});
    let odd = ask(case(json!([wash("strong", 60.0), dead]))).await.expect(200).body;
    assert_sane(&odd);
    let doubts: Vec<_> =
        odd["readings"].as_array().unwrap().iter().map(|of| of["misread"].as_f64().unwrap()).collect();
    assert!(doubts.iter().any(|misread| *misread > 0.2), "{doubts:?}");

    let hundred = vec![fill(31.97); 100];
    let hundred = ask(case(json!(hundred))).await.expect(200).body;
    assert_eq!(
        (&hundred["repeats"][0]["count"], &hundred["repeats"][0]["disagree"]),
        (&json!(100), &json!(false))
    );
    let once = ask(case(json!([fill(31.97)]))).await.expect(200).body;
    let lead = |of: &Value| of["sets"][0]["probability"].as_f64().unwrap();
    assert!((lead(&hundred) - lead(&once)).abs() < 0.05, "repeating a reading does not make it surer");

    // A hardness of German degrees as a flow, a step of another procedure, another model's reading.
    let wrong = json!([{"procedure": {"key": "fill_time"}, "readings": [value("hold_time", 3.0, "s")]},
        {"procedure": {"key": "no_such"}, "readings": []}]);
    let refused = ask(case(wrong)).await;
    refused.assert_problem(422, "invalid");
    assert_eq!(refused.pointers(), ["/runs/0/readings/0/step", "/runs/1/procedure"]);
    let volts = json!([{"procedure": {"key": "fill_time"}, "readings": [value("fill_time", 3.0, "V")]}]);
    let set_aside = ask(case(volts)).await.expect(200).body;
    assert_eq!(set_aside["set_aside"][0]["what"], "fill_time/fill_time", "{}", set_aside["set_aside"]);
    let washer = json!({"model": {"key": "demo_combi"}, "findings": [
        {"fault": "drain_outlet_blocked", "state": "stands"}]});
    assert!(kinds(&ask(washer).await.expect(200).body).contains(&"unknown_finding"));
    ask(json!({"model": {"key": "nothing"}})).await.assert_problem(422, "invalid");
    ask(json!({"model": {"key": "demo_combi"}, "complaint": "sulks"})).await.assert_problem(422, "invalid");
    let stored = sqlx::query_scalar!("SELECT count(*) FROM diagnosis_cache").fetch_one(&company.pool).await;
    assert_eq!(stored.unwrap(), Some(0), "a what-if stores nothing");
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_newest_catalogue_is_computed_with_and_a_fault_without_a_rate_is_named(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    let weak =
        |of: &Value| of["faults"].as_array().unwrap().iter().any(|fault| fault["fault"] == "fill_valve_weak");
    let before = company.post("/v1/diagnoses", TECHNICIAN, case(json!([fill(31.97)]))).await.expect(200).body;
    assert!(weak(&before) && !kinds(&before).contains(&"never_considered"), "{:?}", before["notes"]);
    let mut catalogue = json!(demo_combi_faults());
    catalogue["version"] = json!(2);
    for fault in catalogue["faults"].as_array_mut().unwrap() {
        if fault["key"] == "fill_valve_weak" {
            fault["version"] = json!(2);
            fault["per_year"] = json!(0.0);
        }
    }
    company.take_catalogue(catalogue).await;
    let after = company.post("/v1/diagnoses", TECHNICIAN, case(json!([fill(31.97)]))).await.expect(200).body;
    assert_eq!((&after["catalogue_version"], &before["catalogue_version"]), (&json!(2), &json!(1)));
    assert!(kinds(&after).contains(&"never_considered"), "{:?}", after["notes"]);
    assert!(!weak(&after));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_closing_keeps_the_diagnosis_that_it_rested_on(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    on_site(&company).await;
    let run = json!({"id": id(20), "appliance_id": company::appliance(), "work_order_id": id(2),
        "procedure": {"key": "fill_time", "version": 1}, "phase": "before_repair", "device_id": "phone", "sequence": 1,
        "taken_at": "2026-03-02T10:05:00Z", "conditions": {"confirmed": ["sump_empty"]},
        "readings": [value("fill_time", 31.97, "s")]});
    let sent = company.post("/v1/test-runs", TECHNICIAN, json!({"runs": [run]})).await.expect(200);
    assert_eq!(sent.body["items"][0]["status"], "created", "{}", sent.body);
    let snapshot = format!("{}/outcome-snapshot", order());
    company.get(&snapshot, TECHNICIAN).await.assert_problem(404, "not-found");
    let open = company.get(&path(), TECHNICIAN).await.expect(200).body;
    company.at("2026-03-02T11:00:00Z");
    let leaving = json!({"result": "diagnosed", "appliance_state": "degraded"});
    company.act(&super::visit(3), "leave", TECHNICIAN, leaving).await.expect(200);
    let closing = json!({"outcome": "no_fault_found", "appliance_state": "degraded"});
    company.act(&order(), "close", DISPATCHER, closing).await.expect(200);
    let kept = company.get(&snapshot, TECHNICIAN).await.expect(200).body;
    assert_eq!(kept["epochs"][0]["diagnosis"]["sets"], open["sets"]);
    assert_eq!(kept["epochs"][0]["verdicts"]["verdicts"][0]["step"], "fill_time");
    company.get(&snapshot, OTHER_TECHNICIAN).await.assert_problem(404, "not-found");
}
