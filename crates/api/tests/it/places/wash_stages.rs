//! Stages and the highest temperature are the model's; procedures and catalogues of faults name the stage.

use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::stocked;

#[sqlx::test(migrations = "../../migrations")]
async fn a_procedure_is_shown_with_the_temperatures_of_the_model(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Technician);
    let of_combi = ask().get("/v1/procedures/staged_heating?model=demo_combi").await;
    of_combi.assert(200);
    assert_eq!(of_combi.body["shown"]["steps"][3]["title"], json!("Time to the third stage (85 °C)"));
    let caution =
        |body: &serde_json::Value, of: &str| body[of]["cautions"][0]["text"].as_str().unwrap().to_owned();
    assert!(caution(&of_combi.body, "shown").contains("hot, up to 85 °C"));
    assert!(caution(&of_combi.body, "procedure").contains("{highest_temperature}"), "as the next is written");
    let of_any = ask().get("/v1/procedures/staged_heating/versions/1").await;
    assert!(caution(&of_any.body, "shown").contains("scalding hot"));
    assert_eq!(of_any.body["shown"]["steps"][3]["title"], json!("Time to the third stage"));
    ask().get("/v1/procedures/staged_heating?model=no_such_model").await.assert_problem(404, "not-found");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_names_a_stage_that_the_model_lacks_is_refused(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Manager);
    let mut model = json!(domain::equipment::demo_combi());
    model["key"] = json!("two_stages");
    let third = json!({"procedure": "staged_heating", "step": "time_to_third_stage"});
    let place =
        |list: &serde_json::Value| list.as_array().unwrap().iter().position(|of| of["of"] == third).unwrap();
    let (limit, typical) = (place(&model["functional_limits"]), place(&model["typical_values"]));
    model["wash_stages_cel"] = json!([65.0, 50.0]);
    ask()
        .post("/v1/models", model.clone())
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/wash_stages_cel/1");
    model["wash_stages_cel"] = json!([50.0, 65.0]);
    ask()
        .post("/v1/models", model.clone())
        .await
        .assert_problem(422, "invalid")
        .assert_fault(&format!("/functional_limits/{limit}/of/step"))
        .assert_fault(&format!("/typical_values/{typical}/of/step"));
    model["functional_limits"].as_array_mut().unwrap().remove(limit);
    model["typical_values"].as_array_mut().unwrap().remove(typical);
    ask().post("/v1/models", model).await.assert(201);

    let mut faults = json!(domain::equipment::demo_combi_faults());
    let measurements = faults["measurements"].as_array().unwrap();
    let measurement =
        measurements.iter().position(|of| of["key"] == "staged_heating/time_to_third_stage").unwrap();
    faults["model"] = json!("two_stages");
    let refused = ask().post("/v1/fault-catalogues", faults.clone()).await;
    refused.assert_problem(422, "invalid").assert_fault(&format!("/measurements/{measurement}/reads"));
    faults["measurements"][measurement]["reads"]["heating_time"]["stage"] = json!("second");
    ask()
        .post("/v1/fault-catalogues", faults)
        .await
        .assert_problem(422, "invalid")
        .assert_fault(&format!("/measurements/{measurement}/reads/heating_time/stage"));
}
