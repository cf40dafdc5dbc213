use std::collections::{BTreeMap, BTreeSet};

use application::test_run::StoredRun;
use domain::evidence::{self, Phase};
use domain::id::{ApplianceId, InterlockDefeatId, PersonId, TestRunId, VisitId, WorkOrderId};
use domain::text::{Key, Text, Words};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::reading::{MeasuredValue, Reading};
use crate::schema;

/// One version of one procedure.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProcedureVersion {
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(minimum = 1, maximum = 1_000_000)]
    version: u32,
}

/// What held while a run was taken, as far as it was read.
#[derive(Clone, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Conditions {
    /// Gauge pressure at the tap before the inlet strainer, during the run's own flow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    dynamic_pressure: Option<MeasuredValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    water_temperature: Option<MeasuredValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    supply_voltage: Option<MeasuredValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    door_closed: Option<bool>,
    /// The states that the procedure asks to confirm.
    #[serde(default)]
    #[schema(value_type = Vec<schema::Key>, max_items = 50)]
    confirmed: BTreeSet<Key>,
}

/// One carrying out of a procedure, as a phone sends it.
#[derive(Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TestRunCreate {
    #[schema(value_type = schema::Id)]
    id: TestRunId,
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    /// Absent when a machine is read without a call.
    #[schema(value_type = Option<schema::Id>)]
    work_order_id: Option<WorkOrderId>,
    #[schema(value_type = Option<schema::Id>)]
    visit_id: Option<VisitId>,
    procedure: ProcedureVersion,
    #[schema(value_type = schema::PhaseWord)]
    phase: Phase,
    /// The phone's own name.
    #[schema(value_type = String, min_length = 1, max_length = 100)]
    device_id: Text<1, 100>,
    /// Counts up on the device.
    #[schema(minimum = 0, maximum = 9_007_199_254_740_991_i64)]
    sequence: u64,
    /// As the device's clock said.
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    #[serde(default)]
    conditions: Conditions,
    #[serde(default)]
    #[schema(max_items = 100)]
    readings: Vec<Reading>,
    /// Steps that were not done, each with its reason.
    #[serde(default)]
    #[schema(value_type = BTreeMap<String, schema::Words>)]
    not_tested: BTreeMap<Key, Words>,
    /// The recorded defeat under which a step that needs one was done.
    #[schema(value_type = Option<schema::Id>)]
    interlock_defeat_id: Option<InterlockDefeatId>,
    /// The run that this one corrects.
    #[schema(value_type = Option<schema::Id>)]
    supersedes_id: Option<TestRunId>,
    /// Takes the superseded run back altogether; such a run has no readings.
    #[schema(value_type = Option<schema::Words>)]
    retraction_reason: Option<Words>,
}

/// A run as it is kept.
#[derive(Serialize, ToSchema)]
pub struct TestRun {
    #[schema(value_type = schema::Id)]
    id: TestRunId,
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = Option<schema::Id>, required)]
    work_order_id: Option<WorkOrderId>,
    #[schema(value_type = Option<schema::Id>, required)]
    visit_id: Option<VisitId>,
    procedure: ProcedureVersion,
    #[schema(value_type = schema::PhaseWord)]
    phase: Phase,
    /// How many actions had changed the machine on this order before the run.
    #[schema(minimum = 0)]
    epoch: u32,
    #[schema(value_type = String, max_length = 100)]
    device_id: Text<1, 100>,
    #[schema(minimum = 0)]
    sequence: u64,
    /// By the device's clock, corrected.
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    /// What was added to the device's clock.
    clock_correction_seconds: f64,
    #[schema(value_type = schema::Instant)]
    received_at: Timestamp,
    #[schema(value_type = schema::Id)]
    taken_by: PersonId,
    /// It came when its order had ended.
    late: bool,
    conditions: Conditions,
    #[schema(max_items = 100)]
    readings: Vec<Reading>,
    #[schema(value_type = BTreeMap<String, schema::Words>)]
    not_tested: BTreeMap<Key, Words>,
    #[schema(value_type = Option<schema::Id>, required)]
    interlock_defeat_id: Option<InterlockDefeatId>,
    #[schema(value_type = Option<schema::Id>, required)]
    supersedes_id: Option<TestRunId>,
    /// The run that corrects or retracts this one.
    #[schema(value_type = Option<schema::Id>, required)]
    superseded_by_id: Option<TestRunId>,
    /// The machine that its sender named, where the order was moved from it as a wrong unit put right.
    #[schema(value_type = Option<schema::Id>, required)]
    moved_from_id: Option<ApplianceId>,
    #[schema(value_type = Option<schema::Words>, required)]
    retraction_reason: Option<Words>,
}

impl From<Conditions> for evidence::Conditions {
    fn from(conditions: Conditions) -> Self {
        Self {
            dynamic_pressure: conditions.dynamic_pressure.map(Into::into),
            water_temperature: conditions.water_temperature.map(Into::into),
            supply_voltage: conditions.supply_voltage.map(Into::into),
            door_closed: conditions.door_closed,
            confirmed: conditions.confirmed,
        }
    }
}

impl From<evidence::Conditions> for Conditions {
    fn from(conditions: evidence::Conditions) -> Self {
        Self {
            dynamic_pressure: conditions.dynamic_pressure.map(Into::into),
            water_temperature: conditions.water_temperature.map(Into::into),
            supply_voltage: conditions.supply_voltage.map(Into::into),
            door_closed: conditions.door_closed,
            confirmed: conditions.confirmed,
        }
    }
}

impl From<TestRunCreate> for evidence::TestRun {
    fn from(run: TestRunCreate) -> Self {
        Self {
            id: run.id,
            appliance: run.appliance_id,
            work_order: run.work_order_id,
            visit: run.visit_id,
            procedure: domain::procedure::ProcedureVersion {
                key: run.procedure.key,
                version: run.procedure.version,
            },
            phase: run.phase,
            epoch: 0,
            device_id: run.device_id,
            sequence: run.sequence,
            taken_at: run.taken_at,
            conditions: run.conditions.into(),
            readings: run.readings.into_iter().map(Into::into).collect(),
            not_tested: run.not_tested,
            interlock_defeat: run.interlock_defeat_id,
            supersedes: run.supersedes_id,
            retraction_reason: run.retraction_reason,
        }
    }
}

impl From<StoredRun> for TestRun {
    fn from(stored: StoredRun) -> Self {
        let run = stored.run;
        Self {
            id: run.id,
            appliance_id: run.appliance,
            work_order_id: run.work_order,
            visit_id: run.visit,
            procedure: ProcedureVersion { key: run.procedure.key, version: run.procedure.version },
            phase: run.phase,
            epoch: run.epoch,
            device_id: run.device_id,
            sequence: run.sequence,
            taken_at: run.taken_at,
            clock_correction_seconds: stored.clock_correction_microseconds as f64 / 1e6,
            received_at: stored.received_at,
            taken_by: stored.taken_by,
            late: stored.late,
            conditions: run.conditions.into(),
            readings: run.readings.into_iter().map(Into::into).collect(),
            not_tested: run.not_tested,
            interlock_defeat_id: run.interlock_defeat,
            supersedes_id: run.supersedes,
            superseded_by_id: stored.superseded_by,
            moved_from_id: stored.moved_from,
            retraction_reason: run.retraction_reason,
        }
    }
}
