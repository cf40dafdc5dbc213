//! What can be wrong with a model: kept by version, refused with all reasons, named by findings.

use domain::equipment::{built_in_fault_catalogues, demo_combi, demo_combi_faults};
use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::stocked;
use crate::company::{Company, TECHNICIAN, id};
use crate::work::{on_site, order};

#[sqlx::test(migrations = "../../migrations")]
async fn the_faults_that_come_with_the_service_are_listed_by_model_and_position(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Technician);
    let all = ask().get("/v1/faults").await.expect(200);
    let count: usize = built_in_fault_catalogues().iter().map(|catalogue| catalogue.faults.len()).sum();
    assert_eq!(all.body["items"].as_array().unwrap().len(), count);
    let valves = ask().get("/v1/faults?model=demo_combi&position=fill_valve").await.expect(200);
    let keys: Vec<_> = valves.body["items"].as_array().unwrap().iter().map(|fault| &fault["key"]).collect();
    assert_eq!(
        keys,
        ["fill_valve_weak", "fill_valve_coil_open", "fill_valve_passes", "fill_valve_sticks_shut"]
    );
    assert_eq!(valves.body["items"][0]["parts"], json!(["fill_valve"]));
    ask().get("/v1/faults?position=flux").await.assert_problem(400, "malformed");
    let one = ask().get("/v1/faults/demo_warewasher/fill_valve_weak").await.expect(200);
    assert_eq!(one.body["model"], json!("demo_warewasher"));
    let other = ask().get("/v1/faults/demo_combi/fill_valve_weak/versions/1").await.expect(200);
    assert_ne!(one.body["fault"], other.body["fault"], "each model has its own");
    ask().get("/v1/faults/demo_combi/fill_valve_weak/versions/2").await.assert_problem(404, "not-found");
    ask().get("/v1/fault-catalogues/nothing").await.assert_problem(404, "not-found");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_version_of_a_catalogue_never_changes_and_a_new_one_carries_only_new_versions_of_faults(
    pool: PgPool,
) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    let mut catalogue = json!(demo_combi_faults());
    ask().post("/v1/fault-catalogues", catalogue.clone()).await.assert(200);
    catalogue["faults"][0]["per_year"] = json!(0.2);
    ask().post("/v1/fault-catalogues", catalogue.clone()).await.assert_problem(409, "id-taken");
    catalogue["version"] = json!(3);
    let refused = ask().post("/v1/fault-catalogues", catalogue.clone()).await;
    refused.assert_problem(422, "invalid").assert_fault("/version").assert_fault("/faults/0/version");
    catalogue["version"] = json!(2);
    catalogue["faults"][0]["version"] = json!(2);
    let made = ask().post("/v1/fault-catalogues", catalogue.clone()).await.expect(201);
    assert_eq!(made.header("location"), "/v1/fault-catalogues/demo_combi/versions/2");
    assert_eq!(made.body["built_in"], json!(false));
    ask().post("/v1/fault-catalogues", catalogue.clone()).await.assert(200);
    let key = catalogue["faults"][0]["key"].as_str().unwrap();
    let newest = ask().get(&format!("/v1/faults/demo_combi/{key}")).await.expect(200);
    assert_eq!(newest.body["fault"]["per_year"], json!(0.2));
    let first = ask().get("/v1/fault-catalogues/demo_combi/versions/1").await.expect(200);
    assert_eq!(first.body["catalogue"], json!(demo_combi_faults()));
    let dispatcher = service.as_role(Role::Dispatcher).post("/v1/fault-catalogues", catalogue).await;
    dispatcher.assert_problem(403, "wrong-role");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_wrong_catalogue_is_refused_with_all_reasons_at_once(pool: PgPool) {
    let service = stocked(pool).await;
    let mut catalogue = json!(demo_combi_faults());
    catalogue["version"] = json!(2);
    catalogue["other_share"] = json!(0.0);
    catalogue["spreads"]["pump_head"] = json!(0.0);
    catalogue["measurements"][0]["key"] = json!("inlet_pressure/flux");
    catalogue["mandatory"][0]["procedure"] = json!("no_such_test");
    catalogue["inspections"][0]["confusion"][0][0] = json!(0.5);
    let fault = &mut catalogue["faults"][6];
    fault["version"] = json!(7);
    fault["days_unmended"] = json!(0.0);
    fault["symptoms"] = json!({"does_not_clean": 0.9, "stops_midway": 0.4});
    fault["severities"] = json!([0.0]);
    let refused = service.administrator().post("/v1/fault-catalogues", catalogue).await;
    refused.assert_problem(422, "invalid");
    for pointer in [
        "/other_share",
        "/spreads/pump_head",
        "/measurements/0/key",
        "/mandatory/0/procedure",
        "/inspections/0/confusion",
        "/faults/6/version",
        "/faults/6/days_unmended",
        "/faults/6/symptoms",
        "/faults/6/severities",
    ] {
        refused.assert_fault(pointer);
    }
    // What is no catalogue at all is told by the document's own schema, likewise all of it.
    let mut catalogue = json!(demo_combi_faults());
    catalogue["faults"][0]["position"] = json!("flux");
    catalogue["faults"][1]["failure_mode"] = json!("sulks");
    catalogue["faults"][2]["rate"] = json!(1);
    let refused = service.administrator().post("/v1/fault-catalogues", catalogue).await;
    refused
        .assert_fault("/faults/0/position")
        .assert_fault("/faults/1/failure_mode")
        .assert_fault("/faults/2");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_company_catalogues_the_faults_of_its_own_model(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    let mut catalogue = json!(demo_combi_faults());
    catalogue["model"] = json!("quay_combi");
    let refused = ask().post("/v1/fault-catalogues", catalogue.clone()).await;
    refused.assert_problem(422, "invalid").assert_fault("/model");
    let mut model = json!(demo_combi());
    model["key"] = json!("quay_combi");
    ask().post("/v1/models", model).await.assert(201);
    ask().post("/v1/fault-catalogues", catalogue).await.assert(201);
    let listed = ask().get("/v1/faults?model=quay_combi&position=wash_pump").await.expect(200);
    assert_eq!(listed.body["items"].as_array().unwrap().len(), 2);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_finding_names_a_fault_of_the_machines_own_model_at_its_own_position(pool: PgPool) {
    let company = Company::over(pool).await.with_faults().await;
    on_site(&company).await;
    let path = format!("{}/findings", order());
    let finding = |n: u32, position: &str, fault: Value| {
        json!({
            "id": id(n), "position": position, "fault": fault, "finding": "failed", "failure_mode": "slow",
            "evidence": "timed", "found_at": "2026-03-02T10:05:00Z",
        })
    };
    let weak = json!({"key": "fill_valve_weak", "version": 1});
    let kept = company.post(&path, TECHNICIAN, finding(10, "fill_valve", weak.clone())).await.expect(201);
    let of = ["fault_model", "fault_key", "fault_version"].map(|name| kept.body[name].clone());
    assert_eq!(of, [json!("demo_combi"), json!("fill_valve_weak"), json!(1)]);
    let elsewhere = company.post(&path, TECHNICIAN, finding(11, "wash_pump", weak)).await;
    elsewhere.assert_problem(422, "invalid").assert_fault("/position");
    // The warewasher has it, the combi has not.
    let unknown = json!({"key": "drain_outlet_blocked", "version": 1});
    let refused = company.post(&path, TECHNICIAN, finding(12, "drain_trap", unknown)).await;
    refused.assert_problem(422, "invalid").assert_fault("/fault");
}
