use domain::id::{PersonId, VisitId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::{ApplianceState, VisitAction, VisitResult};
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A visit, told by its times.
#[derive(Serialize, ToSchema)]
pub struct Visit {
    #[schema(value_type = schema::Id)]
    id: VisitId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Instant)]
    planned_at: Timestamp,
    /// Who is sent.
    #[schema(value_type = Vec<schema::Id>, max_items = 10)]
    people: Vec<PersonId>,
    #[schema(value_type = Option<schema::Instant>, required)]
    set_out_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    arrived_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    left_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    missed_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Instant>, required)]
    called_off_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::VisitResultWord>, required)]
    result: Option<VisitResult>,
    /// The steps that may be taken now.
    #[schema(value_type = Vec<schema::VisitActionWord>, max_items = 5)]
    allowed_actions: Vec<VisitAction>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
    /// Answered to a step: in which state the order's machine stands now. Under stop-use it stays unsafe_do_not_use, whatever was
    /// said when it was left.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<schema::ApplianceStateWord>, nullable = false)]
    appliance_state: Option<ApplianceState>,
}

impl Visit {
    pub fn with_machine(mut self, state: Option<ApplianceState>) -> Self {
        self.appliance_state = state;
        self
    }
}

impl From<application::visit::Visit> for Visit {
    fn from(visit: application::visit::Visit) -> Self {
        let times = visit.times;
        Self {
            id: visit.id,
            version: visit.version,
            work_order_id: visit.work_order,
            planned_at: times.planned_at,
            people: visit.people,
            set_out_at: times.set_out_at,
            arrived_at: times.arrived_at,
            left_at: times.left_at,
            missed_at: times.missed_at,
            called_off_at: times.called_off_at,
            result: times.result,
            allowed_actions: VisitAction::ALL
                .iter()
                .copied()
                .filter(|action| times.allows(*action))
                .collect(),
            created_at: visit.created_at,
            appliance_state: None,
        }
    }
}
