//! Test runs: what phones send.

mod create;
mod get;
mod instrument;
mod reading;
mod run;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(create::create_test_runs)).routes(routes!(get::get_test_run))
}
