use domain::role::{Role, Scope};
use serde_json::json;
use sqlx::PgPool;

use crate::service::{Service, enlist};

#[sqlx::test(migrations = "../../migrations")]
async fn a_create_is_repeated_safely_and_its_id_is_not_taken_over(pool: PgPool) {
    let service = Service::over(pool).await;
    let body = json!({"id": service.id(), "name": "Bay canteens"});
    let first = service.administrator().post("/v1/customers", body.clone()).await;
    first.assert(201);
    assert_eq!(first.header("etag"), "\"1\"");
    let second = service.administrator().post("/v1/customers", body.clone()).await;
    second.assert(200);
    assert_eq!(second.body, first.body);
    assert_eq!(second.header("location"), first.header("location"));
    let other = json!({"id": body["id"], "name": "Hill canteens"});
    service.administrator().post("/v1/customers", other).await.assert_problem(409, "id-taken");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_change_names_the_version_that_it_changes(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    let made = ask().post("/v1/customers", json!({"id": service.id(), "name": "Bay"})).await;
    let path = made.header("location").to_owned();
    ask().patch(&path, json!({"name": "Hill"})).await.assert_problem(428, "precondition-required");
    ask()
        .header("if-match", "\"9\"")
        .patch(&path, json!({"name": "Hill"}))
        .await
        .assert_problem(412, "stale");
    ask()
        .header("if-match", "W/\"1\"")
        .patch(&path, json!({"name": "Hill"}))
        .await
        .assert_problem(412, "stale");
    let changed = ask().header("if-match", "\"1\"").patch(&path, json!({"external_id": "E-1"})).await;
    changed.assert(200);
    assert_eq!((&changed.body["name"], &changed.body["external_id"]), (&json!("Bay"), &json!("E-1")));
    assert_eq!(changed.header("etag"), "\"2\"");
    let emptied = ask().header("if-match", "\"2\"").patch(&path, json!({"external_id": null})).await;
    assert_eq!(emptied.body["external_id"], json!(null), "null empties, absent stays");
    let refused = ask().header("if-match", "\"3\"").patch(&path, json!({"name": null, "id": "x"})).await;
    refused.assert_problem(422, "invalid").assert_fault("/name").assert_fault("");
    let unchanged = ask().header("if-none-match", "\"3\"").get(&path).await;
    unchanged.assert(304);
    assert!(unchanged.body.is_null());
    ask().header("if-none-match", "\"2\"").get(&path).await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn an_idempotency_key_answers_as_the_first_time(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator().header("idempotency-key", "one");
    let made =
        service.administrator().post("/v1/customers", json!({"id": service.id(), "name": "Bay"})).await;
    let path = made.header("location").to_owned();
    let first = ask().header("if-match", "\"1\"").patch(&path, json!({"name": "Hill"})).await;
    first.assert(200);
    let again = ask().header("if-match", "\"1\"").patch(&path, json!({"name": "Hill"})).await;
    again.assert(200);
    assert_eq!((again.body, again.headers.get("etag")), (first.body, first.headers.get("etag")));
    let other = ask().header("if-match", "\"1\"").patch(&path, json!({"name": "Dale"})).await;
    other.assert_problem(422, "key-reused");
    let long = service.administrator().header("idempotency-key", "k".repeat(201)).header("if-match", "\"2\"");
    long.patch(&path, json!({"name": "Dale"}))
        .await
        .assert_problem(400, "malformed")
        .assert_fault("Idempotency-Key");
    // A refused request is not remembered: the same key may succeed later.
    let stale = service.administrator().header("idempotency-key", "two").header("if-match", "\"9\"");
    stale.patch(&path, json!({"name": "Dale"})).await.assert_problem(412, "stale");
    let now = service.administrator().header("idempotency-key", "two").header("if-match", "\"2\"");
    now.patch(&path, json!({"name": "Dale"})).await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn every_fault_of_a_body_is_told_and_nothing_is_kept(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    let bad =
        json!({"id": "d1b3f0a8-4c0e-0f5a-9d2b-0c7e1a2b3c4d", "name": "", "external_id": 7, "colour": "red"});
    let refused = ask().post("/v1/customers", bad).await;
    refused
        .assert_problem(422, "invalid")
        .assert_fault("/id")
        .assert_fault("/name")
        .assert_fault("/external_id");
    assert!(refused.body.to_string().contains("unknown_field: colour"));
    ask().post("/v1/customers", json!([1, 2, 3])).await.assert_problem(422, "invalid");
    let nul = json!({"id": service.id(), "name": "a\u{0}b"});
    let refused = ask().post("/v1/customers", nul).await;
    refused.assert_problem(422, "invalid").assert_fault("/name");
    assert_eq!(refused.body["errors"].as_array().unwrap().len(), 1, "{}", refused.body);
    let nul = ask().get("/v1/customers?search=a%00b").await;
    nul.assert_problem(400, "malformed").assert_fault("search");
    assert_eq!(nul.body["detail"], "must not contain the character U+0000");
    let odd = ask().header("content-type", "text/plain").post("/v1/customers", json!({})).await;
    odd.assert_problem(415, "media-type").assert_fault("Content-Type");
    let large = json!({"id": service.id(), "name": "x".repeat(1 << 20)});
    ask().post("/v1/customers", large).await.assert_problem(413, "too-large");
    assert_eq!(ask().get("/v1/customers").await.body["items"], json!([]));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_list_is_walked_by_its_own_cursor_only(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    for name in ["Bay one", "Bay two", "Hill", "Bay three"] {
        ask().post("/v1/customers", json!({"id": service.id(), "name": name})).await.assert(201);
    }
    let mut seen = Vec::new();
    let mut path = "/v1/customers?search=bay&limit=2&sort=created_at".to_owned();
    loop {
        let page = ask().get(&path).await;
        let names = page.body["items"].as_array().unwrap().iter().map(|item| item["name"].clone());
        seen.extend(names);
        let Some(next) = page.body["cursor"].as_str() else { break };
        path = format!("/v1/customers?search=bay&limit=2&sort=created_at&cursor={next}");
    }
    assert_eq!(seen, ["Bay one", "Bay two", "Bay three"]);
    let cursor = path.split("cursor=").nth(1).unwrap();
    for other in ["search=hill&sort=created_at", "search=bay", "search=bay&sort=-created_at"] {
        let answer = ask().get(&format!("/v1/customers?{other}&cursor={cursor}")).await;
        answer.assert_problem(400, "malformed").assert_fault("cursor");
    }
    let odd = ask().get("/v1/customers?limit=0&lmit=3&sort=name").await;
    odd.assert_problem(400, "malformed").assert_fault("limit").assert_fault("lmit").assert_fault("sort");
    ask().get("/v1/customers?limit=100000").await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_the_framework_refuses_is_a_problem_too(pool: PgPool) {
    let service = Service::over(pool).await;
    service.administrator().get("/v1/nothing").await.assert_problem(404, "not-found");
    service.administrator().secret("").get("/v1/nothing").await.assert_problem(404, "not-found");
    service.administrator().get("/v1/customers/").await.assert_problem(404, "not-found");
    let put = service.administrator().send(axum::http::Method::PUT, "/v1/customers", None).await;
    put.assert_problem(405, "method-not-allowed");
    assert!(put.header("allow").contains("POST"));
    service.administrator().get("/v1/customers/x").await.assert_problem(400, "malformed");
    let missing = service.administrator().secret("").get("/v1/me").await;
    missing.assert_problem(401, "unauthenticated");
    assert_eq!(missing.header("www-authenticate"), "Bearer");
    let unknown = service.administrator().secret("guess").get("/v1/me").await;
    unknown.assert_problem(401, "unauthenticated");
    assert!(unknown.header("www-authenticate").contains("invalid_token"));
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_token_reaches_as_far_as_its_scopes_and_its_life(pool: PgPool) {
    let service = Service::over(pool).await;
    let (person, secret) = enlist(&service.application, Role::Dispatcher, &[Scope::Read]).await;
    let narrow = || service.administrator().secret(&secret);
    narrow().get("/v1/customers").await.assert(200);
    let refused = narrow().post("/v1/customers", json!({"id": service.id(), "name": "Bay"})).await;
    refused.assert_problem(403, "insufficient-scope");
    assert!(refused.header("www-authenticate").contains("insufficient_scope"));
    let tokens = service.administrator().get(&format!("/v1/people/{person}/tokens")).await;
    let token = tokens.body["items"][0]["id"].as_str().unwrap().to_owned();
    service.administrator().delete(&format!("/v1/tokens/{token}")).await.assert(204);
    narrow().get("/v1/customers").await.assert_problem(401, "unauthenticated");
    let person = service.administrator().get(&format!("/v1/people/{}", service.people[&Role::Manager])).await;
    let path = format!("/v1/people/{}", service.people[&Role::Manager]);
    let ask = service.administrator().header("if-match", person.header("etag"));
    ask.patch(&path, json!({"active": false})).await.assert(200);
    service.as_role(Role::Manager).get("/v1/me").await.assert_problem(401, "unauthenticated");
}
