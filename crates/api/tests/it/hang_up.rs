//! A client that does not wait for its answer.

use std::time::Duration;

use serde_json::json;
use sqlx::{PgPool, Row};

use crate::service::Service;

#[sqlx::test(migrations = "../../migrations")]
async fn a_client_that_hangs_up_undoes_nothing_and_spoils_no_connection(pool: PgPool) {
    let service = Service::over(pool.clone()).await;
    let made =
        service.administrator().post("/v1/customers", json!({"id": service.id(), "name": "Bay"})).await;
    let path = made.header("location").to_owned();
    let mut other = pool.acquire().await.unwrap();
    sqlx::raw_sql("BEGIN; SELECT FROM customer FOR UPDATE").execute(&mut *other).await.unwrap();

    let change = service.administrator().header("if-match", "\"1\"").patch(&path, json!({"name": "Hill"}));
    tokio::select! {
        answer = change => panic!("the row is locked, yet: {}", answer.status),
        () = a_statement_waits(&pool) => {} // and the other branch is dropped, as by a client that hangs up
    }
    sqlx::raw_sql("ROLLBACK").execute(&mut *other).await.unwrap();
    drop(other);
    service.application.drain().await;
    let read = service.administrator().get(&path).await.expect(200);
    assert_eq!((&read.body["name"], read.header("etag")), (&json!("Hill"), "\"2\""));
    let open = "SELECT count(*) FROM pg_stat_activity
                WHERE datname = current_database() AND state LIKE 'idle in transaction%'";
    let open: i64 = sqlx::raw_sql(open).fetch_one(&pool).await.unwrap().get(0);
    assert_eq!(open, 0, "no connection went back with its transaction open");
}

async fn a_statement_waits(pool: &PgPool) {
    let waiting = "SELECT count(*) FROM pg_stat_activity
                   WHERE datname = current_database() AND wait_event_type = 'Lock'";
    while sqlx::raw_sql(waiting).fetch_one(pool).await.unwrap().get::<i64, _>(0) == 0 {
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
}
