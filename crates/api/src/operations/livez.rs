use axum::response::Response;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::problem::Problem;

/// That the process answers.
#[derive(Serialize, ToSchema)]
pub struct Liveness {
    alive: bool,
}

/// Does the process answer?
///
/// Never touches the database.
#[utoipa::path(get, path = "/livez", tag = "operations",
    responses((status = 200, description = "It does", body = Liveness)))]
pub async fn livez() -> Result<Response, Problem> {
    answer::json(&Liveness { alive: true })
}
