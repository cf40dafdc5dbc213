use application::appliance::CreateAppliance;
use application::appliance::NewAppliance;
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use domain::equipment;
use domain::id::{ApplianceId, SiteId};
use domain::text::{Key, Name};
use domain::work::ApplianceState;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Appliance;
use crate::answer::{Answer, carry_out};
use crate::catalogue::FunctionalLimit;
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A machine to take in.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ApplianceCreate {
    #[schema(value_type = schema::Id)]
    id: ApplianceId,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    model: ModelChoice,
    /// Where it stands in the kitchen.
    #[schema(value_type = schema::Name)]
    position_label: Name,
    /// From its rating plate.
    #[schema(value_type = Option<schema::Name>)]
    serial: Option<Name>,
    #[schema(value_type = Option<schema::Day>)]
    installed_on: Option<NaiveDate>,
    /// Usually `up`.
    #[schema(value_type = Option<schema::ApplianceStateWord>, nullable = false)]
    state: Option<ApplianceState>,
    /// Limits that stand before those of its model.
    #[serde(default)]
    #[schema(value_type = Vec<FunctionalLimit>, max_items = 200)]
    limits: Vec<equipment::FunctionalLimit>,
}

/// A model, and its version where it is not the newest.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ModelChoice {
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    version: Option<u32>,
}

/// Take a machine in
///
/// The same id and body again is answered 200 and changes nothing.
#[utoipa::path(post, path = "/v1/appliances", tag = "appliances", request_body = ApplianceCreate,
    responses(
        (status = 201, description = "Taken in", body = Appliance),
        (status = 200, description = "Was there already", body = Appliance),
    ))]
pub async fn create_appliance(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ApplianceCreate>,
) -> Result<Response, Problem> {
    let new = NewAppliance {
        id: body.id,
        site: body.site_id,
        model: body.model.key.clone(),
        model_version: body.model.version,
        position_label: body.position_label.clone(),
        serial: body.serial.clone(),
        installed_on: body.installed_on,
        state: body.state.unwrap_or(ApplianceState::Up),
        limits: body.limits.clone(),
    };
    carry_out(&state, &caller, key, &body, CreateAppliance(new), |created| {
        let location = format!("/v1/appliances/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Appliance::from(created.item))
    })
    .await
}
