//! What must be kept nowhere, or not for long.

use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use crate::service::Service;

/// Every row of every table as text, bytes as they are too.
#[expect(
    clippy::disallowed_methods,
    reason = "the tables that there are, not those that somebody thought of"
)]
async fn everything_kept(pool: &PgPool) -> String {
    let tables: Vec<String> = sqlx::query_scalar(
        "SELECT format('SELECT coalesce(string_agg(t::text, chr(10)), '''') FROM %I AS t', table_name)
         FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE'",
    )
    .fetch_all(pool)
    .await
    .unwrap();
    let mut all = String::new();
    for table in tables {
        all += &sqlx::query_scalar::<_, String>(sqlx::AssertSqlSafe(table)).fetch_one(pool).await.unwrap();
    }
    all
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_repeated_request_is_told_that_a_token_was_made_and_its_secret_is_kept_nowhere(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let path = format!("/v1/people/{}/tokens", service.people[&Role::Technician]);
    let make = || {
        let body = json!({"name": "phone", "scopes": ["read"]});
        service.administrator().header("idempotency-key", "once").post(&path, body)
    };
    let made = make().await.expect(200);
    let secret = made.body["secret"].as_str().unwrap();
    service.administrator().secret(secret).get("/v1/me").await.assert(200);
    let again = make().await.expect(200);
    assert_eq!(again.body, json!({"id": made.body["id"], "secret": null}));
    let kept = everything_kept(&pool).await;
    let as_bytes = secret.bytes().fold(String::new(), |text, byte| format!("{text}{byte:02x}"));
    assert!(kept.contains(made.body["id"].as_str().unwrap()), "the search finds what is kept");
    assert!(!kept.contains(secret) && !kept.contains(&as_bytes), "the secret is kept");
}

#[sqlx::test(migrations = "../../migrations")]
async fn expired_answers_are_forgotten_and_others_stay(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    for key in ["old", "new"] {
        let person = service.people[&Role::Technician];
        let body = json!({"name": "phone", "scopes": ["read"]});
        let keyed = service.administrator().header("idempotency-key", key);
        keyed.post(&format!("/v1/people/{person}/tokens"), body).await.assert(200);
    }
    let age = "UPDATE idempotency SET expires_at = now() - interval '1 second' WHERE key = 'old'";
    sqlx::raw_sql(age).execute(&pool).await.unwrap();
    let now = service.application.now();
    let forgotten = store::idempotency::forget_expired(service.application.database(), now).await.unwrap();
    assert_eq!(forgotten, 1);
    let left = sqlx::query_scalar!("SELECT key FROM idempotency").fetch_all(&pool).await.unwrap();
    assert_eq!(left, ["new"]);
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_a_caller_is_shown_no_cache_keeps(pool: PgPool) {
    let service = Service::over(pool).await;
    for path in ["/v1/me", "/v1/contacts", "/v1/calls", "/v1/customers", "/v1/search?text=Bay", "/v1/changes"]
    {
        let answer = service.administrator().get(path).await;
        assert_eq!(answer.header("cache-control"), "no-store", "{path}: {}", answer.body);
    }
}
