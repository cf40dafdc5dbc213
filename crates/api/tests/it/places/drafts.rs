//! A company's own machine: drafted from its plate, taken in as it came, diagnosed.

use domain::role::Role;
use serde_json::{Value, json};
use sqlx::PgPool;

use super::stocked;

fn plate_of(file: &str, name: &str) -> Value {
    serde_json::from_str::<Value>(file).unwrap()[name].take()
}

/// A third kind of machine, and one of each kind that comes with the service.
fn plates() -> [Value; 4] {
    let own = include_str!("../../../../../tests/reference/plates.json");
    let steamer = include_str!("../../../../../tests/reference/expert/steamer.json");
    [
        plate_of(steamer, "plate"),
        plate_of(own, "demo_combi"),
        plate_of(own, "demo_warewasher"),
        plate_of(own, "large_combi"),
    ]
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_draft_is_taken_in_as_it_came(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Manager);
    for mut plate in plates() {
        let key = format!("own_{}", plate["key"].as_str().unwrap());
        plate["key"] = json!(key);
        let draft = ask().post("/v1/model-drafts", plate).await.expect(200).body;
        assert_eq!(draft["faults"]["general"], json!(true));
        ask().get(&format!("/v1/models/{key}")).await.assert_problem(404, "not-found");
        ask().post("/v1/models", draft["model"].clone()).await.assert(201);
        ask().post("/v1/fault-catalogues", draft["faults"].clone()).await.assert(201);
        let kept = ask().get(&format!("/v1/fault-catalogues/{key}")).await.expect(200);
        assert_eq!(kept.body["catalogue"], draft["faults"]);
    }
    let torn = json!({"model": {"key": "own_our_steamer"}, "complaint": "leaks_front", "runs": [
        {"procedure": {"key": "seal_and_buffer_look"}, "readings": [
            {"step": "gasket", "choice": "torn"}, {"step": "buffer", "choice": "in_line"}]}]});
    let said = service.as_role(Role::Technician).post("/v1/diagnoses", torn).await.expect(200).body;
    let likely = said["faults"].as_array().unwrap().iter().max_by(|one, other| {
        one["probability"].as_f64().unwrap().total_cmp(&other["probability"].as_f64().unwrap())
    });
    assert_eq!(likely.unwrap()["fault"], json!("gasket_torn"), "{said}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_plate_that_cannot_be_is_refused_with_all_reasons_at_once(pool: PgPool) {
    let service = stocked(pool).await;
    let [mut plate, ..] = plates();
    plate.as_object_mut().unwrap().remove("vessel_l");
    plate["drain_time_s"] = json!(-4.0);
    plate["positions"].as_array_mut().unwrap().push(json!("use"));
    let refused = service.as_role(Role::Manager).post("/v1/model-drafts", plate.clone()).await;
    refused
        .assert_problem(422, "invalid")
        .assert_fault("/vessel_l")
        .assert_fault("/drain_time_s")
        .assert_fault("/positions");
    plate["positions"] = json!(["warp_coil"]);
    let unknown = service.as_role(Role::Manager).post("/v1/model-drafts", plate.clone()).await;
    unknown.assert_problem(422, "invalid").assert_fault("/positions/0");
    service.as_role(Role::Technician).post("/v1/model-drafts", plate).await.assert_problem(403, "wrong-role");
}
