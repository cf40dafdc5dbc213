//! Test runs: what phones send.

mod create;
mod get;
mod instrument;
mod list;
mod reading;
mod run;
mod verdicts;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub use reading::{HardnessScale, Reading, number_as_text};
pub use run::Conditions;
pub use verdicts::EpochVerdicts;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(create::create_test_runs))
        .routes(routes!(get::get_test_run))
        .routes(routes!(verdicts::get_test_run_verdicts))
        .routes(routes!(list::list_work_order_test_runs))
        .routes(routes!(verdicts::get_work_order_verdicts))
}
