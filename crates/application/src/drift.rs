//! Whether one appliance's readings drift away from their own past.

mod read;
mod warnings;
mod watch;

pub use read::GetApplianceDrift;
pub use store::drift_watch::{Drifting, Warned};
pub use warnings::{EarlyWarnings, GetEarlyWarnings, READINGS_TO_A_FALSE_ALARM, Warning};

use domain::equipment::Measurement;
use domain::grading::LearnedReferences;
use domain::id::ApplianceId;
use domain::known_good::drift::{DriftChart, DriftReading, DriftRules, Spread, drift_chart};
use domain::known_good::learned::LearnedMeasurement;
use domain::quantity::{QuantityKind, Scale};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use store::{ReadScope, appliance_history, test_run};

use crate::known_good::evidence;
use crate::verdicts::bench::Bench;
use crate::verdicts::job::jobs;
use crate::{Application, Refusal};

/// The charts of one appliance.
#[derive(Debug, Clone)]
pub struct Drift {
    pub as_of: Timestamp,
    /// Where the spreads within units come from.
    pub knowledge_version: Option<i64>,
    pub charts: Vec<MeasurementDrift>,
}

/// The charts of one measurement, from its readings at reference conditions.
#[derive(Debug, Clone)]
pub struct MeasurementDrift {
    pub of: Measurement,
    pub position: Position,
    pub quantity: QuantityKind,
    pub chart: DriftChart,
}

/// The drift charts of an appliance as of an instant, of one procedure's measurements or of all. `None`
/// where the scope shows no such appliance. Readings that a person took out of the references are no
/// part of them.
pub async fn of_appliance(
    application: &Application,
    scope: &ReadScope,
    appliance: ApplianceId,
    as_of: Timestamp,
    procedure: Option<&Key>,
) -> Result<Option<Drift>, Refusal> {
    let database = application.database();
    if !appliance_history::is_shown(database, scope, appliance).await? {
        return Ok(None);
    }
    let Some(context) = test_run::appliance(database, appliance).await? else { return Ok(None) };
    let versions = application.versions();
    let knowledge = versions.knowledge().await?;
    let mut runs = test_run::of_appliance(database, appliance).await?;
    runs.retain(|stored| stored.run.taken_at <= as_of);
    let history = appliance_history::one(database, appliance, application.now()).await?;
    let bench = Bench::of(versions, &context, runs.iter().map(|stored| &stored.run)).await?;
    let jobs = jobs(runs);
    let mut graded = Vec::with_capacity(jobs.len());
    let nothing = LearnedReferences::default();
    for job in &jobs {
        graded.push((job.assess(&bench, &nothing)?, job.runs.as_slice()));
    }
    let of_model = knowledge.as_ref().and_then(|knowledge| knowledge.of_model(&context.model_key));
    let mut charts = Vec::new();
    for (of, readings) in evidence::collect(graded, &history) {
        if procedure.is_some_and(|procedure| of.procedure != *procedure) {
            continue;
        }
        let scale = readings.quantity.scale();
        let kept = readings.evidence.iter().filter(|reading| reading.removed_because.is_none());
        let on_chart: Vec<DriftReading> = kept
            .filter_map(|reading| {
                let value = reading.value.filter(|value| scale == Scale::Linear || *value > 0.0)?;
                Some(DriftReading { test_run: reading.test_run, taken_at: reading.taken_at, value })
            })
            .collect();
        if on_chart.is_empty() {
            continue;
        }
        let mut repairs = readings.repairs(&history);
        repairs.retain(|repair| *repair <= as_of);
        let learned = of_model.and_then(|of_model| of_model.learned.get(&of));
        let spread = learned.map_or(Spread::Own, LearnedMeasurement::spread);
        let chart = drift_chart(&on_chart, &repairs, scale, spread, DriftRules::default())
            .map_err(|error| Refusal::Internal(error.to_string()))?;
        let (position, quantity) = (readings.position, readings.quantity);
        charts.push(MeasurementDrift { of, position, quantity, chart });
    }
    let knowledge_version = knowledge.map(|knowledge| knowledge.n());
    Ok(Some(Drift { as_of, knowledge_version, charts }))
}
