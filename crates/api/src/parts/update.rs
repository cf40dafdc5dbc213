use application::part::UpdatePart;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::PartId;
use domain::text::Name;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{Part, PartFit};
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a part (RFC 7396): an absent field stays. The number is for good.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartPatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    title: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Amount, required = false)]
    unit_price: Option<Decimal>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Currency, required = false)]
    currency: Option<String>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Vec<PartFit>, required = false, max_items = 500)]
    fits: Option<Vec<PartFit>>,
}

/// Change a part
///
/// Lines that were written keep the price that they were written with.
#[utoipa::path(patch, path = "/v1/parts/{id}", tag = "parts", params(("id" = schema::Id, Path)),
    request_body(content = PartPatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "Changed", body = Part)))]
pub async fn update_part(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PartId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PartPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdatePart {
        id,
        expected_version,
        title: body.title.clone(),
        unit_price: body.unit_price,
        currency: body.currency.clone(),
        fits: body.fits.clone().map(|fits| fits.into_iter().map(Into::into).collect()),
    };
    carry_out(&state, &caller, key, &request, use_case, |part| {
        let version = part.version;
        Ok(Answer::json(StatusCode::OK, &Part::from(part))?.versioned(version))
    })
    .await
}
