use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::{kitchen, new_appliance, send_there, stocked};
use crate::service::Service;

fn new_part(service: &Service, number: &str, position: &str) -> Value {
    json!({"id": service.id(), "number": number, "title": "Fill valve 230 V", "unit_price": "148.50", "currency": "EUR",
        "fits": [{"model_key": "demo_combi", "position": position}]})
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_part_fits_where_a_model_has_a_position(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    let mut body = new_part(&service, "V-1", "fill_valve");
    body["fits"] = json!([
        {"model_key": "demo_combi", "position": "fill_valve"},
        {"model_key": "no_such_model", "position": "fill_valve"},
        {"model_key": "demo_combi", "position": "site_pressure"},
        {"model_key": "demo_combi", "position": "flux_capacitor"},
    ]);
    ask()
        .post("/v1/parts", body.clone())
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/fits/1/model_key")
        .assert_fault("/fits/2/position")
        .assert_fault("/fits/3/position");
    body["fits"] = json!([{"model_key": "demo_combi", "position": "fill_valve"}]);
    let made = ask().post("/v1/parts", body.clone()).await;
    made.assert(201);
    ask().post("/v1/parts", body.clone()).await.assert(200);
    let mut other = body.clone();
    other["unit_price"] = json!("150.00");
    ask().post("/v1/parts", other).await.assert_problem(409, "id-taken");
    ask().post("/v1/parts", new_part(&service, "V-1", "fill_valve")).await.assert_problem(409, "conflict");
    let odd =
        json!({"id": service.id(), "number": "V-2", "title": "x", "unit_price": "1.005", "currency": "euro"});
    ask()
        .post("/v1/parts", odd)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/unit_price")
        .assert_fault("/currency");
    for (query, count) in [
        ("search=v-", 1),
        ("search=230", 1),
        ("model_key=demo_combi&position=fill_valve", 1),
        ("model_key=demo_warewasher", 0),
        ("position=heater", 0),
    ] {
        let found = service.as_role(Role::Technician).get(&format!("/v1/parts?{query}")).await;
        assert_eq!(found.body["items"].as_array().unwrap().len(), count, "{query}");
    }
    let path = made.header("location").to_owned();
    ask().patch(&path, json!({"unit_price": "150.00"})).await.assert_problem(428, "precondition-required");
    let patch = json!({"unit_price": "150.00", "fits": [{"model_key": "demo_combi", "position": "heater"}]});
    let changed = ask().header("if-match", "\"1\"").patch(&path, patch.clone()).await;
    assert_eq!((&changed.body["unit_price"], &changed.body["fits"]), (&json!("150.00"), &patch["fits"]));
    ask().header("if-match", "\"1\"").patch(&path, patch).await.assert_problem(412, "stale");
    service.as_role(Role::Technician).post("/v1/parts", body).await.assert_problem(403, "wrong-role");
}

#[sqlx::test(migrations = "../../migrations")]
async fn parts_take_their_place_in_a_machine_by_their_time(pool: PgPool) {
    let service = stocked(pool.clone()).await;
    let ask = || service.administrator();
    let site = kitchen(&service).await;
    let machine = new_appliance(&service, &site);
    ask().post("/v1/appliances", machine.clone()).await.assert(201);
    let (valve, gasket) = (new_part(&service, "V-1", "fill_valve"), new_part(&service, "G-1", "door_gasket"));
    ask().post("/v1/parts", valve.clone()).await.assert(201);
    ask().post("/v1/parts", gasket.clone()).await.assert(201);
    let path = format!("/v1/appliances/{}/fitted-parts", machine["id"].as_str().unwrap());
    let technician = || service.as_role(Role::Technician);
    let fitted = |part: &Value, serial: &str, year: u32| {
        json!({"id": service.id(), "position": "fill_valve", "part_id": part["id"], "serial": serial,
            "fitted_at": format!("{year}-03-01T08:00:00Z")})
    };
    let newest = fitted(&valve, "c", 2025);
    technician().post(&path, newest.clone()).await.assert_problem(404, "not-found");
    send_there(&service, &pool, &site).await;
    technician().post(&path, newest.clone()).await.assert(201);
    technician().post(&path, newest.clone()).await.assert(200);
    let mut other = newest.clone();
    other["serial"] = json!("d");
    technician().post(&path, other).await.assert_problem(409, "id-taken");
    // Told later, in another order: the oldest, then the one between, a wrong part.
    ask().post(&path, fitted(&valve, "a", 2023)).await.assert(201);
    ask().post(&path, fitted(&gasket, "b", 2024)).await.assert(201);
    let all = technician().get(&path).await;
    let told: Vec<_> = all.body["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| {
            (item["serial"].as_str().unwrap(), item["removed_at"].as_str(), item["listed"].as_bool().unwrap())
        })
        .collect();
    assert_eq!(
        told,
        [
            ("c", None, true),
            ("b", Some("2025-03-01T08:00:00.000000Z"), false),
            ("a", Some("2024-03-01T08:00:00.000000Z"), true),
        ]
    );
    let odd = json!({"id": service.id(), "position": "site_pressure", "part_id": service.id(),
        "fitted_at": "2199-01-01T00:00:00Z"});
    ask()
        .post(&path, odd)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/position")
        .assert_fault("/part_id")
        .assert_fault("/fitted_at");
}
