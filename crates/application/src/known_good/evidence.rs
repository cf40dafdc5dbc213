//! From graded jobs to evidence about healthy readings.

use std::collections::BTreeMap;

use domain::equipment::Measurement;
use domain::evidence::TestRun;
use domain::grading::Assessment;
use domain::id::TestRunId;
use domain::known_good::job::readings_of;
use domain::known_good::selection::{Evidence, KnownGood, LeftOut, known_good};
use domain::known_good::to_scale;
use domain::known_good::variance_components::Within;
use domain::quantity::QuantityKind;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use store::appliance_history::ApplianceHistory;

/// All readings of one measurement of one appliance.
#[derive(Debug, Clone)]
pub struct Readings {
    pub position: Position,
    pub quantity: QuantityKind,
    pub evidence: Vec<Evidence>,
}

/// The numbers that were read of one appliance, with what happened around them.
pub fn collect<'a>(
    jobs: impl IntoIterator<Item = (&'a Assessment, &'a [TestRun])>,
    history: &ApplianceHistory,
) -> BTreeMap<Measurement, Readings> {
    let mut collected: BTreeMap<Measurement, Readings> = BTreeMap::new();
    for (assessment, runs) in jobs {
        let runs: BTreeMap<TestRunId, &TestRun> = runs.iter().map(|run| (run.id, run)).collect();
        for reading in readings_of(assessment) {
            let of = &reading.verdict.of;
            let Some(run) = runs.get(&reading.verdict.test_run) else { continue };
            let evidence = Evidence {
                appliance: run.appliance,
                test_run: run.id,
                taken_at: run.taken_at,
                value: reading.value,
                other_tests: reading.other_tests,
                full_cycle: reading.full_cycle,
                next_corrective_call_at: next_after(&history.corrective_calls, run.taken_at),
                observed_until: history.observed_until,
                removed_because: history.removed.get(&(run.id, of.step.clone())).copied(),
            };
            let (position, quantity) = (reading.position, reading.quantity);
            let none = || Readings { position, quantity, evidence: Vec::new() };
            collected.entry(of.clone()).or_insert_with(none).evidence.push(evidence);
        }
    }
    collected
}

fn next_after(calls: &[Timestamp], taken_at: Timestamp) -> Option<Timestamp> {
    calls.get(calls.partition_point(|call| *call <= taken_at)).copied()
}

/// The readings of one appliance that count, between one repair of the position and the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Good {
    /// By repair, oldest first; the last part follows the last repair.
    pub parts: Vec<Vec<KnownGood>>,
    pub left_out: LeftOut,
}

impl Readings {
    /// When the position was repaired.
    pub fn repairs(&self, history: &ApplianceHistory) -> Vec<Timestamp> {
        let of_position = history.repairs.iter().filter(|(position, _)| *position == self.position);
        of_position.map(|(_, at)| *at).collect()
    }

    /// Those that count at `as_of`.
    pub fn good(&self, history: &ApplianceHistory, as_of: Timestamp) -> Good {
        let (counted, left_out) = known_good(&self.evidence, self.quantity.scale(), as_of);
        let mut repairs = self.repairs(history);
        repairs.retain(|repair| *repair <= as_of);
        let mut parts = vec![Vec::new(); repairs.len() + 1];
        for reading in counted {
            parts[repairs.partition_point(|repair| *repair <= reading.taken_at)].push(reading);
        }
        Good { parts, left_out }
    }
}

impl Good {
    /// The values since the last repair.
    pub fn current(&self) -> Vec<f64> {
        self.parts.last().into_iter().flatten().map(|reading| reading.value).collect()
    }

    pub fn all(&self) -> impl Iterator<Item = KnownGood> {
        self.parts.iter().flatten().copied()
    }

    /// What the unit adds to the spread within units.
    pub fn within(&self, quantity: QuantityKind) -> Within {
        let of_part = |part: &Vec<KnownGood>| {
            let values: Vec<f64> = part.iter().map(|reading| reading.value).collect();
            // Readings that count hold to the scale.
            to_scale(&values, quantity.scale()).and_then(|values| Within::of(&values)).unwrap_or_default()
        };
        self.parts.iter().map(of_part).fold(Within::default(), Within::and)
    }
}
