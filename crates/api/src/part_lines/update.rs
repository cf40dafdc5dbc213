use application::part_line::UpdatePartLine;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::PartLineId;
use domain::money::{Amount, Currency};
use domain::text::{Key, Words};
use domain::work::Payer;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::PartLine;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a part line (RFC 7396): an absent field stays, null empties the position.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartLinePatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Key>)]
    position: Option<Option<Key>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = u32, required = false, minimum = 1, maximum = 10_000)]
    quantity: Option<u32>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::PayerWord, required = false)]
    payer: Option<Payer>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Amount, required = false)]
    unit_price: Option<Amount>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Currency, required = false)]
    currency: Option<Currency>,
    /// A manager's or administrator's word why the part goes where the catalogue does not list it.
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Words, required = false)]
    fit_override: Option<Words>,
}

/// Change a part line
///
/// Quantity and price can be changed until the line is quoted.
#[utoipa::path(patch, path = "/v1/part-lines/{id}", tag = "part lines", params(("id" = schema::Id, Path)),
    request_body(content = PartLinePatch, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "Changed", body = PartLine)))]
pub async fn update_part_line(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<PartLineId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PartLinePatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdatePartLine {
        id,
        expected_version,
        position: body.position.clone(),
        quantity: body.quantity,
        payer: body.payer,
        unit_price: body.unit_price,
        currency: body.currency,
        fit_override: body.fit_override.clone(),
    };
    carry_out(&state, &caller, key, &request, use_case, |line| {
        let version = line.version;
        Ok(Answer::json(StatusCode::OK, &PartLine::from(line))?.versioned(version))
    })
    .await
}
