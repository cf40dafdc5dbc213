//! Diagnoses: which faults explain what was read, what to test next, what to carry.

mod of_order;
mod parts;
mod snapshot;
mod view;
mod what_if;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(of_order::get_work_order_diagnosis))
        .routes(routes!(snapshot::get_outcome_snapshot))
        .routes(routes!(what_if::diagnose))
}
