use application::changes::{Event, ListChanges};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, SiteId, WorkOrderId};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use uuid::Uuid;

use super::address;
use super::cursor::{open, seal};
use crate::answer;
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct ChangesQuery {
    /// `cursor` of the answer before. Without it the feed begins at the last change that is certain: take the cursor
    /// first, then read what you need, and nothing is missed between the two; what was changed in between may be told
    /// again.
    #[param(max_length = 1000, nullable = false)]
    cursor: Option<String>,
    /// How many changes at most; a larger number is taken as 1000. Usual: 200.
    #[param(minimum = 1, maximum = 1_000_000, nullable = false)]
    limit: Option<i64>,
}

/// Something that was made, changed or taken back. Read the thing itself for what it is now.
#[derive(Serialize, ToSchema)]
pub struct ChangeItem {
    /// Noun and verb, such as `work_order.planned`.
    #[schema(max_length = 100)]
    kind: String,
    /// The thing that it happened to.
    #[schema(value_type = schema::Id)]
    subject_id: Uuid,
    #[schema(value_type = schema::Instant)]
    at: Timestamp,
    #[schema(value_type = Option<schema::Id>, required)]
    site_id: Option<SiteId>,
    #[schema(value_type = Option<schema::Id>, required)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = Option<schema::Id>, required)]
    work_order_id: Option<WorkOrderId>,
    /// Where it is read, or the list that holds it; null for what has no address, such as what people sign in with.
    #[schema(required, max_length = 200)]
    address: Option<String>,
    /// The thing is no more, or the caller may see it no more (`….out_of_sight`): forget it, and what belongs to it.
    gone: bool,
}

/// Changes since a cursor, and the cursor to go on with.
#[derive(Serialize, ToSchema)]
pub struct ChangePage {
    #[schema(max_items = 1000)]
    items: Vec<ChangeItem>,
    #[schema(max_length = 1000)]
    cursor: String,
    has_more: bool,
    /// The cursor is of another life of the database (a restored backup, a crash that lost what was told), of a time
    /// whose changes are kept no more, or of who saw more or less than the caller does now (another role): read everything
    /// anew, then go on with `cursor`.
    start_over: bool,
}

const LIMIT_USUAL: i64 = 200;
pub(super) const LIMIT_MAXIMUM: i64 = 1000;

/// What changed since?
///
/// Ordered, without gaps, only what the caller may see. Ask again with `cursor`, at once while `has_more`.
#[utoipa::path(get, path = "/v1/changes", tag = "changes", params(ChangesQuery),
    responses((status = 200, description = "The changes", body = ChangePage)))]
pub async fn list_changes(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<ChangesQuery>,
) -> Result<Response, Problem> {
    let since = query.cursor.as_deref().map(|cursor| open(&state, "cursor", cursor)).transpose()?;
    let limit = query.limit.unwrap_or(LIMIT_USUAL).clamp(1, LIMIT_MAXIMUM);
    let changes = state.application.ask(&caller, ListChanges { since, limit }).await?;
    answer::json(&ChangePage {
        items: changes.events.into_iter().map(ChangeItem::from).collect(),
        cursor: seal(&state, changes.next)?,
        has_more: changes.has_more,
        start_over: changes.start_over,
    })
}

impl From<Event> for ChangeItem {
    fn from(event: Event) -> Self {
        let verb = event.kind.rsplit('.').next().unwrap_or_default();
        Self {
            address: address::of(&event),
            gone: matches!(verb, "erased" | "retracted" | "revoked" | "removed" | "out_of_sight"),
            kind: event.kind,
            subject_id: event.subject,
            at: event.at,
            site_id: event.site,
            appliance_id: event.appliance,
            work_order_id: event.work_order,
        }
    }
}
