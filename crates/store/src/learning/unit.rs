//! What single appliances give to the references of a learning.

use domain::equipment::{Measurement, SeriesStatistic};
use domain::id::ApplianceId;
use domain::known_good::selection::{KnownGood, LeftOut};
use domain::known_good::variance_components::Within;
use domain::quantity::QuantityKind;
use domain::text::Key;
use serde_json::Value;
use uuid::Uuid;

use crate::error::{stored, stored_json, to_json};
use crate::{StoreError, UnitOfWork};

/// What one reference is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    pub model: Key,
    pub of: Measurement,
    pub quantity: QuantityKind,
}

/// What one appliance gives to it.
#[derive(Debug, Clone)]
pub struct UnitEvidence {
    pub group: Group,
    pub appliance: ApplianceId,
    /// The latest reading that counts, if any does.
    pub latest: Option<KnownGood>,
    /// Of all readings that count.
    pub within: Within,
    pub left_out: LeftOut,
}

/// What all appliances gave to one reference, by appliance.
#[derive(Debug, Clone, Default)]
pub struct GroupUnits {
    pub readings: Vec<KnownGood>,
    pub within: Vec<Within>,
    pub left_out: LeftOut,
}

/// A measurement that is no statistic of a series.
const NO_STATISTIC: &str = "";

pub async fn put(unit: &mut UnitOfWork, n: i64, units: &[UnitEvidence]) -> Result<(), StoreError> {
    let texts = |text: &dyn Fn(&UnitEvidence) -> &str| -> Vec<String> {
        units.iter().map(|unit| text(unit).to_owned()).collect()
    };
    let models = texts(&|unit| unit.group.model.as_str());
    let procedures = texts(&|unit| unit.group.of.procedure.as_str());
    let steps = texts(&|unit| unit.group.of.step.as_str());
    let statistics = texts(&|unit| unit.group.of.statistic.map_or(NO_STATISTIC, SeriesStatistic::key));
    let quantities = texts(&|unit| unit.group.quantity.key());
    let appliances: Vec<Uuid> = units.iter().map(|unit| unit.appliance.uuid()).collect();
    let latest = || units.iter().map(|unit| unit.latest);
    let runs: Vec<Option<Uuid>> = latest().map(|latest| Some(latest?.test_run.uuid())).collect();
    let taken: Vec<Option<_>> = latest().map(|latest| Some(latest?.taken_at.instant())).collect();
    let values: Vec<Option<f64>> = latest().map(|latest| Some(latest?.value)).collect();
    let squares: Vec<f64> = units.iter().map(|unit| unit.within.squares).collect();
    let degrees: Vec<i32> = units.iter().map(|unit| unit.within.degrees.cast_signed()).collect();
    let left_out =
        units.iter().map(|unit| to_json(&unit.left_out, "learning_unit", "left_out", unit.appliance));
    let left_out: Vec<Value> = left_out.collect::<Result<_, _>>()?;
    sqlx::query!(
        "INSERT INTO learning_unit (n, model_key, procedure_key, step, statistic, quantity, appliance_id, test_run_id,
             taken_at, value, squares, degrees, left_out)
         SELECT $1, * FROM UNNEST($2::text[], $3::text[], $4::text[], $5::text[], $6::text[], $7::uuid[], $8::uuid[],
             $9::timestamptz[], $10::float8[], $11::float8[], $12::int[], $13::jsonb[])",
        n,
        &models,
        &procedures,
        &steps,
        &statistics,
        &quantities,
        &appliances,
        &runs as &[Option<Uuid>],
        &taken as &[Option<chrono::DateTime<chrono::Utc>>],
        &values as &[Option<f64>],
        &squares,
        &degrees,
        &left_out,
    )
    .execute(unit.connection())
    .await?;
    Ok(())
}

/// Everything of which something was read, in a fixed order.
pub async fn groups(unit: &mut UnitOfWork, n: i64) -> Result<Vec<Group>, StoreError> {
    const TABLE: &str = "learning_unit";
    let rows = sqlx::query!(
        "SELECT model_key, procedure_key, step, statistic, min(quantity) AS quantity FROM learning_unit WHERE n = $1
         GROUP BY model_key, procedure_key, step, statistic ORDER BY model_key, procedure_key, step, statistic",
        n
    )
    .fetch_all(unit.connection())
    .await?;
    rows.into_iter()
        .map(|row| {
            let statistic = (row.statistic != NO_STATISTIC).then_some(Value::String(row.statistic));
            let of = Measurement {
                procedure: stored(row.procedure_key, TABLE, "procedure_key", n)?,
                step: stored(row.step, TABLE, "step", n)?,
                statistic: statistic.map(|word| stored_json(word, TABLE, "statistic", n)).transpose()?,
            };
            let quantity = Value::String(row.quantity.unwrap_or_default());
            Ok(Group {
                model: stored(row.model_key, TABLE, "model_key", n)?,
                of,
                quantity: stored_json(quantity, TABLE, "quantity", n)?,
            })
        })
        .collect()
}

pub async fn units(unit: &mut UnitOfWork, n: i64, group: &Group) -> Result<GroupUnits, StoreError> {
    const TABLE: &str = "learning_unit";
    let rows = sqlx::query!(
        "SELECT appliance_id, test_run_id, taken_at, value, squares, degrees, left_out FROM learning_unit
         WHERE n = $1 AND model_key = $2 AND procedure_key = $3 AND step = $4 AND statistic = $5 ORDER BY appliance_id",
        n,
        group.model.as_str(),
        group.of.procedure.as_str(),
        group.of.step.as_str(),
        group.of.statistic.map_or(NO_STATISTIC, SeriesStatistic::key)
    )
    .fetch_all(unit.connection())
    .await?;
    let mut units = GroupUnits::default();
    for row in rows {
        let id = row.appliance_id;
        if let (Some(run), Some(taken_at), Some(value)) = (row.test_run_id, row.taken_at, row.value) {
            units.readings.push(KnownGood {
                appliance: stored(id, TABLE, "appliance_id", id)?,
                test_run: stored(run, TABLE, "test_run_id", id)?,
                taken_at: stored(taken_at, TABLE, "taken_at", id)?,
                value,
            });
        }
        units.within.push(Within { squares: row.squares, degrees: row.degrees.cast_unsigned() });
        let left_out: LeftOut = stored_json(row.left_out, TABLE, "left_out", id)?;
        for (reason, count) in left_out {
            *units.left_out.entry(reason).or_default() += count;
        }
    }
    Ok(units)
}

/// Empties what was put for a learning.
pub async fn clear(unit: &mut UnitOfWork, n: i64) -> Result<(), StoreError> {
    sqlx::query!("DELETE FROM learning_unit WHERE n = $1", n).execute(unit.connection()).await?;
    Ok(())
}
