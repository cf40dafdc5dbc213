use application::part::CreatePart;
use application::part::NewPart;
use axum::extract::State;
use axum::response::Response;
use domain::id::PartId;
use domain::text::Name;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::{Part, PartFit};
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A part to take into the catalogue.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartCreate {
    #[schema(value_type = schema::Id)]
    id: PartId,
    #[schema(value_type = schema::Name)]
    number: Name,
    #[schema(value_type = schema::Name)]
    title: Name,
    #[schema(value_type = schema::Amount)]
    unit_price: Decimal,
    #[schema(value_type = schema::Currency)]
    currency: String,
    #[serde(default)]
    #[schema(max_items = 500)]
    fits: Vec<PartFit>,
}

/// Take a part into the catalogue
#[utoipa::path(post, path = "/v1/parts", tag = "parts", request_body = PartCreate,
    responses(
        (status = 201, description = "Taken in", body = Part),
        (status = 200, description = "Was there already", body = Part),
    ))]
pub async fn create_part(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PartCreate>,
) -> Result<Response, Problem> {
    let new = NewPart {
        id: body.id,
        number: body.number.clone(),
        title: body.title.clone(),
        unit_price: body.unit_price,
        currency: body.currency.clone(),
        fits: body.fits.iter().cloned().map(Into::into).collect(),
    };
    carry_out(&state, &caller, key, &body, CreatePart(new), |created| {
        let location = format!("/v1/parts/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Part::from(created.item))
    })
    .await
}
