//! Findings: what a person confirmed of a position.

mod create;
mod list;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(list::list_findings, create::create_finding))
}
