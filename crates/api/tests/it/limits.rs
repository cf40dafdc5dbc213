use std::num::NonZeroU32;

use api::Settings;
use serde_json::json;
use sqlx::PgPool;

use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn one_request_too_many_is_told_when_to_come_back(pool: PgPool) {
    let settings = Settings { requests_per_minute: NonZeroU32::new(3).unwrap(), ..Settings::default() };
    let service = Service::with(pool, &settings).await;
    for remaining in (0..3).rev() {
        let answer = service.administrator().get("/v1/me").await;
        answer.assert(200);
        assert_eq!(answer.header("ratelimit"), format!("\"person\";r={remaining};t=60"));
    }
    let refused = service.administrator().get("/v1/me").await;
    refused.assert_problem(429, "too-many-requests");
    let wait: u32 = refused.header("retry-after").parse().unwrap();
    assert!((1..=21).contains(&wait), "{wait}");
    service.as_role(domain::role::Role::Manager).get("/v1/me").await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn without_a_place_a_request_is_shed_at_once_and_liveness_is_not(pool: PgPool) {
    let settings = Settings { concurrency: 0, ..Settings::default() };
    let service = Service::with(pool, &settings).await;
    let shed = service.administrator().get("/v1/me").await;
    shed.assert_problem(503, "overloaded");
    assert_eq!(shed.header("retry-after"), "1");
    service.administrator().get("/livez").await.assert(200);
    service.administrator().get("/readyz").await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_compressed_answer_has_a_tag_of_its_own_that_still_names_the_version(pool: PgPool) {
    let service = Service::over(pool).await;
    let body = json!({"id": service.id(), "name": "Bay ".repeat(49)});
    let made = service.administrator().post("/v1/customers", body).await;
    let path = made.header("location").to_owned();
    let packed = service.administrator().header("accept-encoding", "gzip").get(&path).await;
    assert_eq!(packed.header("content-encoding"), "gzip");
    assert_eq!(packed.header("etag"), "\"1-gzip\"");
    service.administrator().header("if-none-match", "\"1-gzip\"").get(&path).await.assert(304);
    let changed =
        service.administrator().header("if-match", "\"1-gzip\"").patch(&path, json!({"name": "Hill"})).await;
    changed.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn requests_are_counted_by_route_and_strangers_share_one(pool: PgPool) {
    let service = Service::over(pool).await;
    service.administrator().get(&format!("/v1/customers/{}", service.id())).await.assert(404);
    service.administrator().get("/wp-login").await.assert(404);
    let answer = service.administrator().get("/metrics").await;
    let text = answer.body.as_str().unwrap();
    assert!(text.contains(r#"route="/v1/customers/{id}""#), "{text}");
    assert!(text.contains(r#"route="unmatched""#));
    assert!(!text.contains("wp-login"));
}
