use domain::id::{WaitingId, WorkOrderId};
use domain::time::Timestamp;
use domain::work::WaitingReason;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// Something that an order waits for, or waited for.
#[derive(Serialize, ToSchema)]
pub struct Waiting {
    #[schema(value_type = schema::Id)]
    id: WaitingId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::WaitingReasonWord)]
    reason: WaitingReason,
    #[schema(value_type = schema::Instant)]
    from_at: Timestamp,
    #[schema(value_type = Option<schema::Instant>, required)]
    to_at: Option<Timestamp>,
    /// Whether the response clock stands still meanwhile.
    pauses_clock: bool,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::waiting::Waiting> for Waiting {
    fn from(waiting: application::waiting::Waiting) -> Self {
        Self {
            id: waiting.id,
            work_order_id: waiting.work_order,
            reason: waiting.reason,
            from_at: waiting.from_at,
            to_at: waiting.to_at,
            pauses_clock: waiting.pauses_clock,
            version: waiting.version,
            created_at: waiting.created_at,
        }
    }
}
