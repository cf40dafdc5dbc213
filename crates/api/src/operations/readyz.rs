use application::readiness::Readiness as Standing;
use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::Response;
use serde::Serialize;
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
    match state.application.readiness().await {
        Standing::Ready { schema_version } => answer::json(&Readiness { ready: true, schema_version }),
        Standing::SchemaBehind => refuse("the database's schema is behind; run `ovenwright migrate`"),
        Standing::Busy => refuse("all connections to the database are in use"),
        Standing::Unreachable => refuse("the database cannot be reached, or takes no connection now"),
        Standing::Refused => {
            refuse("the database refuses the service's connection; its sign-in or its name is wrong")
        }
    }
}
