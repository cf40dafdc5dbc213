use application::work_order::{ListMoves, Moves, PossibleMove};
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use domain::work::{Missing, OrderAction, OrderState, Outcome};
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What may be done with an order now, and what the rest lacks.
#[derive(Serialize, ToSchema)]
pub struct WorkOrderActions {
    #[schema(value_type = schema::OrderStateWord)]
    state: OrderState,
    #[schema(max_items = 8)]
    actions: Vec<WorkOrderAction>,
    booking_a_visit: VisitBooking,
}

/// Whether a visit can be booked now.
#[derive(Serialize, ToSchema)]
pub struct VisitBooking {
    allowed: bool,
    #[schema(value_type = Vec<schema::Words>, max_items = 20)]
    missing: Vec<String>,
}

/// A move, and what it lacks.
#[derive(Serialize, ToSchema)]
pub struct WorkOrderAction {
    #[schema(value_type = schema::OrderActionWord)]
    action: OrderAction,
    allowed: bool,
    /// What has to be there before it is allowed.
    #[schema(value_type = Vec<schema::Words>, max_items = 20)]
    missing: Vec<String>,
    /// With close: the outcomes that the order's state lets it end with. Empty otherwise.
    #[schema(max_items = 8)]
    outcomes: Vec<WorkOrderOutcome>,
}

/// An outcome, and what closing with it lacks.
#[derive(Serialize, ToSchema)]
pub struct WorkOrderOutcome {
    #[schema(value_type = schema::OutcomeWord)]
    outcome: Outcome,
    allowed: bool,
    #[schema(value_type = Vec<schema::Words>, max_items = 20)]
    missing: Vec<String>,
}

/// List the moves that an order allows now, and what is missing for the others
#[utoipa::path(get, path = "/v1/work-orders/{id}/actions", tag = "work orders", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All moves", body = WorkOrderActions)))]
pub async fn list_work_order_actions(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let versions = state.application.versions().clone();
    let moves = state.application.perform(&caller, ListMoves { versions, id }).await?;
    answer::json(&WorkOrderActions::from(moves))
}

impl From<Moves> for WorkOrderActions {
    fn from(moves: Moves) -> Self {
        let missing = words(&moves.missing_for_visit);
        Self {
            state: moves.order.state,
            actions: moves.moves.into_iter().map(WorkOrderAction::from).collect(),
            booking_a_visit: VisitBooking { allowed: missing.is_empty(), missing },
        }
    }
}

impl From<PossibleMove> for WorkOrderAction {
    fn from(possible: PossibleMove) -> Self {
        let outcomes = possible.outcomes.iter().map(|now| WorkOrderOutcome {
            outcome: now.outcome,
            allowed: now.missing.is_empty(),
            missing: words(&now.missing),
        });
        Self {
            action: possible.action,
            allowed: possible.missing.is_empty()
                && (possible.outcomes.is_empty()
                    || possible.outcomes.iter().any(|now| now.missing.is_empty())),
            missing: words(&possible.missing),
            outcomes: outcomes.collect(),
        }
    }
}

fn words(missing: &[Missing]) -> Vec<String> {
    missing.iter().map(ToString::to_string).collect()
}
