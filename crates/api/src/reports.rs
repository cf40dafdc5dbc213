//! What the manager asks on a Monday, and what a kitchen's or a machine's past says.

mod early_warnings;
mod history;
mod measures;
mod part_life;
mod parts_usage;
mod recurring_faults;
mod repeats;
mod table;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(recurring_faults::get_site_recurring_faults))
        .routes(routes!(repeats::get_site_repeats))
        .routes(routes!(repeats::get_repeats))
        .routes(routes!(measures::get_measures))
        .routes(routes!(history::get_appliance_history))
        .routes(routes!(parts_usage::get_parts_usage))
        .routes(routes!(part_life::get_part_life))
        .routes(routes!(early_warnings::get_early_warnings))
}
