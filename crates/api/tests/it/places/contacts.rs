use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use super::kitchen;
use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn an_erased_contact_leaves_nothing_of_the_person(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let ask = || service.administrator();
    let site = kitchen(&service).await;
    let body =
        json!({"id": service.id(), "site_id": site, "name": "Ines Example", "phone": "+351 21 555 0123"});
    let made = ask().header("idempotency-key", "one").post("/v1/contacts", body.clone()).await;
    made.assert(201);
    ask().post("/v1/contacts", body.clone()).await.assert(200);
    let mut other = body.clone();
    other["phone"] = json!("1234");
    ask().post("/v1/contacts", other).await.assert_problem(409, "id-taken");
    let path = made.header("location").to_owned();
    ask().patch(&path, json!({"name": "Ines"})).await.assert_problem(428, "precondition-required");
    let patch = ask().header("idempotency-key", "two").header("if-match", "\"1\"");
    patch.patch(&path, json!({"name": "Ines E."})).await.assert(200);
    ask().header("if-match", "\"1\"").patch(&path, json!({"name": "x"})).await.assert_problem(412, "stale");
    for found in ["search=ines", "search=021%20555%200123", "search=0123"] {
        let page = ask().get(&format!("/v1/contacts?{found}")).await;
        assert_eq!(page.body["items"][0]["id"], body["id"], "{found}");
    }
    service.as_role(Role::Dispatcher).delete(&path).await.assert_problem(403, "wrong-role");

    ask().delete(&path).await.assert(204);
    ask().delete(&path).await.assert(204);
    let erased = ask().get(&path).await;
    erased.assert(200);
    assert_eq!((&erased.body["name"], &erased.body["phone"]), (&json!(null), &json!(null)));
    assert!(erased.body["erased_at"].is_string());
    let again = ask().header("if-match", erased.header("etag")).patch(&path, json!({"name": "Ines"})).await;
    again.assert_problem(409, "conflict");
    ask().header("idempotency-key", "one").post("/v1/contacts", body).await.assert_problem(409, "id-taken");
    assert_eq!(ask().get("/v1/contacts?search=ines").await.body["items"], json!([]));
    // Nor in any table of the database: not as text, and not as a hash that could be guessed.
    let left = sqlx::query_scalar!(
        r#"SELECT (SELECT count(*) FROM idempotency WHERE position(convert_to('Ines', 'UTF8') IN body) > 0)
             + (SELECT count(*) FROM contact WHERE length(body_sha256) > 0)
             + (SELECT count(*) FROM audit WHERE audit::text LIKE '%Ines%')
             + (SELECT count(*) FROM event WHERE event::text LIKE '%Ines%') AS "left!""#
    )
    .fetch_one(&pool)
    .await
    .unwrap();
    assert_eq!(left, 0);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_contact_belongs_to_one_kitchen_or_customer(pool: PgPool) {
    let service = Service::over(pool).await;
    let ask = || service.administrator();
    let site = kitchen(&service).await;
    let neither = json!({"id": service.id(), "name": "Ines Example"});
    ask().post("/v1/contacts", neither).await.assert_problem(422, "invalid").assert_fault("/site_id");
    let both = json!({"id": service.id(), "name": "Ines", "site_id": site, "customer_id": service.id()});
    ask().post("/v1/contacts", both).await.assert_problem(422, "invalid").assert_fault("/site_id");
    let nowhere = json!({"id": service.id(), "name": "Ines", "customer_id": service.id()});
    ask().post("/v1/contacts", nowhere).await.assert_problem(422, "invalid").assert_fault("/customer_id");
    let odd = json!({"id": service.id(), "name": "", "phone": 7, "site_id": "here"});
    ask()
        .post("/v1/contacts", odd)
        .await
        .assert_problem(422, "invalid")
        .assert_fault("/name")
        .assert_fault("/phone")
        .assert_fault("/site_id");
}
