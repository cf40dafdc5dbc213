//! Writes many runs with one statement a table, sorted by id so that retrying phones cannot deadlock.

use domain::evidence::{Censored, Measured, Reading, TestRun};
use domain::id::{ApplianceId, PersonId, TestRunId, VisitId, WorkOrderId};
use domain::quantity::QuantityKind;
use serde_json::{Value, json};
use sqlx::Connection;
use uuid::Uuid;

use crate::{StoreError, UnitOfWork};

/// A run that was checked, with its readings' quantities in the order of its readings.
#[derive(Debug, Clone)]
pub struct NewTestRun {
    pub run: TestRun,
    /// What each reading measures; `None` for a choice.
    pub quantities: Vec<Option<QuantityKind>>,
    pub clock_correction_microseconds: i64,
    pub taken_by: PersonId,
    pub late: bool,
    /// The machine that its sender named, where its order was moved from it since.
    pub moved_from: Option<ApplianceId>,
    pub sha256: Vec<u8>,
}

/// Columns of the rows to insert.
#[derive(Default)]
struct Runs {
    id: Vec<Uuid>,
    appliance: Vec<Uuid>,
    work_order: Vec<Option<Uuid>>,
    visit: Vec<Option<Uuid>>,
    procedure_key: Vec<String>,
    procedure_version: Vec<i32>,
    phase: Vec<String>,
    device: Vec<String>,
    sequence: Vec<i64>,
    taken_at: Vec<chrono::DateTime<chrono::Utc>>,
    correction: Vec<i64>,
    taken_by: Vec<Uuid>,
    late: Vec<bool>,
    supersedes: Vec<Option<Uuid>>,
    retraction_reason: Vec<Option<String>>,
    payload: Vec<Value>,
    moved_from: Vec<Option<Uuid>>,
    sha256: Vec<Vec<u8>>,
}

#[derive(Default)]
struct Readings {
    run: Vec<Uuid>,
    step: Vec<String>,
    quantity: Vec<Option<String>>,
    as_read: Vec<Option<String>>,
    as_read_value: Vec<Option<f64>>,
    as_read_unit: Vec<Option<String>>,
    value: Vec<Option<f64>>,
    uncertainty: Vec<Option<f64>>,
    censored: Vec<Option<String>>,
    choice: Vec<Option<String>>,
    /// Arrays of arrays must be rectangular in Postgres, so series travel as JSON.
    series: Vec<Option<Value>>,
    times: Vec<Option<Value>>,
    detail: Vec<Option<Value>>,
}

/// Inserts all of them, or none if a constraint refuses one.
pub async fn insert_all(unit: &mut UnitOfWork, runs: &[&NewTestRun]) -> Result<(), StoreError> {
    if runs.is_empty() {
        return Ok(());
    }
    let now = unit.now().instant();
    let mut savepoint = unit.connection().begin().await?;
    insert(&mut savepoint, runs, now).await?;
    savepoint.commit().await?;
    Ok(())
}

/// Inserts one after the other, each behind a savepoint; tells for each whether it was kept.
pub async fn insert_each(
    unit: &mut UnitOfWork,
    runs: &[&NewTestRun],
) -> Result<Vec<Result<(), StoreError>>, StoreError> {
    let now = unit.now().instant();
    let mut results = Vec::with_capacity(runs.len());
    for run in runs {
        let mut savepoint = unit.connection().begin().await?;
        match insert(&mut savepoint, std::slice::from_ref(run), now).await {
            Ok(()) => {
                savepoint.commit().await?;
                results.push(Ok(()));
            }
            Err(
                error @ (StoreError::Duplicate { .. }
                | StoreError::Dangling { .. }
                | StoreError::Refused { .. }),
            ) => {
                savepoint.rollback().await?;
                results.push(Err(error));
            }
            Err(error) => return Err(error),
        }
    }
    Ok(results)
}

/// Counts the evidence of these orders on, once for all runs of a batch.
pub async fn bump_evidence(unit: &mut UnitOfWork, orders: &[WorkOrderId]) -> Result<(), StoreError> {
    if orders.is_empty() {
        return Ok(());
    }
    let orders: Vec<Uuid> = orders.iter().map(|id| id.uuid()).collect();
    sqlx::query!("UPDATE work_order SET evidence_version = evidence_version + 1 WHERE id = ANY($1)", &orders)
        .execute(unit.connection())
        .await?;
    Ok(())
}

async fn insert(
    connection: &mut sqlx::PgConnection,
    runs: &[&NewTestRun],
    now: chrono::DateTime<chrono::Utc>,
) -> Result<(), StoreError> {
    let mut sorted = runs.to_vec();
    sorted.sort_by_key(|new| new.run.id);
    let (mut rows, mut readings) = (Runs::default(), Readings::default());
    for new in sorted {
        rows.push(new)?;
        for (reading, quantity) in new.run.readings.iter().zip(&new.quantities) {
            readings.push(new.run.id, reading, *quantity)?;
        }
    }
    sqlx::query!(
        "INSERT INTO test_run (id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase,
             device_id, sequence, taken_at, clock_correction, received_at, taken_by, late, supersedes_id,
             retraction_reason, payload, body_sha256, moved_from)
         SELECT id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase,
             device_id, sequence, taken_at, clock_correction, $18, taken_by, late, supersedes_id,
             retraction_reason, payload, body_sha256, moved_from
         FROM UNNEST($1::uuid[], $2::uuid[], $3::uuid[], $4::uuid[], $5::text[], $6::int[], $7::text[], $8::text[],
             $9::bigint[], $10::timestamptz[], $11::bigint[], $12::uuid[], $13::bool[], $14::uuid[], $15::text[],
             $16::jsonb[], $17::bytea[], $19::uuid[])
             AS r (id, appliance_id, work_order_id, visit_id, procedure_key, procedure_version, phase, device_id,
                 sequence, taken_at, clock_correction, taken_by, late, supersedes_id, retraction_reason, payload,
                 body_sha256, moved_from)",
        &rows.id,
        &rows.appliance,
        &rows.work_order as &[Option<Uuid>],
        &rows.visit as &[Option<Uuid>],
        &rows.procedure_key,
        &rows.procedure_version,
        &rows.phase,
        &rows.device,
        &rows.sequence,
        &rows.taken_at,
        &rows.correction,
        &rows.taken_by,
        &rows.late,
        &rows.supersedes as &[Option<Uuid>],
        &rows.retraction_reason as &[Option<String>],
        &rows.payload,
        &rows.sha256,
        now,
        &rows.moved_from as &[Option<Uuid>],
    )
    .execute(&mut *connection)
    .await?;
    sqlx::query!(
        "INSERT INTO reading (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value,
             standard_uncertainty, censored, choice, series, times, detail)
         SELECT test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value, standard_uncertainty,
             censored, choice,
             CASE WHEN series IS NOT NULL THEN ARRAY(SELECT jsonb_array_elements(series)::float8) END,
             CASE WHEN times IS NOT NULL THEN ARRAY(SELECT jsonb_array_elements(times)::float8) END, detail
         FROM UNNEST($1::uuid[], $2::text[], $3::text[], $4::text[], $5::float8[], $6::text[], $7::float8[],
             $8::float8[], $9::text[], $10::text[], $11::jsonb[], $12::jsonb[], $13::jsonb[])
             AS r (test_run_id, step, quantity, as_read, as_read_value, as_read_unit, value, standard_uncertainty,
                 censored, choice, series, times, detail)",
        &readings.run,
        &readings.step,
        &readings.quantity as &[Option<String>],
        &readings.as_read as &[Option<String>],
        &readings.as_read_value as &[Option<f64>],
        &readings.as_read_unit as &[Option<String>],
        &readings.value as &[Option<f64>],
        &readings.uncertainty as &[Option<f64>],
        &readings.censored as &[Option<String>],
        &readings.choice as &[Option<String>],
        &readings.series as &[Option<Value>],
        &readings.times as &[Option<Value>],
        &readings.detail as &[Option<Value>],
    )
    .execute(&mut *connection)
    .await?;
    Ok(())
}

/// The domain checked the run; a value that cannot be stored all the same is our fault, said loudly.
pub(crate) fn unstorable(run: TestRunId, reason: impl std::fmt::Display) -> StoreError {
    StoreError::BadRow {
        table: "test_run",
        column: "payload",
        row: run.to_string(),
        reason: reason.to_string(),
    }
}

impl Runs {
    fn push(&mut self, new: &NewTestRun) -> Result<(), StoreError> {
        let run = &new.run;
        let fail = |reason: &dyn std::fmt::Display| unstorable(run.id, reason);
        self.id.push(run.id.uuid());
        self.appliance.push(run.appliance.uuid());
        self.work_order.push(run.work_order.map(WorkOrderId::uuid));
        self.visit.push(run.visit.map(VisitId::uuid));
        self.procedure_key.push(run.procedure.key.to_string());
        self.procedure_version.push(i32::try_from(run.procedure.version).map_err(|error| fail(&error))?);
        self.phase.push(run.phase.to_string());
        self.device.push(run.device_id.to_string());
        self.sequence.push(i64::try_from(run.sequence).map_err(|error| fail(&error))?);
        self.taken_at.push(run.taken_at.instant());
        self.correction.push(new.clock_correction_microseconds);
        self.taken_by.push(new.taken_by.uuid());
        self.late.push(new.late);
        self.supersedes.push(run.supersedes.map(TestRunId::uuid));
        self.retraction_reason.push(run.retraction_reason.as_ref().map(ToString::to_string));
        let payload = super::load::Payload::of(run);
        self.payload.push(serde_json::to_value(payload).map_err(|error| fail(&error))?);
        self.moved_from.push(new.moved_from.map(ApplianceId::uuid));
        self.sha256.push(new.sha256.clone());
        Ok(())
    }
}

impl Readings {
    fn push(
        &mut self,
        run: TestRunId,
        reading: &Reading,
        quantity: Option<QuantityKind>,
    ) -> Result<(), StoreError> {
        let canonical = |value: &Measured| match quantity {
            Some(quantity) => value.as_read.canonical(quantity).map_err(|error| unstorable(run, error)),
            None => Err(unstorable(run, "a value without a quantity")),
        };
        let value = reading.value.as_ref();
        let series = reading.series.as_ref();
        self.run.push(run.uuid());
        self.step.push(reading.step.to_string());
        self.quantity.push(quantity.map(|quantity| quantity.key().to_owned()));
        self.as_read.push(value.map(|value| value.as_read.text.to_string()));
        self.as_read_value.push(value.map(|value| value.as_read.value));
        let unit = value.map(|value| &value.as_read.unit).or(series.map(|series| &series.unit));
        self.as_read_unit.push(unit.cloned());
        self.value.push(value.map(canonical).transpose()?);
        self.uncertainty.push(value.and_then(|value| value.standard_uncertainty));
        self.censored.push(value.and_then(|value| value.censored).map(|censored| match censored {
            Censored::AtLeast => "at_least".to_owned(),
            Censored::AtMost => "at_most".to_owned(),
        }));
        self.choice.push(reading.choice.as_ref().map(ToString::to_string));
        self.series.push(series.map(|series| json!(series.values)));
        self.times.push(series.map(|series| json!(series.times_s)));
        let detail = super::load::Detail::of(reading);
        self.detail
            .push(detail.map(serde_json::to_value).transpose().map_err(|error| unstorable(run, error))?);
        Ok(())
    }
}
