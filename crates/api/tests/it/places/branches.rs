use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn a_branch_is_opened_once_and_renamed_on_its_version(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    let body = json!({"id": service.id(), "name": "North coast"});
    let made = ask().post("/v1/branches", body.clone()).await;
    made.assert(201);
    ask().post("/v1/branches", body.clone()).await.assert(200);
    let other = json!({"id": body["id"], "name": "South coast"});
    ask().post("/v1/branches", other).await.assert_problem(409, "id-taken");
    let twin = json!({"id": service.id(), "name": "North coast"});
    ask().post("/v1/branches", twin).await.assert_problem(409, "conflict");
    let path = made.header("location").to_owned();
    ask().patch(&path, json!({"name": "South coast"})).await.assert_problem(428, "precondition-required");
    let changed = ask().header("if-match", "\"1\"").patch(&path, json!({"name": "South coast"})).await;
    assert_eq!((changed.header("etag"), &changed.body["name"]), ("\"2\"", &json!("South coast")));
    ask().header("if-match", "\"1\"").patch(&path, json!({"name": "x"})).await.assert_problem(412, "stale");
    let found = service.as_role(Role::Technician).get("/v1/branches?search=south").await;
    assert_eq!(found.body["items"].as_array().unwrap().len(), 1);
}
