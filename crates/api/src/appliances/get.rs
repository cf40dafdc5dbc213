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
    let appliance = store::appliance::find(state.application.database(), &caller.read_scope(), id).await?;
    let appliance = appliance.ok_or_else(|| Problem::not_found("appliance"))?;
    let version = appliance.version;
    answer::item(&Appliance::from(appliance), version)
}
