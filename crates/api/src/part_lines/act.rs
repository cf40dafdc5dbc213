use application::part_line::{LineSaying, MovePartLine};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::PartLineId;
use domain::text::Name;
use domain::time::Timestamp;
use domain::work::PartLineAction;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::PartLine;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What a move of a part line says.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartLineMove {
    /// With `promise`: the supplier's day.
    #[schema(value_type = Option<schema::Day>)]
    promised_on: Option<NaiveDate>,
    /// With `fit`: when. Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    fitted_at: Option<Timestamp>,
    /// With `fit`: the part's serial.
    #[schema(value_type = Option<schema::Name>)]
    serial: Option<Name>,
}

/// Move a part line on its way
///
/// Approve, order, promise, receive, set aside, fit, return, withdraw. What the customer pays past his spending
/// limit takes an approved quote.
#[utoipa::path(post, path = "/v1/part-lines/{id}/actions/{action}", tag = "part lines", request_body = PartLineMove,
    params(("id" = schema::Id, Path), ("action" = schema::PartLineActionWord, Path)),
    responses((status = 200, description = "Moved", body = PartLine)))]
pub async fn act_on_part_line(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((id, action)): Path<(PartLineId, PartLineAction)>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<PartLineMove>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, action, &body);
    let saying =
        LineSaying { promised_on: body.promised_on, fitted_at: body.fitted_at, serial: body.serial.clone() };
    let use_case = MovePartLine { id, expected_version, action, saying };
    carry_out(&state, &caller, key, &request, use_case, |line| {
        let version = line.version;
        Ok(Answer::json(StatusCode::OK, &PartLine::from(line))?.versioned(version))
    })
    .await
}
