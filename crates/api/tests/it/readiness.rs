//! What is said of a database that cannot be used.

use std::sync::Arc;
use std::time::Duration;

use api::{ApiState, Settings};
use application::Application;
use application::surroundings::{SystemClock, SystemIds};
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode};
use sqlx::postgres::{PgConnectOptions, PgPool, PgPoolOptions};
use store::{Database, StoreError};
use tower::ServiceExt;

/// Nothing listens on port 1.
const NOBODY: &str = "postgres://nobody@127.0.0.1:1/nothing";

#[tokio::test]
async fn a_refused_start_names_the_refusal_and_not_the_wait_for_it() {
    let error = Database::connect(NOBODY, 2).await.unwrap_err();
    assert!(matches!(error, StoreError::Unavailable(_)), "{error:?}");
    assert!(error.reasons().contains("refused"), "{}", error.reasons());
    assert!(!error.reasons().contains("pool"), "{}", error.reasons());
}

#[sqlx::test(migrations = false)]
async fn the_databases_own_words_are_told_once(pool: PgPool) {
    let options = PgConnectOptions::clone(&pool.connect_options()).database("nowhere");
    let pool = PgPoolOptions::new().connect_lazy_with(options);
    let error = Database::over(pool).schema().await.unwrap_err();
    assert!(matches!(error, StoreError::Database(_)), "{error:?}");
    assert_eq!(error.reasons().matches("\"nowhere\" does not exist").count(), 1, "{}", error.reasons());
}

#[sqlx::test(migrations = "../../migrations")]
async fn a_connection_that_the_server_ended_is_trouble_that_passes(pool: PgPool) {
    let end = sqlx::raw_sql("SELECT pg_terminate_backend(pg_backend_pid()), pg_sleep(1)");
    let error = StoreError::from(end.execute(&pool).await.unwrap_err());
    assert!(matches!(error, StoreError::Unavailable(_)), "{error:?}");
}

#[tokio::test]
async fn readiness_tells_a_database_that_is_not_there() {
    let pool = PgPoolOptions::new().connect_lazy(NOBODY).unwrap();
    assert_eq!(readiness(pool).await, "the database cannot be reached, or takes no connection now");
}

#[sqlx::test(migrations = "../../migrations")]
async fn readiness_tells_a_database_that_does_not_let_the_service_in(pool: PgPool) {
    let options = PgConnectOptions::clone(&pool.connect_options()).database("nowhere");
    let said = readiness(PgPoolOptions::new().connect_lazy_with(options)).await;
    assert_eq!(said, "the database refuses the service's connection; its sign-in or its name is wrong");
}

#[sqlx::test(migrations = "../../migrations")]
async fn readiness_tells_connections_that_are_all_in_use(pool: PgPool) {
    let one = PgPoolOptions::new()
        .max_connections(1)
        .acquire_timeout(Duration::from_millis(200))
        .connect_lazy_with(PgConnectOptions::clone(&pool.connect_options()));
    let _in_use = one.acquire().await.unwrap();
    assert_eq!(readiness(one).await, "all connections to the database are in use");
}

/// The detail of the problem that `/readyz` answers.
async fn readiness(pool: PgPool) -> String {
    let settings = Settings::default();
    let application = Application::new(Database::over(pool), Arc::new(SystemClock), Arc::new(SystemIds));
    let router = api::router(ApiState::new(application, &settings), &settings);
    let response = router.oneshot(Request::get("/readyz").body(Body::empty()).unwrap()).await.unwrap();
    assert_eq!(response.status(), StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(response.headers()["retry-after"], "5");
    let body = to_bytes(response.into_body(), 10_000).await.unwrap();
    let problem: serde_json::Value = serde_json::from_slice(&body).unwrap();
    problem["detail"].as_str().unwrap().to_owned()
}
