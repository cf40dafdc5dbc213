//! A wrong unit put right: what was read and found under an order goes to the right machine. The rows on the wrong one stay,
//! superseded.

use std::collections::{BTreeMap, HashSet};

use domain::id::{ApplianceId, FindingId, MachineCorrectionId, PersonId, TestRunId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::stored;
use crate::{Creation, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewMachineCorrection {
    pub id: MachineCorrectionId,
    pub work_order: WorkOrderId,
    pub to: ApplianceId,
    pub why: Words,
}

#[derive(Debug, Clone)]
pub struct MachineCorrection {
    pub id: MachineCorrectionId,
    pub work_order: WorkOrderId,
    pub from: ApplianceId,
    pub to: ApplianceId,
    pub why: Words,
    pub corrected_by: PersonId,
    pub corrected_at: Timestamp,
}

/// The hash of the correction that is stored under this id.
pub async fn known_hash(
    unit: &mut UnitOfWork,
    id: MachineCorrectionId,
) -> Result<Option<Vec<u8>>, StoreError> {
    Ok(sqlx::query_scalar!("SELECT body_sha256 FROM machine_correction WHERE id = $1", id.uuid())
        .fetch_optional(unit.connection())
        .await?)
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewMachineCorrection,
    from: ApplianceId,
    corrected_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    Ok(create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM machine_correction WHERE id = $1",
        sqlx::query!(
            "INSERT INTO machine_correction (id, work_order_id, from_appliance, to_appliance, why, corrected_by,
                 corrected_at, body_sha256)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            from.uuid(),
            new.to.uuid(),
            new.why.as_str(),
            corrected_by.uuid(),
            now,
            hash,
        )
    ))
}

pub async fn get(
    unit: &mut UnitOfWork,
    id: MachineCorrectionId,
) -> Result<Option<MachineCorrection>, StoreError> {
    let row = sqlx::query!(
        "SELECT id, work_order_id, from_appliance, to_appliance, why, corrected_by, corrected_at
         FROM machine_correction WHERE id = $1",
        id.uuid()
    )
    .fetch_optional(unit.connection())
    .await?;
    row.map(|row| {
        const TABLE: &str = "machine_correction";
        Ok(MachineCorrection {
            id: stored(row.id, TABLE, "id", row.id)?,
            work_order: stored(row.work_order_id, TABLE, "work_order_id", row.id)?,
            from: stored(row.from_appliance, TABLE, "from_appliance", row.id)?,
            to: stored(row.to_appliance, TABLE, "to_appliance", row.id)?,
            why: stored(row.why, TABLE, "why", row.id)?,
            corrected_by: stored(row.corrected_by, TABLE, "corrected_by", row.id)?,
            corrected_at: stored(row.corrected_at, TABLE, "corrected_at", row.id)?,
        })
    })
    .transpose()
}

/// The machines from which an order was moved.
pub(crate) async fn moved_from(
    unit: &mut UnitOfWork,
    order: Uuid,
) -> Result<HashSet<ApplianceId>, StoreError> {
    let from =
        sqlx::query_scalar!("SELECT from_appliance FROM machine_correction WHERE work_order_id = $1", order)
            .fetch_all(unit.connection())
            .await?;
    from.into_iter().map(|from| stored(from, "machine_correction", "from_appliance", order)).collect()
}

/// Supersedes every standing run of an order on one machine by the same on another: words, clock and taker are kept.
/// Returns which run took the place of which.
pub async fn move_runs(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    from: ApplianceId,
    to: ApplianceId,
) -> Result<BTreeMap<TestRunId, TestRunId>, StoreError> {
    let old = sqlx::query_scalar!(
        "SELECT id FROM test_run t WHERE work_order_id = $1 AND appliance_id = $2 AND retraction_reason IS NULL
             AND NOT EXISTS (SELECT FROM test_run s WHERE s.supersedes_id = t.id) ORDER BY id",
        order.uuid(),
        from.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    let new: Vec<Uuid> = old.iter().map(|_| unit.next_id()).collect();
    sqlx::query!(
        "INSERT INTO test_run (id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase, device_id,
             sequence, taken_at, clock_correction, received_at, taken_by, late, supersedes_id, payload, body_sha256, moved_from)
         SELECT m.new, $3, t.work_order_id, t.visit_id, t.procedure_key, t.procedure_version, t.phase, t.device_id,
             t.sequence, t.taken_at, t.clock_correction, t.received_at, t.taken_by, t.late, t.id, t.payload, t.body_sha256,
             t.appliance_id
         FROM UNNEST($1::uuid[], $2::uuid[]) AS m (old, new) JOIN test_run t ON t.id = m.old ORDER BY m.new",
        &old,
        &new,
        to.uuid()
    )
    .execute(unit.connection())
    .await?;
    sqlx::query!(
        "INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value,
             standard_uncertainty, censored, choice, series, times, detail)
         SELECT m.new, r.step, r.quantity, r.as_read, r.as_read_value, r.as_read_unit, r.value, r.standard_uncertainty,
             r.censored, r.choice, r.series, r.times, r.detail
         FROM UNNEST($1::uuid[], $2::uuid[]) AS m (old, new) JOIN reading r ON r.test_run_id = m.old",
        &old,
        &new
    )
    .execute(unit.connection())
    .await?;
    old.into_iter()
        .zip(new)
        .map(|(old, new)| Ok((stored(old, "test_run", "id", old)?, stored(new, "test_run", "id", new)?)))
        .collect()
}

/// The same for the standing findings; a fault that the right machine's model does not have is left out of what was found.
pub async fn move_findings(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    (from, to): (ApplianceId, ApplianceId),
    runs: &BTreeMap<TestRunId, TestRunId>,
) -> Result<Vec<(FindingId, FindingId)>, StoreError> {
    let old = sqlx::query_scalar!(
        "SELECT id FROM finding f WHERE work_order_id = $1 AND appliance_id = $2 AND retraction_reason IS NULL
             AND NOT EXISTS (SELECT FROM finding s WHERE s.supersedes_id = f.id) ORDER BY id",
        order.uuid(),
        from.uuid()
    )
    .fetch_all(unit.connection())
    .await?;
    let (now, new): (_, Vec<Uuid>) = (unit.now().instant(), old.iter().map(|_| unit.next_id()).collect());
    sqlx::query!(
        "INSERT INTO finding (id, work_order_id, appliance_id, position, fault_model_key, fault_key, fault_version, finding,
             failure_mode, mechanism, cause, evidence, note, confirmed_by, found_at, supersedes_id, body_sha256, created_at)
         SELECT m.new, f.work_order_id, a.id, f.position, k.model_key, k.key, k.version, f.finding, f.failure_mode,
             f.mechanism, f.cause, f.evidence, f.note, f.confirmed_by, f.found_at, f.id, f.body_sha256, $4
         FROM UNNEST($1::uuid[], $2::uuid[]) AS m (old, new) JOIN finding f ON f.id = m.old
             JOIN appliance a ON a.id = $3
             LEFT JOIN fault k ON k.model_key = a.model_key AND k.key = f.fault_key AND k.version = f.fault_version
                 AND f.fault_model_key = a.model_key
         ORDER BY m.new",
        &old,
        &new,
        to.uuid(),
        now
    )
    .execute(unit.connection())
    .await?;
    let (old_runs, new_runs): (Vec<Uuid>, Vec<Uuid>) =
        runs.iter().map(|(old, new)| (old.uuid(), new.uuid())).unzip();
    sqlx::query!(
        "INSERT INTO finding_test_run (finding_id, test_run_id, appliance_id)
         SELECT m.new, r.new, $5 FROM UNNEST($1::uuid[], $2::uuid[]) AS m (old, new)
             JOIN finding_test_run x ON x.finding_id = m.old
             JOIN UNNEST($3::uuid[], $4::uuid[]) AS r (old, new) ON r.old = x.test_run_id",
        &old,
        &new,
        &old_runs,
        &new_runs,
        to.uuid()
    )
    .execute(unit.connection())
    .await?;
    old.into_iter()
        .zip(new)
        .map(|(old, new)| Ok((stored(old, "finding", "id", old)?, stored(new, "finding", "id", new)?)))
        .collect()
}
