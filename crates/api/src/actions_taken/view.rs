use domain::id::{ActionTakenId, PartLineId, PersonId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// What somebody did to a position.
#[derive(Serialize, ToSchema)]
pub struct ActionTaken {
    #[schema(value_type = schema::Id)]
    id: ActionTakenId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Key)]
    position: Key,
    #[schema(value_type = schema::Key)]
    action: Key,
    #[schema(value_type = Option<schema::Id>, required)]
    part_line_id: Option<PartLineId>,
    #[schema(value_type = Option<schema::Instant>, required)]
    expires_at: Option<Timestamp>,
    #[schema(value_type = schema::Id)]
    taken_by: PersonId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
}

impl From<application::action_taken::ActionTaken> for ActionTaken {
    fn from(action: application::action_taken::ActionTaken) -> Self {
        Self {
            id: action.id,
            work_order_id: action.work_order,
            position: action.position,
            action: action.action,
            part_line_id: action.part_line,
            expires_at: action.expires_at,
            taken_by: action.taken_by,
            taken_at: action.taken_at,
        }
    }
}
