use std::collections::BTreeMap;

use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use store::position_summary::{self, PositionSummary};
use store::{appliance, fitted_part};
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
    let database = state.application.database();
    let appliance = appliance::find(database, &caller.read_scope(), id).await?;
    let appliance = appliance.ok_or_else(|| Problem::not_found("appliance"))?;
    let mut summaries = position_summary::of_appliance(database, id).await?;
    let model = state.application.versions().model(appliance.model.as_str(), appliance.model_version).await?;
    for position in model.iter().flat_map(|model| &model.positions) {
        if let Ok(key) = Key::new(position.key()) {
            summaries.entry(key).or_default();
        }
    }
    let mut fitted = BTreeMap::new();
    for part in fitted_part::of_appliance(database, id).await? {
        if part.removed_at.is_none() {
            summaries.entry(part.position.clone()).or_default();
            fitted.insert(part.position.clone(), FittedPart::from(part));
        }
    }
    let items = summaries.into_iter().map(|(position, summary)| {
        let fitted_part = fitted.remove(&position);
        AppliancePosition::of(position, fitted_part, summary)
    });
    answer::json(&AppliancePositions { items: items.collect() })
}

impl AppliancePosition {
    fn of(position: Key, fitted_part: Option<FittedPart>, summary: PositionSummary) -> Self {
        Self {
            position,
            fitted_part,
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
