use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::{kitchen, new_appliance, send_there, stocked};

#[sqlx::test(migrations = "../../migrations")]
async fn a_machine_is_taken_in_once_and_changed_on_its_version(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    let site = kitchen(&service).await;
    let body = new_appliance(&service, &site);
    let made = ask().post("/v1/appliances", body.clone()).await;
    made.assert(201);
    assert_eq!(made.body["model"], json!({"key": "demo_combi", "version": 1}), "the newest");
    assert_eq!(made.body["state"], json!("up"));
    ask().post("/v1/appliances", body.clone()).await.assert(200);
    let mut other = body.clone();
    other["serial"] = json!("K-1002");
    ask().post("/v1/appliances", other).await.assert_problem(409, "id-taken");
    let twin = new_appliance(&service, &site);
    ask().post("/v1/appliances", twin).await.assert_problem(409, "conflict");

    let path = made.header("location").to_owned();
    ask().patch(&path, json!({"state": "down"})).await.assert_problem(428, "precondition-required");
    let patch = json!({"state": "unsafe_do_not_use", "installed_on": null});
    let changed = ask().header("if-match", "\"1\"").patch(&path, patch).await;
    changed.assert(200);
    assert_eq!(changed.body["state"], json!("unsafe_do_not_use"));
    assert_eq!((&changed.body["installed_on"], &changed.body["serial"]), (&json!(null), &json!("K-1001")));
    ask().header("if-match", "\"1\"").patch(&path, json!({"state": "up"})).await.assert_problem(412, "stale");
    let refused =
        ask().header("if-match", "\"3\"").patch(&path, json!({"state": "broken", "colour": 1})).await;
    refused.assert_problem(422, "invalid").assert_fault("/state").assert_fault("");

    let second = kitchen(&service).await;
    let moved = ask().header("if-match", "\"3\"").patch(&path, json!({"site_id": second})).await;
    moved.assert(200);
    let at = |site: String| format!("/v1/sites/{site}/appliances");
    assert_eq!(ask().get(&at(site)).await.body["items"], json!([]));
    assert_eq!(ask().get(&at(second)).await.body["items"][0]["id"], body["id"]);
    for (query, count) in [
        ("search=k-10", 1),
        ("search=HATCH", 1),
        ("search=right", 0),
        ("model=demo_warewasher", 0),
        ("model=demo_combi&state=unsafe_do_not_use", 1),
        ("state=up", 0),
    ] {
        let found = ask().get(&format!("/v1/appliances?{query}")).await;
        assert_eq!(found.body["items"].as_array().unwrap().len(), count, "{query}");
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_machines_own_limits_hold_to_the_rules_of_its_model(pool: PgPool) {
    let service = stocked(pool).await;
    let site = kitchen(&service).await;
    let limit = |procedure: &str, step: &str, quantity: &str, upper: f64, unit: &str| json!({"of": {"procedure": procedure, "step": step}, "quantity": quantity, "upper": upper, "unit": unit});
    let mut body = new_appliance(&service, &site);
    body["limits"] = json!([
        limit("fill_time", "fill_time", "duration", 25.0, "s"),
        limit("fill_time", "fill_time", "duration", 25.0, "bar"),
        limit("fill_time", "no_such_step", "duration", 25.0, "s"),
        limit("no_such_procedure", "fill_time", "duration", 25.0, "s"),
        limit("fill_time", "fill_time", "volume", 2.0, "L"),
    ]);
    body["site_id"] = json!(service.id());
    let refused = service.administrator().post("/v1/appliances", body.clone()).await;
    refused
        .assert_problem(422, "invalid")
        .assert_fault("/site_id")
        .assert_fault("/limits/1")
        .assert_fault("/limits/1/of")
        .assert_fault("/limits/2/of/step")
        .assert_fault("/limits/3/of/procedure")
        .assert_fault("/limits/4/quantity");
    body["site_id"] = json!(site);
    body["limits"] = json!([limit("fill_time", "fill_time", "duration", 25.0, "s")]);
    let made = service.administrator().post("/v1/appliances", body.clone()).await;
    made.assert(201);
    assert_eq!(made.body["limits"], body["limits"]);
    body["id"] = json!(service.id());
    body["model"] = json!({"key": "demo_combi", "version": 7});
    body["serial"] = json!(null);
    service
        .administrator()
        .post("/v1/appliances", body)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/model/key");
}

#[sqlx::test(migrations = "../../migrations")]
async fn where_a_machine_belongs_is_not_for_a_technician_to_say(pool: PgPool) {
    let service = stocked(pool.clone()).await;
    let site = kitchen(&service).await;
    let body = new_appliance(&service, &site);
    let path = format!("/v1/appliances/{}", body["id"].as_str().unwrap());
    service.administrator().post("/v1/appliances", body).await.assert(201);
    send_there(&service, &pool, &site).await;
    let ask = || service.as_role(Role::Technician).header("if-match", "\"1\"");
    ask().patch(&path, json!({"limits": []})).await.assert_problem(403, "wrong-role");
    ask().patch(&path, json!({"site_id": site})).await.assert_problem(403, "wrong-role");
    ask().patch(&path, json!({"serial": "K-1003", "state": "degraded"})).await.assert(200);
    let found_there = new_appliance(&service, &site);
    service.as_role(Role::Technician).post("/v1/appliances", found_there).await.assert(201);
    let seen = service.as_role(Role::Technician).get(&format!("/v1/sites/{site}/appliances")).await;
    assert_eq!(seen.body["items"].as_array().unwrap().len(), 2);
}
