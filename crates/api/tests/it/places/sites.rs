use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::{kitchen, new_appliance, new_site, stocked};
use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchen_is_taken_in_once_and_changed_on_its_version(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    let customer = json!({"id": service.id(), "name": "Bay canteens"});
    ask().post("/v1/customers", customer.clone()).await.assert(201);
    let body = new_site(&service, &customer["id"]);
    let made = ask().post("/v1/sites", body.clone()).await;
    made.assert(201);
    assert_eq!(made.body["branch_id"], json!(null));
    ask().post("/v1/sites", body.clone()).await.assert(200);
    let mut other = body.clone();
    other["name"] = json!("Hill kitchen");
    ask().post("/v1/sites", other).await.assert_problem(409, "id-taken");
    let path = made.header("location").to_owned();
    let patch = json!({"external_id": "K-7", "time_zone": "Europe/Lisbon"});
    ask().patch(&path, patch.clone()).await.assert_problem(428, "precondition-required");
    let changed = ask().header("if-match", "\"1\"").patch(&path, patch.clone()).await;
    changed.assert(200);
    assert_eq!((&changed.body["time_zone"], &changed.body["name"]), (&json!("Europe/Lisbon"), &body["name"]));
    ask().header("if-match", "\"1\"").patch(&path, patch).await.assert_problem(412, "stale");
    let mut twin = new_site(&service, &customer["id"]);
    twin["external_id"] = json!("K-7");
    ask().post("/v1/sites", twin).await.assert_problem(409, "conflict");
    for search in ["search=harbour", "search=QUAY", "search=K-7"] {
        let found = ask().get(&format!("/v1/sites?{search}")).await;
        assert_eq!(found.body["items"][0]["id"], body["id"], "{search}");
    }
    let none = ask().get("/v1/sites?search=K-").await;
    assert_eq!(none.body["items"], json!([]), "an external id is not found by its beginning");
}

#[sqlx::test(migrations = "../../migrations")]
async fn everything_that_a_kitchen_names_in_vain_is_told_at_once(pool: PgPool) {
    let service = Service::over(pool).await;
    let mut body = new_site(&service, &json!(service.id()));
    body["branch_id"] = json!(service.id());
    body["time_zone"] = json!("Atlantis/Harbour");
    let refused = service.administrator().post("/v1/sites", body.clone()).await;
    refused
        .assert_problem(422, "invalid")
        .assert_fault("/customer_id")
        .assert_fault("/branch_id")
        .assert_fault("/time_zone");
    body["time_zone"] = json!("CET");
    service
        .administrator()
        .post("/v1/sites", body)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/time_zone");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_technician_who_is_sent_nowhere_sees_no_kitchen(pool: PgPool) {
    let service = stocked(pool).await;
    let site = kitchen(&service).await;
    let appliance = new_appliance(&service, &site);
    service.administrator().post("/v1/appliances", appliance.clone()).await.assert(201);
    let ask = || service.as_role(Role::Technician);
    let machine = format!("/v1/appliances/{}", appliance["id"].as_str().unwrap());
    for path in [
        format!("/v1/sites/{site}"),
        format!("/v1/sites/{site}/water"),
        format!("/v1/sites/{site}/appliances"),
        machine.clone(),
    ] {
        ask().get(&path).await.assert_problem(404, "not-found");
    }
    for list in ["/v1/sites", "/v1/appliances"] {
        assert_eq!(ask().get(list).await.body["items"], json!([]));
    }
    ask()
        .header("if-match", "\"1\"")
        .patch(&machine, json!({"state": "down"}))
        .await
        .assert_problem(404, "not-found");
    let sample = json!({"id": service.id(), "taken_at": "2026-03-02T11:00:00Z", "sample_point": "before_treatment",
        "treatment": "none", "ph": {"value": 7.4, "unit": "[pH]"}});
    ask().post(&format!("/v1/sites/{site}/water"), sample).await.assert_problem(404, "not-found");
    ask()
        .post("/v1/appliances", new_appliance(&service, &site))
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/site_id");
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_water_of_a_kitchen_is_held_against_its_machines(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    let site = kitchen(&service).await;
    ask().post("/v1/appliances", new_appliance(&service, &site)).await.assert(201);
    let path = format!("/v1/sites/{site}/water");
    // 14 German degrees are 2.4966 mmol/L (10 mg CaO is 0.17833 mmol): 249.9 mg/L as CaCO3.
    let sample = json!({
        "id": service.id(), "taken_at": "2026-03-02T11:00:00Z", "sample_point": "after_treatment",
        "treatment": "softener", "hardness": {"value": 14.0, "unit": "1", "hardness_scale": "german_degree"},
        "chloride": {"value": 30.0, "unit": "mg/L"},
    });
    let made = ask().post(&path, sample.clone()).await;
    made.assert(201);
    assert_eq!(made.body["langelier_index"], json!(null), "it was not read what it needs");
    ask().post(&path, sample.clone()).await.assert(200);
    let mut other = sample.clone();
    other["chloride"]["value"] = json!(31.0);
    ask().post(&path, other).await.assert_problem(409, "id-taken");
    let read = ask().get(&path).await;
    assert_eq!(read.body["samples"][0]["values"]["hardness"], sample["hardness"], "as it was read");
    let findings = read.body["against_limits"][0]["findings"].as_array().unwrap();
    let standing =
        |of: &str| findings.iter().find(|finding| finding["of"] == of).unwrap()["standing"].clone();
    assert_eq!(standing("hardness"), json!("above"), "the demo combi takes 68 mg/L");
    assert_eq!(standing("chloride"), json!("within"), "the demo combi takes 60 mg/L");
    assert_eq!(standing("ph"), json!("not_known"));
    let hardness = findings.iter().find(|finding| finding["of"] == "hardness").unwrap();
    assert!((hardness["value"].as_f64().unwrap() - 249.9).abs() < 0.1);

    let odd = json!({
        "id": service.id(), "taken_at": "2026-03-02T11:00:00Z", "sample_point": "after_treatment",
        "treatment": "softener", "hardness": {"value": 14.0, "unit": "bar"}, "ph": {"value": 40.0, "unit": "[pH]"},
        "conductivity": {"value": 3.0, "unit": "us/cm"},
    });
    ask()
        .post(&path, odd)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/hardness")
        .assert_fault("/ph")
        .assert_fault("/conductivity");
    let empty = json!({"id": service.id(), "taken_at": "2026-03-02T11:00:00Z", "sample_point": "after_treatment",
        "treatment": "softener", "temperature": {"value": 15.0, "unit": "Cel"}});
    ask().post(&path, empty).await.assert_problem(422, "invalid");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_kitchen_says_how_high_it_lies_and_nowhere_that_nobody_cooks(pool: PgPool) {
    let service = Service::over(pool).await;
    let path = format!("/v1/sites/{}", kitchen(&service).await);
    let ask = || service.administrator();
    assert_eq!(ask().get(&path).await.assert(200).body["altitude_m"], json!(null));
    let changed = ask().header("if-match", "\"1\"").patch(&path, json!({"altitude_m": 2500})).await;
    assert_eq!(changed.assert(200).body["altitude_m"], json!(2500.0));
    for odd in [json!(9000), json!(-501), json!("2500 m")] {
        let refused = ask().header("if-match", "\"2\"").patch(&path, json!({"altitude_m": odd})).await;
        refused.assert_fault("/altitude_m");
    }
    let emptied = ask().header("if-match", "\"2\"").patch(&path, json!({"altitude_m": null})).await;
    assert_eq!(emptied.assert(200).body["altitude_m"], json!(null));
}
