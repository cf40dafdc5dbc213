//! Is it there, is it ready, what can it do.

mod docs;
mod livez;
mod metrics;
mod openapi;
mod problems;
mod readyz;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

/// Those that ask for a caller.
pub fn guarded_routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(metrics::get_metrics))
}

/// Those that anybody may call.
pub fn public_routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(docs::get_docs))
        .routes(routes!(openapi::get_openapi))
        .routes(routes!(openapi::get_openapi_part))
        .routes(routes!(problems::get_problem))
}

/// Those that a supervisor calls.
pub fn health_routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(livez::livez)).routes(routes!(readyz::readyz))
}
