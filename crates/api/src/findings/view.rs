use domain::id::{ApplianceId, FindingId, PersonId, TestRunId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// What a person confirmed of a position. It is never changed; a correction supersedes it.
#[derive(Serialize, ToSchema)]
#[expect(clippy::struct_field_names, reason = "the trade calls the condition that was found the finding")]
pub struct Finding {
    #[schema(value_type = schema::Id)]
    id: FindingId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Key)]
    position: Key,
    /// The model whose catalogue has the fault.
    #[schema(value_type = Option<schema::Key>, required)]
    fault_model: Option<Key>,
    #[schema(value_type = Option<schema::Key>, required)]
    fault_key: Option<Key>,
    #[schema(required, minimum = 1)]
    fault_version: Option<i32>,
    #[schema(value_type = schema::ConditionWord)]
    finding: Key,
    #[schema(value_type = Option<schema::Key>, required)]
    failure_mode: Option<Key>,
    #[schema(value_type = Option<schema::Key>, required)]
    mechanism: Option<Key>,
    #[schema(value_type = Option<schema::Key>, required)]
    cause: Option<Key>,
    #[schema(value_type = schema::EvidenceWord)]
    evidence: Key,
    #[schema(value_type = Option<schema::Words>, required)]
    note: Option<Words>,
    #[schema(value_type = Vec<schema::Id>, max_items = 200)]
    test_run_ids: Vec<TestRunId>,
    #[schema(value_type = schema::Id)]
    confirmed_by: PersonId,
    #[schema(value_type = schema::Instant)]
    found_at: Timestamp,
    #[schema(value_type = Option<schema::Id>, required)]
    supersedes_id: Option<FindingId>,
    #[schema(value_type = Option<schema::Id>, required)]
    superseded_by_id: Option<FindingId>,
    #[schema(value_type = Option<schema::Words>, required)]
    retraction_reason: Option<Words>,
}

impl From<application::finding::Finding> for Finding {
    fn from(finding: application::finding::Finding) -> Self {
        Self {
            id: finding.id,
            work_order_id: finding.work_order,
            appliance_id: finding.appliance,
            position: finding.position,
            fault_model: finding.fault_model,
            fault_key: finding.fault_key,
            fault_version: finding.fault_version,
            finding: finding.finding,
            failure_mode: finding.failure_mode,
            mechanism: finding.mechanism,
            cause: finding.cause,
            evidence: finding.evidence,
            note: finding.note,
            test_run_ids: finding.test_runs,
            confirmed_by: finding.confirmed_by,
            found_at: finding.found_at,
            supersedes_id: finding.supersedes,
            superseded_by_id: finding.superseded_by,
            retraction_reason: finding.retraction_reason,
        }
    }
}
