use application::appliance::UpdateAppliance;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use chrono::NaiveDate;
use domain::equipment;
use domain::id::{ApplianceId, SiteId};
use domain::text::Name;
use domain::work::ApplianceState;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{Appliance, ModelVersion};
use crate::answer::{Answer, carry_out};
use crate::catalogue::FunctionalLimit;
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::work_orders::Money;

/// What to change of a machine (RFC 7396): an absent field stays, null empties it. A model and a list of
/// limits are replaced as a whole.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AppliancePatch {
    /// The kitchen that it was moved to.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Id, required = false)]
    site_id: Option<SiteId>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = ModelVersion, required = false)]
    model: Option<ModelVersion>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    position_label: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Name>)]
    serial: Option<Option<Name>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Day>)]
    installed_on: Option<Option<NaiveDate>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::ApplianceStateWord, required = false)]
    state: Option<ApplianceState>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Vec<FunctionalLimit>, max_items = 200, required = false)]
    limits: Option<Vec<equipment::FunctionalLimit>>,
    /// More than 0.00.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<Money>)]
    replacement_price: Option<Option<Money>>,
}

/// Change a machine
///
/// A technician changes what is read from the machine itself; where it belongs, what it must hold and
/// what a new one costs is the office's.
#[utoipa::path(patch, path = "/v1/appliances/{id}", tag = "appliances",
    request_body(content = AppliancePatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = Appliance)))]
pub async fn update_appliance(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<AppliancePatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateAppliance {
        id,
        expected_version,
        site: body.site_id,
        model: body.model.clone().map(|model| (model.key, model.version)),
        position_label: body.position_label.clone(),
        serial: body.serial.clone(),
        installed_on: body.installed_on,
        state: body.state,
        limits: body.limits.clone(),
        replacement_price: body.replacement_price.map(|price| price.map(Into::into)),
    };
    carry_out(&state, &caller, key, &request, use_case, |appliance| {
        let version = appliance.version;
        Ok(Answer::json(StatusCode::OK, &Appliance::from(appliance))?.versioned(version))
    })
    .await
}
