use application::visit::BookVisit;
use application::visit::NewVisit;
use axum::extract::State;
use axum::response::Response;
use domain::id::{PersonId, VisitId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Visit;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A visit to book.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitCreate {
    #[schema(value_type = schema::Id)]
    id: VisitId,
    #[schema(value_type = schema::Instant)]
    planned_at: Timestamp,
    /// Who is sent. Two people on one visit are one visit.
    #[schema(value_type = Vec<schema::Id>, min_items = 1, max_items = 10)]
    people: Vec<PersonId>,
    /// Why somebody is sent who is booked in another kitchen within two hours of that time.
    #[schema(value_type = Option<schema::Words>)]
    overlap_reason: Option<Words>,
}

/// Book a visit
///
/// One at a time; a return visit only when all part lines are set aside.
#[utoipa::path(post, path = "/v1/work-orders/{id}/visits", tag = "visits", request_body = VisitCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Booked", body = Visit),
        (status = 200, description = "Was booked already", body = Visit),
    ))]
pub async fn create_visit(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<VisitCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewVisit {
        id: body.id,
        work_order,
        planned_at: body.planned_at,
        people: body.people.clone(),
        overlap_reason: body.overlap_reason.clone(),
    };
    carry_out(&state, &caller, key, &request, BookVisit(new), |created| {
        let location = format!("/v1/visits/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Visit::from(created.item))
    })
    .await
}
