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
        service.administrator().get("/v1/changes").await.body["next"].as_str().unwrap().to_owned();
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
        let page = service.administrator().get(&format!("/v1/changes?limit=7&since={cursor}")).await;
        let items = page.body["items"].as_array().unwrap();
        // What was written just before the cursor was made may be told again, while others still write.
        for item in items.iter().filter(|item| item["kind"] == "part.created") {
            assert!(seen.insert(item["subject_id"].as_str().unwrap().to_owned()), "told twice");
        }
        cursor = page.body["next"].as_str().unwrap().to_owned();
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
    let cursor = first.body["next"].as_str().unwrap();
    assert_eq!(first.body["start_over"], json!(false));
    sqlx::raw_sql("UPDATE database_epoch SET epoch = gen_random_uuid()").execute(&pool).await.unwrap();
    let after = service.administrator().get(&format!("/v1/changes?since={cursor}")).await;
    assert_eq!(after.body["start_over"], json!(true));
    let forged = service.administrator().get("/v1/changes?since=abc").await;
    forged.assert_problem(400, "malformed").assert_fault("since");
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_technician_is_not_told_of_what_is_not_theirs(pool: PgPool) {
    let service = Service::over(pool).await;
    let technician = || service.as_role(Role::Technician);
    let cursor = technician().get("/v1/changes").await.body["next"].as_str().unwrap().to_owned();
    service
        .administrator()
        .post("/v1/customers", json!({"id": service.id(), "name": "Bay"}))
        .await
        .assert(201);
    // The feed waits for transactions that still run, those of other databases of the server among them.
    let told = async {
        loop {
            let office = service.as_role(Role::Dispatcher).get(&format!("/v1/changes?since={cursor}")).await;
            let items = office.body["items"].as_array().unwrap().clone();
            if items.iter().any(|item| item["kind"] == "customer.created") {
                break;
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
    };
    tokio::time::timeout(Duration::from_secs(30), told).await.expect("the office is told");
    let theirs = technician().get(&format!("/v1/changes?since={cursor}")).await;
    assert_eq!(theirs.body["items"], json!([]));
}
