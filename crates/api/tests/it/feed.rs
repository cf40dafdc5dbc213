use std::time::Duration;

use domain::role::Role;
use serde_json::json;
use sqlx::PgPool;

use crate::service::Service;

/// A cursor that counts rows as they are numbered loses those whose transaction commits late.
#[sqlx::test(migrations = "../../migrations")]
async fn sixteen_writers_that_dawdle_lose_nothing(pool: PgPool) {
    const WRITERS: u64 = 16;
    const EACH: u64 = 12;
    let service = Service::over(pool.clone()).await;
    let mut cursor =
        service.administrator().get("/v1/changes").await.body["cursor"].as_str().unwrap().to_owned();
    let writers: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let pool = pool.clone();
            tokio::spawn(async move {
                for turn in 0..EACH {
                    // Numbered now, committed later, by a delay that no other writer shares.
                    let mut transaction = pool.acquire().await.unwrap();
                    let delay = f64::from(u32::try_from((writer * 7 + turn * 13) % 23).unwrap()) / 1000.0;
                    sqlx::raw_sql(sqlx::AssertSqlSafe(format!(
                        "BEGIN; INSERT INTO event (at, kind, subject) VALUES (now(), 'part.created', gen_random_uuid()); \
                         SELECT pg_sleep({delay}); COMMIT;"
                    )))
                    .execute(&mut *transaction)
                    .await
                    .unwrap();
                }
            })
        })
        .collect();
    let mut seen = std::collections::BTreeSet::new();
    let mut idle = 0;
    while idle < 20 {
        let page = service.administrator().get(&format!("/v1/changes?limit=7&cursor={cursor}")).await;
        let items = page.body["items"].as_array().unwrap();
        // What was written just before the cursor was made may be told again, while others still write.
        for item in items.iter().filter(|item| item["kind"] == "part.created") {
            assert!(seen.insert(item["subject_id"].as_str().unwrap().to_owned()), "told twice");
        }
        cursor = page.body["cursor"].as_str().unwrap().to_owned();
        let done = writers.iter().all(tokio::task::JoinHandle::is_finished);
        idle = if done && items.is_empty() { idle + 1 } else { 0 };
        tokio::time::sleep(Duration::from_millis(1)).await;
    }
    for writer in writers {
        writer.await.unwrap();
    }
    assert_eq!(seen.len() as u64, WRITERS * EACH);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_cursor_of_another_life_of_the_database_starts_over(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let first = service.administrator().get("/v1/changes").await;
    let cursor = first.body["cursor"].as_str().unwrap();
    assert_eq!(first.body["start_over"], json!(false));
    sqlx::raw_sql("UPDATE database_epoch SET epoch = gen_random_uuid()").execute(&pool).await.unwrap();
    let after = service.administrator().get(&format!("/v1/changes?cursor={cursor}")).await;
    assert_eq!(after.body["start_over"], json!(true));
    let forged = service.administrator().get("/v1/changes?cursor=abc").await;
    forged.assert_problem(400, "malformed").assert_fault("cursor");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_technician_is_not_told_of_what_is_not_theirs(pool: PgPool) {
    let service = Service::over(pool).await;
    let begin = async |role: Role| {
        service.as_role(role).get("/v1/changes").await.body["cursor"].as_str().unwrap().to_owned()
    };
    let (theirs, offices) = (begin(Role::Technician).await, begin(Role::Dispatcher).await);
    service
        .administrator()
        .post("/v1/customers", json!({"id": service.id(), "name": "Bay"}))
        .await
        .assert(201);
    // The feed waits for transactions that still run, those of other databases of the server among them.
    let told = async {
        loop {
            let office =
                service.as_role(Role::Dispatcher).get(&format!("/v1/changes?cursor={offices}")).await;
            let items = office.body["items"].as_array().unwrap().clone();
            if items.iter().any(|item| item["kind"] == "customer.created") {
                break;
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    };
    tokio::time::timeout(Duration::from_secs(30), told).await.expect("the office is told");
    let theirs = service.as_role(Role::Technician).get(&format!("/v1/changes?cursor={theirs}")).await;
    assert_eq!(theirs.body["items"], json!([]));
}

async fn keep_life(pool: &PgPool) -> String {
    store::Database::over(pool.clone()).keep_life().await.unwrap();
    sqlx::query_scalar!("SELECT epoch FROM database_epoch").fetch_one(pool).await.unwrap().to_string()
}

/// Reads the feed until an item of this kind is told; returns all items told and the cursor after them.
async fn until(service: &Service, mut cursor: String, kind: &str) -> (Vec<serde_json::Value>, String) {
    let mut told = Vec::new();
    for _ in 0..3000 {
        let page = service.administrator().get(&format!("/v1/changes?cursor={cursor}")).await;
        assert_eq!(page.body["start_over"], json!(false), "{}", page.body);
        told.extend(page.body["items"].as_array().unwrap().clone());
        cursor = page.body["cursor"].as_str().unwrap().to_owned();
        if told.iter().any(|item| item["kind"] == kind) {
            return (told, cursor);
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    panic!("{kind} was never told");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_restart_goes_on_and_a_restored_copy_starts_over(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    // The tests' cluster does not wait for the disk; this one is to have waited.
    let settle = "UPDATE database_epoch SET durable = true, server_started_at = now() - interval '1 day'";
    keep_life(&pool).await;
    let cursor = service.administrator().get("/v1/changes").await.body["cursor"].as_str().unwrap().to_owned();
    sqlx::raw_sql(settle).execute(&pool).await.unwrap();
    let before = keep_life(&pool).await;
    let add = |name: &'static str| {
        let body = json!({"id": service.id(), "name": name});
        service.administrator().post("/v1/customers", body)
    };
    add("Bay").await.assert(201);
    let (_, cursor) = until(&service, cursor, "customer.created").await;

    // A dump that another cluster counted far ahead of this one, read into a table of its own.
    let elsewhere = "INSERT INTO event (at, x, kind, subject) VALUES (now(), '999999999', 'part.created', gen_random_uuid());
        UPDATE database_epoch SET table_oid = 1";
    sqlx::raw_sql(elsewhere).execute(&pool).await.unwrap();
    let restored = keep_life(&pool).await;
    assert_ne!(before, restored);
    assert_eq!(restored, keep_life(&pool).await, "one restore is one life");
    let answer = service.administrator().get(&format!("/v1/changes?cursor={cursor}")).await;
    assert_eq!((&answer.body["start_over"], &answer.body["items"]), (&json!(true), &json!([])));
    let cursor = answer.body["cursor"].as_str().unwrap().to_owned();
    add("Hill").await.assert(201);
    let (told, _) = until(&service, cursor, "customer.created").await;
    assert_eq!(told.len(), 1, "only what was written in this life: {told:?}");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_crash_that_may_have_lost_commits_starts_over(pool: PgPool) {
    keep_life(&pool).await;
    let restart = "UPDATE database_epoch SET server_started_at = now() - interval '1 day', durable = ";
    let lives = async |durable: bool| {
        sqlx::raw_sql(sqlx::AssertSqlSafe(format!("{restart}{durable}"))).execute(&pool).await.unwrap();
        let before = sqlx::query_scalar!("SELECT epoch FROM database_epoch").fetch_one(&pool).await.unwrap();
        (before.to_string(), keep_life(&pool).await)
    };
    let (before, after) = lives(true).await;
    assert_eq!(before, after, "a restart that could lose nothing is no new life");
    let (before, after) = lives(false).await;
    assert_ne!(before, after);
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_cursor_whose_event_is_gone_starts_over(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let first = service.administrator().get("/v1/changes").await.body["cursor"].as_str().unwrap().to_owned();
    service
        .administrator()
        .post("/v1/customers", json!({"id": service.id(), "name": "Bay"}))
        .await
        .assert(201);
    let (_, cursor) = until(&service, first, "customer.created").await;
    // As after a copy of the files was put back that had not seen it yet.
    let lose = "ALTER TABLE event DISABLE TRIGGER USER; ALTER TABLE event_default DISABLE TRIGGER USER;
        DELETE FROM event WHERE kind = 'customer.created'";
    sqlx::raw_sql(lose).execute(&pool).await.unwrap();
    let answer = service.administrator().get(&format!("/v1/changes?cursor={cursor}")).await;
    assert_eq!(answer.body["start_over"], json!(true));
}
