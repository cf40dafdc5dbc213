//! Reads runs back as the domain's evidence, each in its epoch.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, TimeDelta, Utc};
use domain::evidence::{Censored, Conditions, Instrument, Measured, Reading, Repeats, Series, TestRun};
use domain::id::{ApplianceId, InterlockDefeatId, PersonId, SiteId, TestRunId, WorkOrderId};
use domain::procedure::ProcedureVersion;
use domain::quantity::{AsRead, HardnessScale};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::vocabulary::Action;
use serde::{Deserialize, Serialize};
use sqlx::PgConnection;
use uuid::Uuid;

use super::ApplianceContext;
use crate::error::{Readable, stored, stored_json, stored_option};
use crate::{Database, ReadScope, StoreError, UnitOfWork};

/// A run as it stands in the store.
#[derive(Debug, Clone)]
pub struct StoredRun {
    /// With its epoch, and `taken_at` corrected.
    pub run: TestRun,
    pub received_at: Timestamp,
    pub taken_by: PersonId,
    /// Came when its order had ended.
    pub late: bool,
    pub clock_correction_microseconds: i64,
    /// The run that corrects or retracts it.
    pub superseded_by: Option<TestRunId>,
    /// The machine that its sender named, where its order was moved from it.
    pub moved_from: Option<ApplianceId>,
}

/// What of a run has no column of its own.
#[derive(Serialize, Deserialize)]
pub(crate) struct Payload {
    pub conditions: Conditions,
    pub not_tested: BTreeMap<Key, Words>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interlock_defeat: Option<InterlockDefeatId>,
}

impl Payload {
    pub(crate) fn of(run: &TestRun) -> Self {
        Self {
            conditions: run.conditions.clone(),
            not_tested: run.not_tested.clone(),
            interlock_defeat: run.interlock_defeat,
        }
    }
}

/// What of a reading has no column of its own.
#[derive(Serialize, Deserialize)]
pub(crate) struct Detail {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<Instrument>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    repeats: Option<Repeats>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    hardness_scale: Option<HardnessScale>,
}

impl Detail {
    pub(crate) fn of(reading: &Reading) -> Option<Self> {
        let value = reading.value.as_ref();
        let of_series = reading.series.as_ref().and_then(|series| series.instrument.clone());
        let detail = Self {
            instrument: value.and_then(|value| value.instrument.clone()).or(of_series),
            repeats: value.and_then(|value| value.repeats),
            hardness_scale: value.and_then(|value| value.as_read.hardness_scale),
        };
        let has_any =
            detail.instrument.is_some() || detail.repeats.is_some() || detail.hardness_scale.is_some();
        has_any.then_some(detail)
    }
}

struct RunRow {
    id: Uuid,
    appliance_id: Uuid,
    work_order_id: Option<Uuid>,
    visit_id: Option<Uuid>,
    procedure_key: String,
    procedure_version: i32,
    phase: String,
    device_id: String,
    sequence: i64,
    taken_at: DateTime<Utc>,
    clock_correction: i64,
    received_at: DateTime<Utc>,
    taken_by: Uuid,
    late: bool,
    supersedes_id: Option<Uuid>,
    retraction_reason: Option<String>,
    payload: serde_json::Value,
    superseded_by: Option<Uuid>,
    moved_from: Option<Uuid>,
}

macro_rules! runs {
    ($connection:expr, $condition:literal, $($parameter:expr),+) => {
        sqlx::query_as!(
            RunRow,
            r#"SELECT t.id AS "id!", t.appliance_id AS "appliance_id!", t.work_order_id, t.visit_id,
                   t.procedure_key AS "procedure_key!", t.procedure_version AS "procedure_version!", t.phase AS "phase!",
                   t.device_id AS "device_id!", t.sequence AS "sequence!", t.taken_at AS "taken_at!",
                   t.clock_correction AS "clock_correction!", t.received_at AS "received_at!",
                   t.taken_by AS "taken_by!", t.late AS "late!", t.supersedes_id, t.retraction_reason,
                   t.payload AS "payload!", s.id AS "superseded_by?", t.moved_from
               FROM test_run t LEFT JOIN test_run s ON s.supersedes_id = t.id
               WHERE "# + $condition,
            $($parameter),+
        )
        .fetch_all(&mut *$connection)
        .await?
    };
}

/// All runs of an order, corrections and retractions among them.
pub async fn of_order(database: &Database, order: WorkOrderId) -> Result<Vec<StoredRun>, StoreError> {
    load_order(&mut *database.pool().acquire().await?, order).await
}

async fn load_order(connection: &mut PgConnection, order: WorkOrderId) -> Result<Vec<StoredRun>, StoreError> {
    let rows = runs!(connection, "t.work_order_id = $1", order.uuid());
    assemble(connection, rows).await
}

/// Everything from which an order's verdicts follow, as it stands at one moment.
#[derive(Debug, Clone)]
pub struct OrderEvidence {
    pub evidence_version: i64,
    /// Which machine the order is about; unknown until somebody on site has confirmed it.
    pub appliance: Option<(ApplianceId, ApplianceContext)>,
    /// All runs, corrections and retractions among them.
    pub runs: Vec<StoredRun>,
    /// How many actions have changed the machine so far.
    pub epoch: u32,
}

/// An order's evidence, if the scope shows the order.
pub async fn order_evidence(
    database: &Database,
    scope: &ReadScope,
    order: WorkOrderId,
) -> Result<Option<OrderEvidence>, StoreError> {
    load_evidence(&mut *database.pool().acquire().await?, scope, order).await
}

/// [`order_evidence`] as it stands in a unit of work.
pub async fn order_evidence_within(
    unit: &mut UnitOfWork,
    scope: &ReadScope,
    order: WorkOrderId,
) -> Result<Option<OrderEvidence>, StoreError> {
    load_evidence(unit.connection(), scope, order).await
}

async fn load_evidence(
    connection: &mut PgConnection,
    scope: &ReadScope,
    order: WorkOrderId,
) -> Result<Option<OrderEvidence>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT work_order.evidence_version, appliance.id AS "appliance_id?", appliance.site_id AS "site_id?",
               appliance.model_key AS "model_key?", appliance.model_version AS "model_version?",
               appliance.limits AS "limits?"
           FROM work_order LEFT JOIN appliance ON appliance.id = coalesce(work_order.appliance_id,
               (SELECT appliance_id FROM test_run WHERE work_order_id = work_order.id ORDER BY id LIMIT 1))
           WHERE work_order.id = $1 AND ($2::uuid IS NULL OR EXISTS (
               SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.work_order_id = $1))"#,
        order.uuid(),
        scope.person()
    )
    .fetch_optional(&mut *connection)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let appliance = match (row.appliance_id, row.site_id, row.model_key, row.model_version, row.limits) {
        (Some(id), Some(site), Some(model_key), Some(version), Some(limits)) => Some((
            stored(id, "appliance", "id", id)?,
            ApplianceContext {
                site: stored(site, "appliance", "site_id", id)?,
                model_key,
                model_version: version.cast_unsigned(),
                limits: stored_json(limits, "appliance", "limits", id)?,
            },
        )),
        _ => None,
    };
    let epochs = epochs_of(connection, &[order.uuid()]).await?;
    let epoch = epochs.get(&order.uuid()).map_or(0, Vec::len);
    Ok(Some(OrderEvidence {
        evidence_version: row.evidence_version,
        appliance,
        runs: load_order(connection, order).await?,
        epoch: u32::try_from(epoch).unwrap_or(u32::MAX),
    }))
}

/// Runs of an appliance without an order, taken within `within` of an instant: what belongs together
/// when a technician reads a machine without having been called.
pub async fn of_appliance_around(
    database: &Database,
    appliance: ApplianceId,
    around: Timestamp,
    within: TimeDelta,
) -> Result<Vec<StoredRun>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let rows = runs!(
        connection,
        "t.appliance_id = $1 AND t.work_order_id IS NULL AND t.taken_at BETWEEN $2 AND $3",
        appliance.uuid(),
        around.instant() - within,
        around.instant() + within
    );
    assemble(&mut connection, rows).await
}

pub async fn one(
    database: &Database,
    scope: &ReadScope,
    id: TestRunId,
) -> Result<Option<StoredRun>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let rows = runs!(
        connection,
        "t.id = $1 AND ($2::uuid IS NULL OR t.taken_by = $2 OR EXISTS (
             SELECT FROM assignment WHERE assignment.person_id = $2 AND assignment.appliance_id = t.appliance_id))",
        id.uuid(),
        scope.person()
    );
    Ok(assemble(&mut connection, rows).await?.pop())
}

/// Runs of an appliance that still stand, taken before an instant and not in this order, newest first.
pub async fn standing_before(
    database: &Database,
    appliance: ApplianceId,
    before: Timestamp,
    not_in: Option<WorkOrderId>,
) -> Result<Vec<StoredRun>, StoreError> {
    load_standing(&mut *database.pool().acquire().await?, appliance, before, not_in).await
}

/// [`standing_before`] as it stands in a unit of work.
pub async fn standing_before_within(
    unit: &mut UnitOfWork,
    appliance: ApplianceId,
    before: Timestamp,
    not_in: Option<WorkOrderId>,
) -> Result<Vec<StoredRun>, StoreError> {
    load_standing(unit.connection(), appliance, before, not_in).await
}

/// As many as a unit's healthy readings are looked for in.
const LOOK_BACK: i64 = 500;

async fn load_standing(
    connection: &mut PgConnection,
    appliance: ApplianceId,
    before: Timestamp,
    not_in: Option<WorkOrderId>,
) -> Result<Vec<StoredRun>, StoreError> {
    let rows = runs!(
        connection,
        "t.appliance_id = $1 AND t.taken_at < $2
             AND ($3::uuid IS NULL OR t.work_order_id IS DISTINCT FROM $3)
             AND t.retraction_reason IS NULL AND s.id IS NULL
         ORDER BY t.taken_at DESC, t.id DESC LIMIT $4",
        appliance.uuid(),
        before.instant(),
        not_in.map(WorkOrderId::uuid),
        LOOK_BACK
    );
    assemble(connection, rows).await
}

/// The runs after an id, by id: what a walk over all of them reads.
pub(crate) async fn walk(database: &Database, after: Uuid, limit: i64) -> Result<Vec<Uuid>, StoreError> {
    let ids = sqlx::query_scalar!("SELECT id FROM test_run WHERE id > $1 ORDER BY id LIMIT $2", after, limit)
        .fetch_all(database.pool())
        .await?;
    let mut connection = database.pool().acquire().await?;
    let rows = runs!(connection, "t.id = ANY($1)", &ids);
    assemble(&mut connection, rows).await?;
    Ok(ids)
}

/// Runs that still stand, of these procedures, by the other machines of the appliance's kitchen, taken
/// within an interval.
pub async fn of_neighbours(
    database: &Database,
    site: SiteId,
    not_of: ApplianceId,
    procedures: &[String],
    taken: (DateTime<Utc>, DateTime<Utc>),
) -> Result<Vec<StoredRun>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let rows = runs!(
        connection,
        "t.appliance_id IN (SELECT id FROM appliance WHERE site_id = $1 AND id <> $2)
             AND t.procedure_key = ANY($3) AND t.taken_at BETWEEN $4 AND $5
             AND t.retraction_reason IS NULL AND s.id IS NULL
         ORDER BY t.taken_at, t.id",
        site.uuid(),
        not_of.uuid(),
        procedures,
        taken.0,
        taken.1
    );
    assemble(&mut connection, rows).await
}

/// As many of one appliance's runs as are looked at together.
const WHOLE_PAST: i64 = 10_000;

/// The runs of an appliance, corrections and retractions among them, newest first.
pub async fn of_appliance(database: &Database, appliance: ApplianceId) -> Result<Vec<StoredRun>, StoreError> {
    let mut connection = database.pool().acquire().await?;
    let rows = runs!(
        connection,
        "t.appliance_id = $1 ORDER BY t.taken_at DESC, t.id DESC LIMIT $2",
        appliance.uuid(),
        WHOLE_PAST
    );
    assemble(&mut connection, rows).await
}

/// All runs of some appliances that had arrived by an instant, corrections and retractions among them.
pub async fn of_appliances_within(
    unit: &mut UnitOfWork,
    appliances: &[ApplianceId],
    arrived_by: Timestamp,
) -> Result<Vec<StoredRun>, StoreError> {
    let appliances: Vec<Uuid> = appliances.iter().map(|id| id.uuid()).collect();
    let connection = unit.connection();
    let rows = runs!(
        connection,
        "t.appliance_id = ANY($1) AND t.received_at <= $2 ORDER BY t.appliance_id, t.taken_at DESC, t.id DESC",
        &appliances,
        arrived_by.instant()
    );
    assemble(connection, rows).await
}

async fn assemble(connection: &mut PgConnection, rows: Vec<RunRow>) -> Result<Vec<StoredRun>, StoreError> {
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let orders: Vec<Uuid> = rows.iter().filter_map(|row| row.work_order_id).collect();
    let mut readings = readings_of(connection, &ids).await?;
    let epochs = epochs_of(connection, &orders).await?;
    rows.into_iter()
        .map(|row| {
            let readings = readings.remove(&row.id).unwrap_or_default();
            let starts =
                row.work_order_id.and_then(|order| epochs.get(&order)).map_or(&[][..], Vec::as_slice);
            stored_run(row, readings, starts)
        })
        .readable()
}

/// When each order's epochs began: at every action that changed the machine.
async fn epochs_of(
    connection: &mut PgConnection,
    orders: &[Uuid],
) -> Result<HashMap<Uuid, Vec<DateTime<Utc>>>, StoreError> {
    let rows = sqlx::query!(
        "SELECT work_order_id, action, taken_at FROM action_taken WHERE work_order_id = ANY($1) ORDER BY taken_at",
        orders
    )
    .fetch_all(connection)
    .await?;
    let mut epochs: HashMap<Uuid, Vec<DateTime<Utc>>> = HashMap::new();
    for row in rows {
        // A company's own action is taken to change the machine.
        if row.action.parse::<Action>().map_or(true, Action::changes_the_machine) {
            epochs.entry(row.work_order_id).or_default().push(row.taken_at);
        }
    }
    Ok(epochs)
}

fn stored_run(
    row: RunRow,
    readings: Vec<Reading>,
    epoch_starts: &[DateTime<Utc>],
) -> Result<StoredRun, StoreError> {
    let id = row.id;
    let clock_said: Timestamp = stored(row.taken_at, "test_run", "taken_at", id)?;
    let taken_at = clock_said.moved(row.clock_correction).map_err(|reason| StoreError::BadRow {
        table: "test_run",
        column: "clock_correction",
        row: id.to_string(),
        reason: reason.to_string(),
    })?;
    let payload: Payload = stored_json(row.payload, "test_run", "payload", id)?;
    // What was taken at the action's own instant was not taken after it.
    let epoch = epoch_starts.iter().filter(|start| **start < taken_at.instant()).count();
    let run = TestRun {
        id: stored(id, "test_run", "id", id)?,
        appliance: stored(row.appliance_id, "test_run", "appliance_id", id)?,
        work_order: stored_option(row.work_order_id, "test_run", "work_order_id", id)?,
        visit: stored_option(row.visit_id, "test_run", "visit_id", id)?,
        procedure: ProcedureVersion {
            key: stored(row.procedure_key, "test_run", "procedure_key", id)?,
            version: row.procedure_version.cast_unsigned(),
        },
        phase: stored(row.phase, "test_run", "phase", id)?,
        epoch: u32::try_from(epoch).unwrap_or(u32::MAX),
        device_id: stored(row.device_id, "test_run", "device_id", id)?,
        sequence: row.sequence.cast_unsigned(),
        taken_at,
        conditions: payload.conditions,
        readings,
        not_tested: payload.not_tested,
        interlock_defeat: payload.interlock_defeat,
        supersedes: stored_option(row.supersedes_id, "test_run", "supersedes_id", id)?,
        retraction_reason: stored_option(row.retraction_reason, "test_run", "retraction_reason", id)?,
    };
    Ok(StoredRun {
        run,
        received_at: stored(row.received_at, "test_run", "received_at", id)?,
        taken_by: stored(row.taken_by, "test_run", "taken_by", id)?,
        late: row.late,
        clock_correction_microseconds: row.clock_correction,
        superseded_by: stored_option(row.superseded_by, "test_run", "id", id)?,
        moved_from: stored_option(row.moved_from, "test_run", "moved_from", id)?,
    })
}

struct ReadingRow {
    test_run_id: Uuid,
    step: String,
    as_read: Option<String>,
    as_read_value: Option<f64>,
    as_read_unit: Option<String>,
    standard_uncertainty: Option<f64>,
    censored: Option<String>,
    choice: Option<String>,
    series: Option<Vec<f64>>,
    times: Option<Vec<f64>>,
    detail: Option<serde_json::Value>,
}

async fn readings_of(
    connection: &mut PgConnection,
    runs: &[Uuid],
) -> Result<HashMap<Uuid, Vec<Reading>>, StoreError> {
    let rows = sqlx::query_as!(
        ReadingRow,
        "SELECT test_run_id, step, as_read, as_read_value, as_read_unit, standard_uncertainty, censored, choice,
             series, times, detail
         FROM reading WHERE test_run_id = ANY($1) ORDER BY test_run_id, step",
        runs
    )
    .fetch_all(connection)
    .await?;
    let mut readings: HashMap<Uuid, Vec<Reading>> = HashMap::new();
    for (run, reading) in
        rows.into_iter().map(|row| Ok((row.test_run_id, reading_of(row)?))).readable::<Vec<_>>()?
    {
        readings.entry(run).or_default().push(reading);
    }
    Ok(readings)
}

fn reading_of(row: ReadingRow) -> Result<Reading, StoreError> {
    let id = row.test_run_id;
    let detail: Option<Detail> =
        row.detail.map(|detail| stored_json(detail, "reading", "detail", id)).transpose()?;
    let detail = detail.unwrap_or(Detail { instrument: None, repeats: None, hardness_scale: None });
    let unit = row.as_read_unit.unwrap_or_default();
    let value = match (row.as_read, row.as_read_value) {
        (Some(text), Some(value)) => Some(Measured {
            as_read: AsRead {
                text: stored(text, "reading", "as_read", id)?,
                value,
                unit: unit.clone(),
                hardness_scale: detail.hardness_scale,
            },
            standard_uncertainty: row.standard_uncertainty,
            censored: match row.censored.as_deref() {
                Some("at_least") => Some(Censored::AtLeast),
                Some(_) => Some(Censored::AtMost),
                None => None,
            },
            repeats: detail.repeats,
            instrument: detail.instrument.clone(),
        }),
        _ => None,
    };
    let series = match (row.series, row.times) {
        (Some(values), Some(times_s)) => {
            Some(Series { values, times_s, unit, instrument: detail.instrument })
        }
        _ => None,
    };
    Ok(Reading {
        step: stored(row.step, "reading", "step", id)?,
        value,
        choice: stored_option(row.choice, "reading", "choice", id)?,
        series,
    })
}
