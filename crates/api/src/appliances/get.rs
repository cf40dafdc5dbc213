use application::appliance::GetAppliance;
use axum::extract::State;
use axum::response::Response;
use domain::id::ApplianceId;

use super::view::Appliance;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a machine
#[utoipa::path(get, path = "/v1/appliances/{id}", tag = "appliances", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The machine", body = Appliance)))]
pub async fn get_appliance(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
) -> Result<Response, Problem> {
    let appliance = state.application.ask(&caller, GetAppliance(id)).await?;
    let version = appliance.version;
    answer::item(&Appliance::from(appliance), version)
}
