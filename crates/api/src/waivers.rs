//! What an order does without, and why.

use application::waiver::GiveWaiver;
use application::waiver::ListWaivers;
use application::waiver::NewWaiver;
use axum::extract::State;
use axum::response::Response;
use domain::id::{PersonId, WaiverId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::{Waived, WaiverCode};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(list_work_order_waivers, create_waiver))
}

/// What an order is to do without.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WaiverCreate {
    #[schema(value_type = schema::Id)]
    id: WaiverId,
    #[schema(value_type = schema::WaivedWord)]
    what: Waived,
    #[schema(value_type = schema::WaiverCodeWord)]
    code: WaiverCode,
    #[schema(value_type = schema::Words)]
    reason: Words,
}

/// What an order does without. Never changed; it stands until the machine is changed again.
#[derive(Serialize, ToSchema)]
pub struct Waiver {
    #[schema(value_type = schema::Id)]
    id: WaiverId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::WaivedWord)]
    what: Waived,
    #[schema(value_type = schema::WaiverCodeWord)]
    code: WaiverCode,
    #[schema(value_type = schema::Words)]
    reason: Words,
    #[schema(value_type = schema::Id)]
    given_by: PersonId,
    #[schema(value_type = schema::Instant)]
    given_at: Timestamp,
}

/// The waivers of an order.
#[derive(Serialize, ToSchema)]
pub struct WaiverList {
    #[schema(max_items = 10_000)]
    items: Vec<Waiver>,
}

/// Let an order do without a proof, for a reason that is kept
///
/// Somebody of the management gives it, and the order waits no longer for it; a technician asks by letting the order wait for a
/// waiver. Nothing waives a reading that says that something still fails.
#[utoipa::path(post, path = "/v1/work-orders/{id}/waivers", tag = "work orders", request_body = WaiverCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Given", body = Waiver),
        (status = 200, description = "Was given already", body = Waiver),
    ))]
pub async fn create_waiver(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<WaiverCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new =
        NewWaiver { id: body.id, work_order, what: body.what, code: body.code, reason: body.reason.clone() };
    carry_out(&state, &caller, key, &request, GiveWaiver(new), |created| {
        let location = format!("/v1/work-orders/{}/waivers", created.item.work_order);
        Answer::created(created.is_new, location, 1, &Waiver::from(created.item))
    })
    .await
}

/// List what an order does without
#[utoipa::path(get, path = "/v1/work-orders/{id}/waivers", tag = "work orders", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of it", body = WaiverList)))]
pub async fn list_work_order_waivers(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let waivers = state.application.ask(&caller, ListWaivers(id)).await?;
    answer::json(&WaiverList { items: waivers.into_iter().map(Waiver::from).collect() })
}

impl From<application::waiver::Waiver> for Waiver {
    fn from(waiver: application::waiver::Waiver) -> Self {
        Self {
            id: waiver.id,
            work_order_id: waiver.work_order,
            what: waiver.what,
            code: waiver.code,
            reason: waiver.reason,
            given_by: waiver.given_by,
            given_at: waiver.given_at,
        }
    }
}
