//! Appliances: machines in kitchens.

mod act;
mod costs;
mod create;
mod fitted_parts;
mod get;
mod list;
mod positions;
mod stops;
mod update;
mod view;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_appliances, create::create_appliance))
        .routes(routes!(list::list_site_appliances))
        .routes(routes!(get::get_appliance, update::update_appliance))
        .routes(routes!(fitted_parts::list_fitted_parts, fitted_parts::create_fitted_part))
        .routes(routes!(act::act_on_appliance))
        .routes(routes!(stops::list_stops, stops::create_stop))
        .routes(routes!(costs::get_appliance_costs))
        .routes(routes!(positions::list_appliance_positions))
}
