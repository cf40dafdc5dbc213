use application::waiting::BeginWaiting;
use application::waiting::NewWaiting;
use axum::extract::State;
use axum::response::Response;
use domain::id::{WaitingId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::WaitingReason;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Waiting;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Something that an order waits for.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WaitingCreate {
    #[schema(value_type = schema::Id)]
    id: WaitingId,
    #[schema(value_type = schema::WaitingReasonWord)]
    reason: WaitingReason,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    from_at: Option<Timestamp>,
    /// Only what the customer causes pauses the response clock: access, approval, customers_wish.
    pauses_clock: bool,
}

/// Note that an order waits for something
#[utoipa::path(post, path = "/v1/work-orders/{id}/waiting", tag = "work orders", request_body = WaitingCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Noted", body = Waiting),
        (status = 200, description = "Was noted already", body = Waiting),
    ))]
pub async fn create_waiting(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WaitingCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewWaiting {
        id: body.id,
        work_order,
        reason: body.reason,
        from_at: body.from_at,
        pauses_clock: body.pauses_clock,
    };
    carry_out(&state, &caller, key, &request, BeginWaiting(new), |created| {
        let location = format!("/v1/work-orders/{}/waiting", created.item.work_order);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Waiting::from(created.item))
    })
    .await
}
