use application::catalogue::{Installed, install_built_in};
use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::stocked;
use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn the_built_in_catalogue_is_installed_once(pool: PgPool) {
    let service = Service::over(pool).await;
    let first = install_built_in(&service.application).await.unwrap();
    let terms: usize = domain::vocabulary::lists()
        .iter()
        .filter(|list| !["finding", "evidence"].contains(&list.name))
        .map(|list| list.terms.len())
        .sum();
    let versions = domain::equipment::built_in_models().len()
        + domain::procedure::built_in_procedures().len()
        + domain::equipment::built_in_fault_catalogues().len();
    assert_eq!(first, Installed { added: (terms + versions) as u64, left: Vec::new() });
    assert_eq!(install_built_in(&service.application).await.unwrap(), Installed::default());
    let models = service.as_role(Role::Technician).get("/v1/models").await;
    assert_eq!(models.body["items"][0]["key"], json!("demo_combi"));
    assert_eq!(models.body["items"][0]["built_in"], json!(true));
    let procedures = service.administrator().get("/v1/procedures?search=FILL").await;
    let keys: Vec<_> = procedures.body["items"].as_array().unwrap().iter().map(|item| &item["key"]).collect();
    assert!(keys.contains(&&json!("fill_time")), "{keys:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_comes_with_the_service_holds_to_the_schemas_of_the_document(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.administrator();
    for model in domain::equipment::built_in_models() {
        let again = ask().post("/v1/models", json!(model)).await;
        again.assert(200);
        assert_eq!(again.body["model"], json!(model));
    }
    for procedure in domain::procedure::built_in_procedures() {
        ask().post("/v1/procedures", json!(procedure)).await.assert(200);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_used_version_never_changes_and_the_next_stands_beside_it(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Manager);
    let mut model = json!(domain::equipment::demo_combi());
    model["title"] = json!("Our combi");
    ask().post("/v1/models", model.clone()).await.assert_problem(409, "id-taken");
    model["version"] = json!(3);
    ask().post("/v1/models", model.clone()).await.assert_problem(422, "invalid").assert_fault("/version");
    model["version"] = json!(2);
    let made = ask().post("/v1/models", model.clone()).await;
    made.assert(201);
    assert_eq!(made.header("location"), "/v1/models/demo_combi/versions/2");
    ask().post("/v1/models", model.clone()).await.assert(200);
    let newest = ask().get("/v1/models/demo_combi").await;
    assert_eq!(
        (&newest.body["model"]["title"], &newest.body["built_in"]),
        (&json!("Our combi"), &json!(false))
    );
    let first = ask().get("/v1/models/demo_combi/versions/1").await;
    assert_eq!((&first.body["model"]["version"], &first.body["built_in"]), (&json!(1), &json!(true)));
    let unchanged =
        ask().header("if-none-match", first.header("etag")).get("/v1/models/demo_combi/versions/1").await;
    unchanged.assert(304);
    ask().get("/v1/models/demo_combi/versions/9").await.assert_problem(404, "not-found");
    ask().get("/v1/models/no_such_model").await.assert_problem(404, "not-found");
    service.as_role(Role::Dispatcher).post("/v1/models", model).await.assert_problem(403, "wrong-role");
}

#[sqlx::test(migrations = "../../migrations")]
async fn all_that_is_wrong_with_a_version_is_told_at_once(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Manager);
    let mut model = json!(domain::equipment::demo_combi());
    model["key"] = json!("our_combi");
    model["version"] = json!(2);
    model["sump"]["starving_l"] = json!(9.0);
    model["functional_limits"][2]["unit"] = json!("bar");
    model["functional_limits"][3]["of"]["step"] = json!("no_such_step");
    model["typical_values"][0]["of"]["procedure"] = json!("no_such_procedure");
    ask()
        .post("/v1/models", model.clone())
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/version")
        .assert_fault("/sump/starving_l")
        .assert_fault("/functional_limits/2")
        .assert_fault("/functional_limits/3/of/step")
        .assert_fault("/typical_values/0/of/procedure");
    model["positions"] = json!(["fill_valve", "flux_capacitor"]);
    model["heater"]["wiring"] = json!("loose");
    model["drain"]["by"] = json!("hand");
    ask()
        .post("/v1/models", model)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/positions/1")
        .assert_fault("/heater/wiring")
        .assert_fault("/drain/by");
    assert_eq!(ask().get("/v1/models?search=our_combi").await.body["items"], json!([]), "nothing was kept");

    let mut procedure = json!(domain::procedure::built_in_procedures()[2]);
    procedure["key"] = json!("our_fill_time");
    procedure["minutes"] = json!(0);
    procedure["preconditions"] = json!([
        {"kind": "read", "procedure": "no_such_procedure", "step": "x", "blocks": "every_grading"},
        {"kind": "read", "procedure": "inlet_pressure", "step": "no_such_step", "blocks": "every_grading"},
    ]);
    ask()
        .post("/v1/procedures", procedure)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/minutes")
        .assert_fault("/preconditions/0/procedure")
        .assert_fault("/preconditions/1/step");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_company_adds_terms_where_the_computation_does_not_depend_on_them(pool: PgPool) {
    let service = stocked(pool).await;
    let ask = || service.as_role(Role::Manager);
    let term = json!({"list": "cause", "key": "seagulls", "description": "they nest in the exhaust"});
    ask().post("/v1/terms", term.clone()).await.assert(201);
    ask().post("/v1/terms", term.clone()).await.assert(200);
    let mut other = term.clone();
    other["description"] = json!("they steal the gasket");
    ask().post("/v1/terms", other).await.assert_problem(409, "conflict");
    let closed = json!({"list": "position", "key": "seagull_net", "description": "keeps them out"});
    ask().post("/v1/terms", closed).await.assert_problem(422, "invalid").assert_fault("/list");
    let lists = service.as_role(Role::Technician).get("/v1/terms").await;
    let causes = lists.body["items"].as_array().unwrap().iter().find(|list| list["list"] == "cause").unwrap();
    let own: Vec<_> =
        causes["terms"].as_array().unwrap().iter().filter(|term| term["built_in"] == false).collect();
    assert_eq!(
        own,
        [&json!({"key": "seagulls", "description": "they nest in the exhaust", "built_in": false})]
    );
}
