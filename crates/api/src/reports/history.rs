use application::appliance::{ApplianceHistory, GetApplianceHistory, HistoryEntry};
use application::{PageRequest, Position};
use std::collections::BTreeMap;

use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Serialize, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct HistoryQuery {
    /// Only what speaks of this position: tests, findings, actions, parts.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    position: Option<Key>,
    /// As it stood at this moment. Now, unless said.
    #[param(value_type = Option<schema::Instant>, nullable = false)]
    as_of: Option<Timestamp>,
    /// How many entries at most; a larger number is taken as 500. Usual: 100.
    #[param(minimum = 1, maximum = 1_000_000, nullable = false)]
    limit: Option<i64>,
    /// Where the page begins: `cursor` of the page before.
    #[param(max_length = 1000, nullable = false)]
    cursor: Option<String>,
}

/// One thing that happened to a machine.
#[derive(Serialize, ToSchema)]
pub struct HistoryItem {
    /// `order_received`, `order_ended`, `visit`, `test_run`, `finding`, `action_taken`, `part_fitted`, `part_noted`,
    /// `machine_corrected`.
    #[schema(max_length = 40)]
    kind: String,
    #[schema(value_type = schema::Id)]
    id: Uuid,
    #[schema(value_type = schema::Instant)]
    at: Timestamp,
    #[schema(value_type = Option<schema::Id>, required)]
    work_order_id: Option<WorkOrderId>,
    /// The positions that it speaks of.
    #[schema(value_type = Vec<schema::Key>, max_items = 200)]
    positions: Vec<Key>,
    /// What the kind has to say: words and symptoms, readings as read, finding and cause, action, part.
    detail: BTreeMap<String, Value>,
}

/// A page of a machine's history, newest first.
#[derive(Serialize, ToSchema)]
pub struct HistoryPage {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(max_items = 500)]
    items: Vec<HistoryItem>,
    /// Where the next page begins; null on the last one.
    #[schema(max_length = 1000, required)]
    cursor: Option<String>,
}

/// Read everything that ever happened to a machine
///
/// A technician who is sent to a kitchen sees the whole history of its machines: which of them is meant is
/// often settled there.
#[utoipa::path(get, path = "/v1/appliances/{id}/history", tag = "reports",
    params(("id" = schema::Id, Path), HistoryQuery),
    responses((status = 200, description = "Newest first", body = HistoryPage)))]
pub async fn get_appliance_history(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
    Query(query): Query<HistoryQuery>,
) -> Result<Response, Problem> {
    let filters = (id, &query.position, &query.as_of);
    let after: Option<Position> = query
        .cursor
        .as_deref()
        .map(|cursor| state.cursor_key.open(&filters, "cursor", cursor))
        .transpose()?;
    let request = PageRequest { after, oldest_first: false, limit: query.limit.unwrap_or(100).clamp(1, 500) };
    let question =
        GetApplianceHistory { id, position: query.position.clone(), as_of: query.as_of, page: request };
    let ApplianceHistory { as_of, page } = state.application.ask(&caller, question).await?;
    answer::json(&HistoryPage {
        as_of,
        cursor: page.next.map(|position| state.cursor_key.seal(&filters, &position)).transpose()?,
        items: page.items.into_iter().map(HistoryItem::from).collect(),
    })
}

impl From<HistoryEntry> for HistoryItem {
    fn from(entry: HistoryEntry) -> Self {
        let detail = match entry.detail {
            Value::Object(members) => members.into_iter().collect(),
            _ => BTreeMap::new(),
        };
        Self {
            kind: entry.kind,
            id: entry.id,
            at: entry.at,
            work_order_id: entry.work_order,
            positions: entry.positions,
            detail,
        }
    }
}
