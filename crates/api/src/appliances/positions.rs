use application::appliance::{KnownPosition, ListAppliancePositions};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::fitted_parts::FittedPart;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A machine at a glance.
#[derive(Serialize, ToSchema)]
pub struct AppliancePositions {
    #[schema(max_items = 200)]
    items: Vec<AppliancePosition>,
}

/// What is known of one position.
#[derive(Serialize, ToSchema)]
pub struct AppliancePosition {
    #[schema(value_type = schema::PositionWord)]
    position: Key,
    /// The part that is in it, as far as it was noted.
    #[schema(value_type = Option<FittedPart>, required)]
    fitted_part: Option<FittedPart>,
    /// Orders that confirmed it degraded or failed.
    #[schema(minimum = 0)]
    faulty_orders: i64,
    #[schema(value_type = Option<LastFinding>, required)]
    last_finding: Option<LastFinding>,
    /// How often something was done to it.
    #[schema(minimum = 0)]
    actions: i64,
    #[schema(value_type = Option<LastAction>, required)]
    last_action: Option<LastAction>,
    /// When a procedure that bears on it was last carried out.
    #[schema(value_type = Option<schema::Instant>, required)]
    last_tested_at: Option<Timestamp>,
}

/// What somebody found last.
#[derive(Serialize, ToSchema)]
pub struct LastFinding {
    #[schema(value_type = schema::Instant)]
    at: Timestamp,
    #[schema(value_type = schema::ConditionWord)]
    finding: Key,
    #[schema(value_type = Option<schema::Key>, required)]
    failure_mode: Option<Key>,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
}

/// What somebody did last.
#[derive(Serialize, ToSchema)]
pub struct LastAction {
    #[schema(value_type = schema::Instant)]
    at: Timestamp,
    #[schema(value_type = schema::Key)]
    action: Key,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
}

/// Read a machine at a glance, position by position
///
/// Every position of its model, and others of which something is known; the history tells the whole.
#[utoipa::path(get, path = "/v1/appliances/{id}/positions", tag = "appliances", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "By position", body = AppliancePositions)))]
pub async fn list_appliance_positions(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
) -> Result<Response, Problem> {
    let known = state.application.ask(&caller, ListAppliancePositions(id)).await?;
    answer::json(&AppliancePositions { items: known.into_iter().map(AppliancePosition::from).collect() })
}

impl From<KnownPosition> for AppliancePosition {
    fn from(known: KnownPosition) -> Self {
        let summary = known.summary;
        Self {
            position: known.position,
            fitted_part: known.fitted_part.map(FittedPart::from),
            faulty_orders: summary.faulty_orders,
            last_finding: summary.last_finding.map(|last| LastFinding {
                at: last.at,
                finding: last.finding,
                failure_mode: last.failure_mode,
                work_order_id: last.work_order,
            }),
            actions: summary.actions,
            last_action: summary.last_action.map(|last| LastAction {
                at: last.at,
                action: last.action,
                work_order_id: last.work_order,
            }),
            last_tested_at: summary.last_tested_at,
        }
    }
}
