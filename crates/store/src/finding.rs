//! Findings: what a person confirmed of a position. Never changed; a correction supersedes.

use chrono::{DateTime, Utc};
use domain::id::{ApplianceId, FindingId, PersonId, SiteId, TestRunId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use serde::Serialize;
use uuid::Uuid;

use crate::creation::create;
use crate::error::{Readable, stored, stored_option};
use crate::{Creation, Database, StoreError, UnitOfWork};

#[derive(Debug, Clone, Serialize)]
pub struct NewFinding {
    pub id: FindingId,
    pub work_order: WorkOrderId,
    pub position: Key,
    /// A version of a fault of the appliance's model.
    pub fault: Option<(Key, u32)>,
    /// `ok`, `degraded`, `failed`, `inconclusive`, `not_tested`.
    pub finding: Key,
    pub failure_mode: Option<Key>,
    pub mechanism: Option<Key>,
    pub cause: Option<Key>,
    pub evidence: Key,
    pub note: Option<Words>,
    pub test_runs: Vec<TestRunId>,
    pub found_at: Timestamp,
    pub supersedes: Option<FindingId>,
    pub retraction_reason: Option<Words>,
}

#[derive(Debug, Clone)]
pub struct Finding {
    pub id: FindingId,
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
    pub position: Key,
    pub fault_model: Option<Key>,
    pub fault_key: Option<Key>,
    pub fault_version: Option<i32>,
    pub finding: Key,
    pub failure_mode: Option<Key>,
    pub mechanism: Option<Key>,
    pub cause: Option<Key>,
    pub evidence: Key,
    pub note: Option<Words>,
    pub test_runs: Vec<TestRunId>,
    pub confirmed_by: PersonId,
    pub found_at: Timestamp,
    pub supersedes: Option<FindingId>,
    pub superseded_by: Option<FindingId>,
    pub retraction_reason: Option<Words>,
}

struct Row {
    id: Uuid,
    work_order_id: Uuid,
    appliance_id: Uuid,
    position: String,
    fault_model_key: Option<String>,
    fault_key: Option<String>,
    fault_version: Option<i32>,
    finding: String,
    failure_mode: Option<String>,
    mechanism: Option<String>,
    cause: Option<String>,
    evidence: String,
    note: Option<String>,
    test_runs: Vec<Uuid>,
    confirmed_by: Uuid,
    found_at: DateTime<Utc>,
    supersedes_id: Option<Uuid>,
    superseded_by: Option<Uuid>,
    retraction_reason: Option<String>,
}

impl TryFrom<Row> for Finding {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let id = row.id;
        let runs = row.test_runs.into_iter().map(|run| stored(run, "finding_test_run", "test_run_id", id));
        Ok(Self {
            id: stored(id, "finding", "id", id)?,
            work_order: stored(row.work_order_id, "finding", "work_order_id", id)?,
            appliance: stored(row.appliance_id, "finding", "appliance_id", id)?,
            position: stored(row.position, "finding", "position", id)?,
            fault_model: stored_option(row.fault_model_key, "finding", "fault_model_key", id)?,
            fault_key: stored_option(row.fault_key, "finding", "fault_key", id)?,
            fault_version: row.fault_version,
            finding: stored(row.finding, "finding", "finding", id)?,
            failure_mode: stored_option(row.failure_mode, "finding", "failure_mode", id)?,
            mechanism: stored_option(row.mechanism, "finding", "mechanism", id)?,
            cause: stored_option(row.cause, "finding", "cause", id)?,
            evidence: stored(row.evidence, "finding", "evidence", id)?,
            note: stored_option(row.note, "finding", "note", id)?,
            test_runs: runs.collect::<Result<_, _>>()?,
            confirmed_by: stored(row.confirmed_by, "finding", "confirmed_by", id)?,
            found_at: stored(row.found_at, "finding", "found_at", id)?,
            supersedes: stored_option(row.supersedes_id, "finding", "supersedes_id", id)?,
            superseded_by: stored_option(row.superseded_by, "finding", "id", id)?,
            retraction_reason: stored_option(row.retraction_reason, "finding", "retraction_reason", id)?,
        })
    }
}

macro_rules! findings {
    ($connection:expr, $condition:literal, $parameter:expr) => {
        sqlx::query_as!(
            Row,
            r#"SELECT f.id AS "id!", f.work_order_id AS "work_order_id!", f.appliance_id AS "appliance_id!",
                   f.position AS "position!", f.fault_model_key, f.fault_key, f.fault_version, f.finding AS "finding!",
                   f.failure_mode, f.mechanism, f.cause, f.evidence AS "evidence!", f.note,
                   f.confirmed_by AS "confirmed_by!", f.found_at AS "found_at!",
                   f.supersedes_id, s.id AS "superseded_by?", f.retraction_reason,
                   ARRAY(SELECT test_run_id FROM finding_test_run WHERE finding_id = f.id ORDER BY 1) AS "test_runs!"
               FROM finding f LEFT JOIN finding s ON s.supersedes_id = f.id WHERE "# + $condition,
            $parameter
        )
        .fetch_all($connection)
        .await?
        .into_iter()
        .map(Finding::try_from)
        .readable::<Vec<_>>()?
    };
}

pub async fn insert(
    unit: &mut UnitOfWork,
    new: &NewFinding,
    appliance: ApplianceId,
    confirmed_by: PersonId,
    hash: &[u8],
) -> Result<Creation, StoreError> {
    let now = unit.now().instant();
    let creation = create!(
        unit,
        new.id.uuid(),
        hash,
        "SELECT body_sha256 FROM finding WHERE id = $1",
        sqlx::query!(
            "INSERT INTO finding (id, work_order_id, appliance_id, position, fault_key, fault_version, finding,
                 failure_mode, mechanism, cause, evidence, note, confirmed_by, found_at, supersedes_id,
                 retraction_reason, body_sha256, created_at, fault_model_key)
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18,
                 (SELECT model_key FROM appliance WHERE id = $3 AND $5::text IS NOT NULL))
             ON CONFLICT (id) DO NOTHING",
            new.id.uuid(),
            new.work_order.uuid(),
            appliance.uuid(),
            new.position.as_str(),
            new.fault.as_ref().map(|(key, _)| key.as_str()),
            new.fault.as_ref().map(|(_, version)| version.cast_signed()),
            new.finding.as_str(),
            new.failure_mode.as_ref().map(Key::as_str),
            new.mechanism.as_ref().map(Key::as_str),
            new.cause.as_ref().map(Key::as_str),
            new.evidence.as_str(),
            new.note.as_ref().map(Words::as_str),
            confirmed_by.uuid(),
            new.found_at.instant(),
            new.supersedes.map(FindingId::uuid),
            new.retraction_reason.as_ref().map(Words::as_str),
            hash,
            now,
        )
    );
    if creation == Creation::Created {
        let runs: Vec<Uuid> = new.test_runs.iter().map(|run| run.uuid()).collect();
        sqlx::query!(
            "INSERT INTO finding_test_run (finding_id, test_run_id, appliance_id)
             SELECT DISTINCT $1::uuid, run, $3::uuid FROM UNNEST($2::uuid[]) AS r (run)",
            new.id.uuid(),
            &runs,
            appliance.uuid()
        )
        .execute(unit.connection())
        .await?;
    }
    Ok(creation)
}

/// Counts a confirmed fault in the summary, or takes it out again (`by` of -1).
pub async fn count(
    unit: &mut UnitOfWork,
    site: SiteId,
    finding: &Finding,
    by: i32,
) -> Result<(), StoreError> {
    let Some(failure_mode) = &finding.failure_mode else { return Ok(()) };
    let is_fault = matches!(finding.finding.as_str(), "degraded" | "failed");
    if !is_fault || finding.retraction_reason.is_some() {
        return Ok(());
    }
    sqlx::query!(
        "INSERT INTO fault_count_day AS c (site_id, appliance_id, position, failure_mode, day, findings)
         VALUES ($1, $2, $3, $4, ($5::timestamptz AT TIME ZONE 'UTC')::date, greatest($6, 0))
         ON CONFLICT (site_id, appliance_id, position, failure_mode, day)
         DO UPDATE SET findings = c.findings + $6",
        site.uuid(),
        finding.appliance.uuid(),
        finding.position.as_str(),
        failure_mode.as_str(),
        finding.found_at.instant(),
        by
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

pub async fn get(unit: &mut UnitOfWork, id: FindingId) -> Result<Option<Finding>, StoreError> {
    Ok(findings!(unit.connection(), "f.id = $1", id.uuid()).pop())
}

/// All findings of an order, superseded ones among them, oldest first.
pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<Finding>, StoreError> {
    Ok(findings!(database.pool(), "f.work_order_id = $1 ORDER BY f.found_at, f.id", order.uuid()))
}

/// Those after an id, by id: what a walk over all of them reads.
pub(crate) async fn walk(database: &Database, after: Uuid, limit: i64) -> Result<Vec<Uuid>, StoreError> {
    let ids = sqlx::query_scalar!("SELECT id FROM finding WHERE id > $1 ORDER BY id LIMIT $2", after, limit)
        .fetch_all(database.pool())
        .await?;
    findings!(database.pool(), "f.id = ANY($1)", &ids);
    Ok(ids)
}
