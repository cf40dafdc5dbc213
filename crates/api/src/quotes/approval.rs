use application::quote::ListApprovals;
use application::quote::NewApproval;
use application::quote::RecordApproval;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApprovalId, ContactId, PersonId, QuoteId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::Decision;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::work_orders::Money;

/// What the customer said to a quote.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ApprovalCreate {
    #[schema(value_type = schema::Id)]
    id: ApprovalId,
    #[schema(value_type = schema::Id)]
    quote_id: QuoteId,
    /// Who said it.
    #[schema(value_type = Option<schema::Id>)]
    contact_id: Option<ContactId>,
    #[schema(value_type = schema::DecisionWord)]
    decision: Decision,
    #[schema(value_type = schema::Instant)]
    decided_at: Timestamp,
    /// The sum that was allowed, where the customer spoke before the quote was made: the quote must not pass it.
    #[schema(nullable)]
    up_to: Option<Money>,
}

/// What the customer said to a quote, and who wrote it down.
#[derive(Serialize, ToSchema)]
pub struct Approval {
    #[schema(value_type = schema::Id)]
    id: ApprovalId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    quote_id: QuoteId,
    #[schema(value_type = Option<schema::Id>, required)]
    contact_id: Option<ContactId>,
    #[schema(value_type = schema::DecisionWord)]
    decision: Decision,
    #[schema(value_type = schema::Instant)]
    decided_at: Timestamp,
    #[schema(required, nullable)]
    up_to: Option<Money>,
    #[schema(value_type = schema::Id)]
    recorded_by: PersonId,
}

/// What the customer said to the quotes of an order.
#[derive(Serialize, ToSchema)]
pub struct ApprovalList {
    #[schema(max_items = 10_000)]
    items: Vec<Approval>,
}

/// Keep what the customer said to a quote
///
/// Approved: the quote's lines may be ordered. Declined: they are withdrawn.
#[utoipa::path(post, path = "/v1/work-orders/{id}/approvals", tag = "quotes", request_body = ApprovalCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Kept", body = Approval),
        (status = 200, description = "Was kept already", body = Approval),
    ))]
pub async fn create_approval(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<ApprovalCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewApproval {
        id: body.id,
        work_order,
        quote: body.quote_id,
        contact: body.contact_id,
        decision: body.decision,
        decided_at: body.decided_at,
        up_to: body.up_to.map(Into::into),
    };
    carry_out(&state, &caller, key, &request, RecordApproval(new), |created| {
        let location = format!("/v1/work-orders/{}/approvals", created.item.work_order);
        Answer::created(created.is_new, location, 1, &Approval::from(created.item))
    })
    .await
}

/// List what the customer said to an order's quotes
#[utoipa::path(get, path = "/v1/work-orders/{id}/approvals", tag = "quotes", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Oldest first", body = ApprovalList)))]
pub async fn list_approvals(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let approvals = state.application.ask(&caller, ListApprovals(id)).await?;
    answer::json(&ApprovalList { items: approvals.into_iter().map(Approval::from).collect() })
}

impl From<application::quote::Approval> for Approval {
    fn from(approval: application::quote::Approval) -> Self {
        Self {
            id: approval.id,
            work_order_id: approval.work_order,
            quote_id: approval.quote,
            contact_id: approval.contact,
            decision: approval.decision,
            decided_at: approval.decided_at,
            up_to: approval.up_to.map(Into::into),
            recorded_by: approval.recorded_by,
        }
    }
}
