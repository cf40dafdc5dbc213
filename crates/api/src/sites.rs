//! Sites: kitchens, and the water that they get.

mod create;
mod get;
mod list;
mod standing_facts;
mod update;
mod view;
mod water;
mod water_sample;

use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .routes(routes!(list::list_sites, create::create_site))
        .routes(routes!(get::get_site, update::update_site))
        .routes(routes!(standing_facts::get_standing_facts, standing_facts::update_standing_facts))
        .routes(routes!(water::get_site_water, water_sample::create_site_water))
}
