//! From test runs as they were sent to the observations of a case.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::{Case, Number, Observation, Observed, PriorFinding, ReadingConditions};
use crate::equipment::{Measurement, ObservationKey, SeriesStatistic};
use crate::evidence::{Censored, Conditions, Measured, Reading, TestRun, current};
use crate::grading::{Assessed, assess, reduce};
use crate::id::TestRunId;
use crate::procedure::{Blocks, Precondition, Procedure, Reads, Step};
use crate::quantity::QuantityKind;
use crate::text::Key;
use crate::time::Timestamp;
use crate::vocabulary::Symptom;

/// What the intake brought.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Intake {
    /// The complaint for which the call was made: the first of its symptoms.
    pub complaint: Option<Symptom>,
    /// Answers to the questions that the catalogue asks, by the question's key.
    pub answers: Vec<(Key, Key)>,
}

/// What is known of the order beside its runs.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Standing {
    /// How many actions have changed the machine.
    pub epoch: u32,
    pub findings: Vec<PriorFinding>,
    pub wet_work: bool,
}

/// A case, and the readings that could not be brought to it.
#[derive(Debug, Clone, PartialEq)]
pub struct Gathered {
    pub case: Case,
    /// Procedure, step and reason.
    pub unreadable: Vec<(Key, Key, String)>,
}

/// One carrying out of a procedure, as far as a case needs it.
#[derive(Debug, Clone, Copy)]
pub struct RunReadings<'a> {
    pub test_run: Option<TestRunId>,
    pub procedure: &'a Procedure,
    pub taken_at: Timestamp,
    pub conditions: &'a Conditions,
    pub readings: &'a [Reading],
}

/// Steps whose value is a condition of the other readings of their run.
const CALL_DURATION: &str = "call_duration";
const BUCKET_VOLUME: &str = "bucket_volume";
const RUN_LENGTH: &str = "run_length";
const START_TEMPERATURE: &str = "start_temperature";
pub(in crate::diagnosis) const LEVEL_BEFORE: &str = "level_before";
/// Those of them that say nothing by themselves.
const ONLY_CONDITIONS: [&str; 4] = [CALL_DURATION, BUCKET_VOLUME, RUN_LENGTH, START_TEMPERATURE];

/// The case of an order's current epoch. Runs of other epochs, superseded and retracted ones do not
/// count, whatever order they arrived in.
pub fn gather(intake: &Intake, runs: &[TestRun], procedures: &[Procedure], standing: &Standing) -> Gathered {
    let mut gathered = Gathered {
        case: Case {
            complaint: intake.complaint,
            findings: standing.findings.clone(),
            wet_work: standing.wet_work,
            epoch: standing.epoch,
            ..Case::default()
        },
        unreadable: Vec::new(),
    };
    for (question, answer) in &intake.answers {
        if let Ok(key) = ObservationKey::new(format!("intake/{question}")) {
            gathered.case.observations.push(Observation::choice(key, answer.clone()));
        }
    }
    for run in current(runs).into_iter().filter(|run| run.epoch == standing.epoch) {
        let Some(procedure) = procedures.iter().find(|procedure| procedure.id() == run.procedure) else {
            let reason = format!("the procedure {} is not known", run.procedure);
            gathered.unreadable.push((run.procedure.key.clone(), run.procedure.key.clone(), reason));
            continue;
        };
        gathered.add(RunReadings {
            test_run: Some(run.id),
            procedure,
            taken_at: run.taken_at,
            conditions: &run.conditions,
            readings: &run.readings,
        });
    }
    gathered
}

impl Gathered {
    /// Adds the readings of one run.
    pub fn add(&mut self, run: RunReadings) {
        let key = &run.procedure.key;
        self.case.done.insert(key.clone());
        let conditions = run.conditions_of_readings();
        for reading in run.readings {
            let Some(step) = run.procedure.step(&reading.step) else { continue };
            if ONLY_CONDITIONS.contains(&step.key.as_str()) {
                continue;
            }
            match run.observed(step, reading) {
                Ok(seen) => self.case.observations.extend(seen.into_iter().map(|(key, seen)| Observation {
                    test_run: run.test_run,
                    key,
                    seen,
                    unit: unit_of(reading.value.as_ref()),
                    conditions,
                })),
                Err(reason) => self.unreadable.push((key.clone(), reading.step.clone(), reason)),
            }
        }
        // What was read beside a run is a reading of its own.
        let beside = [
            (
                "inlet_pressure",
                "dynamic_pressure",
                &run.conditions.dynamic_pressure,
                QuantityKind::DynamicPressure,
            ),
            ("commanded_volts", "supply", &run.conditions.supply_voltage, QuantityKind::Voltage),
        ];
        for (procedure, step, measured, quantity) in beside {
            let Some(measured) = measured else { continue };
            let measurement = Measurement::value(procedure, step);
            if *key == measurement.procedure {
                continue;
            }
            match measured.as_read.canonical(quantity) {
                Ok(value) => self.case.observations.push(Observation {
                    test_run: run.test_run,
                    key: (&measurement).into(),
                    seen: Observed::Value(Number { value, uncertainty: None }),
                    unit: unit_of(Some(measured)),
                    conditions: ReadingConditions::default(),
                }),
                Err(error) => self.unreadable.push((key.clone(), measurement.step, error.to_string())),
            }
        }
    }

    /// The procedures of the case that were carried out.
    pub fn done(&self) -> &BTreeSet<Key> {
        &self.case.done
    }
}

impl RunReadings<'_> {
    fn conditions_of_readings(&self) -> ReadingConditions {
        let value = |name: &str| {
            let reading = self.readings.iter().find(|reading| reading.step.as_str() == name)?;
            let step = self.procedure.step(&reading.step)?;
            let assessed = assess(reading.value.as_ref()?, step, self.taken_at).ok()?;
            Some(assessed.value)
        };
        let recorded = self.readings.iter().filter_map(|reading| reading.series.as_ref());
        let series_end = recorded.filter_map(|series| series.times_s.last().copied()).next_back();
        ReadingConditions {
            level_before_l: value(LEVEL_BEFORE),
            run_s: value(RUN_LENGTH).or(series_end),
            call_s: value(CALL_DURATION),
            bucket_l: value(BUCKET_VOLUME),
            start_temperature_cel: value(START_TEMPERATURE),
            unconfirmed: self.procedure.preconditions.iter().any(|of| match of {
                Precondition::Confirmed { key, blocks: Blocks::EveryGrading, .. } => {
                    !self.conditions.confirmed.contains(key)
                }
                _ => false,
            }),
        }
    }

    /// What a reading says, by the key of its observation: several statistics if it is a series.
    fn observed(&self, step: &Step, reading: &Reading) -> Result<Vec<(ObservationKey, Observed)>, String> {
        let of = |statistic: Option<SeriesStatistic>| {
            let measurement =
                Measurement { procedure: self.procedure.key.clone(), step: step.key.clone(), statistic };
            ObservationKey::from(&measurement)
        };
        if let Some(choice) = &reading.choice {
            return Ok(vec![(of(None), Observed::Choice(choice.clone()))]);
        }
        if let Some(measured) = &reading.value {
            let assessed = assess(measured, step, self.taken_at).map_err(|error| error.to_string())?;
            return Ok(vec![(of(None), number(&assessed))]);
        }
        let (Some(series), Reads::Record { quantity, .. }) = (&reading.series, &step.reads) else {
            return Err("it holds neither value, choice nor series".into());
        };
        let statistics = SeriesStatistic::ALL.into_iter().filter_map(|statistic| {
            // A flow that never came has no fall: the first flow says so.
            let assessed = reduce(series, *quantity, statistic, self.taken_at).ok()?;
            Some((of(Some(statistic)), number(&assessed)))
        });
        Ok(statistics.collect())
    }
}

/// The unit in which it was read; none for degrees of hardness, which have a scale instead.
fn unit_of(measured: Option<&Measured>) -> Option<String> {
    let as_read = &measured?.as_read;
    as_read.hardness_scale.is_none().then(|| as_read.unit.clone())
}

fn number(assessed: &Assessed) -> Observed {
    let number = Number { value: assessed.value, uncertainty: Some(assessed.standard_uncertainty) };
    match assessed.censored {
        None => Observed::Value(number),
        Some(Censored::AtLeast) => Observed::AtLeast(number),
        Some(Censored::AtMost) => Observed::AtMost(number),
    }
}

#[cfg(test)]
mod tests;
