use std::num::NonZeroU32;

use api::Settings;
use axum::body::Body;
use axum::http::Request;
use domain::role::Role;
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
    service.as_role(Role::Manager).get("/v1/me").await.assert(200);
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

#[sqlx::test(migrations = "../../migrations")]
async fn guessing_tokens_is_slowed_down_by_address_and_never_bars_a_good_token(pool: PgPool) {
    let settings = Settings {
        stranger_requests_per_minute: NonZeroU32::new(2).unwrap(),
        trusted_proxies: vec!["10.0.0.0/8".parse().unwrap()],
        ..Settings::default()
    };
    let service = Service::with(pool, &settings).await;
    let guess = || service.administrator().secret("guess");
    let from = |client: &str| guess().peer("10.0.0.1:4711").header("x-forwarded-for", client);
    from("203.0.113.7").get("/v1/me").await.assert_problem(401, "unauthenticated");
    from("203.0.113.7").get("/v1/me").await.assert_problem(401, "unauthenticated");
    let refused = from("203.0.113.7").get("/v1/me").await;
    refused.assert_problem(429, "too-many-requests");
    assert_eq!(refused.header("ratelimit"), "\"address\";r=0;t=60");
    from("203.0.113.7").get("/openapi.json").await.assert_problem(429, "too-many-requests");
    from("203.0.113.8").get("/v1/me").await.assert_problem(401, "unauthenticated");
    // Who is no trusted proxy speaks for himself alone.
    let forged = || guess().peer("198.51.100.1:4711");
    for n in 0..3 {
        let answer = forged().header("x-forwarded-for", format!("192.0.2.{n}")).get("/v1/me").await;
        answer.assert(if n < 2 { 401 } else { 429 });
    }
    let good = service.administrator().peer("10.0.0.1:4711").header("x-forwarded-for", "203.0.113.7");
    good.get("/v1/me").await.assert(200);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_guess_never_reaches_the_database(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    service.administrator().get("/v1/me").await.assert(200);
    pool.close().await;
    let good = service.tokens[&Role::Administrator].clone();
    let mut guess = good.clone();
    guess.replace_range(..1, if good.starts_with('A') { "B" } else { "A" });
    for guess in [guess.as_str(), "guess", "", "0123456789abcdef", "ä", "🔧🔧🔧🔧", &good[..good.len() - 1]]
    {
        let refused = service.administrator().secret(guess).get("/v1/me").await;
        assert_eq!(refused.status, 401, "{guess}");
    }
    service.administrator().get("/v1/me").await.assert(503);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_body_that_still_comes_holds_no_place(pool: PgPool) {
    let settings = Settings { concurrency: 1, ..Settings::default() };
    let service = Service::with(pool, &settings).await;
    service.as_role(Role::Manager).get("/v1/me").await.assert(200);
    let never = || futures_util::stream::pending::<Result<Vec<u8>, std::io::Error>>();
    let slow = |_| {
        let request = Request::post("/v1/customers")
            .header("authorization", format!("Bearer {}", service.tokens[&Role::Manager]))
            .header("content-type", "application/json");
        service.send(request.body(Body::from_stream(never())).unwrap())
    };
    let mut slow: Vec<_> = (0..4).map(slow).map(Box::pin).collect();
    for request in &mut slow {
        assert!(futures_util::poll!(request).is_pending());
    }
    service.administrator().get("/v1/me").await.assert(200);
    // Four for each place is all that one token has under way.
    service.as_role(Role::Manager).get("/v1/me").await.assert_problem(503, "overloaded");
    drop(slow);
    service.as_role(Role::Manager).get("/v1/me").await.assert(200);
}

/// The disk is full for one table after the other; `scripts/knock` cannot fill a disk, so Postgres' refusal stands for it.
#[sqlx::test(migrations = "../../migrations")]
async fn a_full_disk_refuses_writes_with_a_reason_and_leaves_nothing_half_written(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let full = "CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS $$
        BEGIN RAISE EXCEPTION 'could not extend file: No space left on device' USING ERRCODE = '53100'; END $$";
    sqlx::raw_sql(full).execute(&pool).await.unwrap();
    for table in ["customer", "event", "idempotency"] {
        let id = service.id();
        let take_in = || {
            let keyed = service.administrator().header("idempotency-key", table);
            keyed.post("/v1/customers", json!({"id": id, "name": "Bay"}))
        };
        let fill = format!(
            "CREATE TRIGGER full_disk BEFORE INSERT OR UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION no_room()"
        );
        sqlx::raw_sql(sqlx::AssertSqlSafe(fill)).execute(&pool).await.unwrap();
        let refused = take_in().await;
        refused.assert_problem(503, "overloaded");
        assert!(refused.body["detail"].as_str().unwrap().contains("disk is full"), "{}", refused.body);
        let path = format!("/v1/customers/{id}");
        service.administrator().get(&path).await.assert(404);
        let room = format!("DROP TRIGGER full_disk ON {table}");
        sqlx::raw_sql(sqlx::AssertSqlSafe(room)).execute(&pool).await.unwrap();
        take_in().await.assert(201);
        service.administrator().get(&path).await.assert(200);
    }
}

#[sqlx::test(migrations = "../../migrations")]
async fn copies_of_the_service_with_one_secret_open_each_others_cursors(pool: PgPool) {
    let with = |secret: &str| Settings { cursor_secret: secret.into(), ..Settings::default() };
    let one = Service::with(pool.clone(), &with("shared")).await;
    let two = Service::with(pool.clone(), &with("shared")).await;
    let stranger = Service::with(pool, &with("other")).await;
    for name in ["Bay", "Hill"] {
        let body = json!({"id": one.id(), "name": name});
        one.administrator().post("/v1/customers", body).await.assert(201);
    }
    let page = one.administrator().get("/v1/customers?limit=1").await;
    let rest = format!("/v1/customers?limit=1&cursor={}", page.body["cursor"].as_str().unwrap());
    let answer = two.administrator().get(&rest).await;
    answer.assert(200);
    assert_eq!(answer.body["items"][0]["name"], json!("Bay"));
    stranger.administrator().get(&rest).await.assert_problem(400, "malformed").assert_fault("cursor");
    let feed = one.administrator().get("/v1/changes").await;
    let since = format!("/v1/changes?cursor={}", feed.body["cursor"].as_str().unwrap());
    two.administrator().get(&since).await.assert(200);
    stranger.administrator().get(&since).await.assert_problem(400, "malformed").assert_fault("cursor");
}

#[sqlx::test(migrations = "../../migrations")]
async fn what_one_copy_answered_the_others_honour(pool: PgPool) {
    let one = Service::over(pool.clone()).await;
    let two = Service::over(pool).await;
    let token = &one.tokens[&Role::Administrator];
    let (here, there) = (|| one.administrator(), || two.administrator().secret(token));
    let made = here().post("/v1/customers", json!({"id": one.id(), "name": "Bay"})).await;
    let path = made.header("location").to_owned();
    there().header("if-none-match", made.header("etag")).get(&path).await.assert(304);
    let change = || json!({"name": "Hill"});
    let keyed = there().header("idempotency-key", "k").header("if-match", made.header("etag"));
    let changed = keyed.patch(&path, change()).await.expect(200);
    let again = here().header("idempotency-key", "k").header("if-match", made.header("etag"));
    assert_eq!(
        again.patch(&path, change()).await.expect(200).body,
        changed.body,
        "the key is known here too"
    );
    let stale = here().header("if-match", made.header("etag"));
    stale.patch(&path, json!({"name": "Dale"})).await.assert_problem(412, "stale");

    let person = one.people[&Role::Administrator];
    let tokens = here().get(&format!("/v1/people/{person}/tokens")).await.expect(200);
    let own = format!("/v1/tokens/{}", tokens.body["items"][0]["id"].as_str().unwrap());
    there().get("/v1/me").await.assert(200);
    here().delete(&own).await.assert(204);
    there().get("/v1/me").await.assert_problem(401, "unauthenticated");
}

#[sqlx::test(migrations = "../../migrations")]
async fn the_page_to_read_runs_its_own_script_alone(pool: PgPool) {
    let service = Service::over(pool).await;
    let page = service.administrator().secret("").get("/docs").await;
    page.assert(200);
    let policy = page.header("content-security-policy");
    assert!(policy.starts_with("default-src 'none'; script-src 'sha256-"), "{policy}");
    let text = page.body.as_str().unwrap();
    assert!(text.contains("fetch(\"/openapi.json\")"), "the script stands in the page");
    assert!(!text.contains("http://") && !text.contains("https://"), "nothing from elsewhere");
}
