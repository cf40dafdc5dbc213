use domain::id::{KnownGoodRemovalId, PersonId, TestRunId};
use domain::known_good::selection::RemovalReason;
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// An entry that takes a reading out of the references, or back in.
#[derive(Serialize, ToSchema)]
pub struct KnownGoodRemoval {
    #[schema(value_type = schema::Id)]
    id: KnownGoodRemovalId,
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    #[schema(value_type = schema::Key)]
    step: Key,
    /// Null: the reading counts again.
    #[schema(value_type = Option<schema::RemovalReasonWord>, required)]
    reason: Option<RemovalReason>,
    #[schema(value_type = Option<schema::Words>, required)]
    note: Option<Words>,
    #[schema(value_type = schema::Id)]
    decided_by: PersonId,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::known_good::Removal> for KnownGoodRemoval {
    fn from(removal: application::known_good::Removal) -> Self {
        Self {
            id: removal.id,
            test_run_id: removal.test_run,
            step: removal.step,
            reason: removal.reason,
            note: removal.note,
            decided_by: removal.decided_by,
            created_at: removal.created_at,
        }
    }
}
