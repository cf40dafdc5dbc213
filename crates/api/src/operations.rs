//! Is it there, is it ready, what can it do.

mod livez;
mod openapi;
mod problems;
mod readyz;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(livez::livez))
        .routes(routes!(readyz::readyz))
        .routes(routes!(openapi::get_openapi))
        .routes(routes!(problems::get_problem))
}
