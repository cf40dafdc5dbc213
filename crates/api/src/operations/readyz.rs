use std::time::Duration;

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use serde::Serialize;
use store::StoreError;
use store::database::Schema;
use utoipa::ToSchema;

use crate::answer;
use crate::problem::{Kind, Problem};
use crate::state::ApiState;

/// That requests will be served.
#[derive(Serialize, ToSchema)]
pub struct Readiness {
    ready: bool,
    /// Number of the newest migration that the database has.
    schema_version: i64,
}

const PATIENCE: Duration = Duration::from_secs(2);

/// Can requests be served?
///
/// No while the service stops, while the database cannot be reached, or while its schema is behind.
#[utoipa::path(get, path = "/readyz", tag = "operations",
    responses((status = 200, description = "They can", body = Readiness)))]
pub async fn readyz(State(state): State<ApiState>) -> Result<Response, Problem> {
    let refuse = |why: &str| {
        Err(Problem::new(Kind::OVERLOADED, why)
            .with_header(header::RETRY_AFTER, HeaderValue::from_static("5")))
    };
    if state.draining.is_on() {
        return refuse("the service is stopping");
    }
    let database = state.application.database();
    match tokio::time::timeout(PATIENCE, database.schema()).await {
        Ok(Ok(Schema::Ready { version })) => {
            answer::json(&Readiness { ready: true, schema_version: version })
        }
        Ok(Ok(Schema::Behind { .. })) => refuse("the database's schema is behind; run `ovenwright migrate`"),
        Ok(Err(_)) | Err(_) => refuse(why_unreachable(database.connection_refusal().await)),
    }
}

/// A supervisor is told the kind of trouble; the log has the database's own words.
fn why_unreachable(refusal: Option<StoreError>) -> &'static str {
    let Some(error) = refusal else {
        tracing::warn!("all connections to the database are in use");
        return "all connections to the database are in use";
    };
    tracing::error!(reasons = error.reasons(), "the database is not ready");
    match error {
        StoreError::Unavailable(_) => "the database cannot be reached, or takes no connection now",
        _ => "the database refuses the service's connection; its sign-in or its name is wrong",
    }
}
