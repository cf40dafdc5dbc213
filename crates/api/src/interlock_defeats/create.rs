use application::interlock_defeat::OpenInterlockDefeat;
use axum::extract::State;
use axum::response::Response;
use domain::id::{InterlockDefeatId, WorkOrderId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use store::interlock_defeat::NewInterlockDefeat;
use utoipa::ToSchema;

use super::view::InterlockDefeat;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// An interlock that is defeated for a test.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InterlockDefeatCreate {
    #[schema(value_type = schema::Id)]
    id: InterlockDefeatId,
    /// Who stands by: somebody else than the one who defeats it.
    #[schema(value_type = schema::Name)]
    second_person: Name,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    opened_at: Option<Timestamp>,
    /// Within half an hour; a procedure's own limit may be shorter.
    #[schema(value_type = schema::Instant)]
    expires_at: Timestamp,
}

/// Record that an interlock is defeated for a test
///
/// A magnet or a bridge is a defeat (ISO 14119). A second person, a time limit, a recorded removal; the order
/// cannot end before that. A pump that runs with the door open makes the machine unsafe: do not use it.
#[utoipa::path(post, path = "/v1/work-orders/{id}/interlock-defeats", tag = "work orders",
    request_body = InterlockDefeatCreate, params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Recorded", body = InterlockDefeat),
        (status = 200, description = "Was recorded already", body = InterlockDefeat),
    ))]
pub async fn create_interlock_defeat(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<InterlockDefeatCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewInterlockDefeat {
        id: body.id,
        work_order,
        second_person: body.second_person.clone(),
        opened_at: body.opened_at,
        expires_at: body.expires_at,
    };
    carry_out(&state, &caller, key, &request, OpenInterlockDefeat(new), |created| {
        let location = format!("/v1/work-orders/{}/interlock-defeats", created.item.work_order);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &InterlockDefeat::from(created.item))
    })
    .await
}
