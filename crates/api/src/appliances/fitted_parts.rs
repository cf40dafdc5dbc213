use application::appliance::FitPart;
use application::appliance::ListFittedParts;
use application::appliance::NewFittedPart;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, FittedPartId, PartId};
use domain::text::{Key, Name};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A part in a position of a machine.
#[derive(Serialize, ToSchema)]
pub struct FittedPart {
    #[schema(value_type = schema::Id)]
    id: FittedPartId,
    #[schema(value_type = schema::PositionWord)]
    position: Key,
    #[schema(value_type = schema::Id)]
    part_id: PartId,
    #[schema(value_type = schema::Name)]
    part_number: Name,
    #[schema(value_type = schema::Name)]
    part_title: Name,
    /// Whether the catalogue lists the part for this position of the machine's model.
    listed: bool,
    #[schema(value_type = Option<schema::Name>, required)]
    serial: Option<Name>,
    #[schema(value_type = schema::Instant)]
    fitted_at: Timestamp,
    /// When another took its place, or it was taken out for none; null while it is in.
    #[schema(value_type = Option<schema::Instant>, required)]
    removed_at: Option<Timestamp>,
}

impl From<application::appliance::FittedPart> for FittedPart {
    fn from(fitted: application::appliance::FittedPart) -> Self {
        Self {
            id: fitted.id,
            position: fitted.position,
            part_id: fitted.part,
            part_number: fitted.part_number,
            part_title: fitted.part_title,
            listed: fitted.listed,
            serial: fitted.serial,
            fitted_at: fitted.fitted_at,
            removed_at: fitted.removed_at,
        }
    }
}

/// The parts of a machine.
#[derive(Serialize, ToSchema)]
pub struct FittedParts {
    #[schema(max_items = 100_000)]
    items: Vec<FittedPart>,
}

/// List the parts that are and were in a machine
#[utoipa::path(get, path = "/v1/appliances/{id}/fitted-parts", tag = "appliances",
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "By position, newest first", body = FittedParts)))]
pub async fn list_fitted_parts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
) -> Result<Response, Problem> {
    let fitted = state.application.ask(&caller, ListFittedParts(id)).await?;
    answer::json(&FittedParts { items: fitted.into_iter().map(FittedPart::from).collect() })
}

/// A part that was found, or put, in a position.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FittedPartCreate {
    #[schema(value_type = schema::Id)]
    id: FittedPartId,
    #[schema(value_type = schema::PositionWord)]
    position: Key,
    #[schema(value_type = schema::Id)]
    part_id: PartId,
    #[schema(value_type = Option<schema::Name>)]
    serial: Option<Name>,
    #[schema(value_type = schema::Instant)]
    fitted_at: Timestamp,
}

/// Note which part is in a position of a machine
///
/// The part that was there before counts as removed then. Older ones may be noted later: each takes its
/// place by its time. A wrong part is noted as it is; `listed` says that it does not belong there.
#[utoipa::path(post, path = "/v1/appliances/{id}/fitted-parts", tag = "appliances",
    request_body = FittedPartCreate, params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Noted", body = FittedPart),
        (status = 200, description = "Was there already", body = FittedPart),
    ))]
pub async fn create_fitted_part(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(appliance): Path<ApplianceId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<FittedPartCreate>,
) -> Result<Response, Problem> {
    let new = NewFittedPart {
        id: body.id,
        appliance,
        position: body.position.clone(),
        part: body.part_id,
        serial: body.serial.clone(),
        fitted_at: body.fitted_at,
    };
    carry_out(&state, &caller, key, &(appliance, &body), FitPart(new), move |created| {
        let location = format!("/v1/appliances/{appliance}/fitted-parts");
        Answer::created(created.is_new, location, 1, &FittedPart::from(created.item))
    })
    .await
}
