//! The reading that was healthy last, to stand beside the new one.

use std::collections::{BTreeMap, BTreeSet};

use domain::equipment::Measurement;
use domain::grading::LearnedReferences;
use domain::id::TestRunId;
use domain::time::Timestamp;
use domain::vocabulary::Condition;
use domain::work::FULL_CYCLE;

use super::bench::Bench;
use super::job::Job;
use crate::Refusal;

/// A reading of an earlier job whose position was in order.
#[derive(Debug, Clone)]
pub struct LastHealthy {
    pub test_run: TestRunId,
    pub taken_at: Timestamp,
    /// At reference conditions, in the canonical unit; none for a choice.
    pub value: Option<f64>,
    /// The machine's full cycle passed in the same epoch.
    pub verified: bool,
}

/// Looks through the past, newest first, until every wanted measurement has one or the past ends.
pub(super) fn find(
    bench: &Bench<'_>,
    past: &[Job],
    references: &LearnedReferences,
    wanted: &BTreeSet<&Measurement>,
) -> Result<BTreeMap<Measurement, LastHealthy>, Refusal> {
    let mut found = BTreeMap::new();
    for job in past {
        if found.len() == wanted.len() {
            break;
        }
        let assessment = job.assess(bench, references)?;
        let cycle = assessment.verdicts.iter().filter(|verdict| verdict.of.procedure.as_str() == FULL_CYCLE);
        let cycle: Vec<_> = cycle.map(|verdict| verdict.as_found.conformity.is_inside()).collect();
        let verified = !cycle.is_empty() && cycle.iter().all(|inside| *inside == Some(true));
        for verdict in assessment.verdicts.iter().rev() {
            let is_new = wanted.contains(&verdict.of) && !found.contains_key(&verdict.of);
            if is_new && verdict.condition == Condition::Ok {
                let run = job.runs.iter().find(|run| run.id == verdict.test_run);
                let Some(taken_at) = run.map(|run| run.taken_at) else { continue };
                let value = verdict.at_reference.value;
                let healthy = LastHealthy { test_run: verdict.test_run, taken_at, value, verified };
                found.insert(verdict.of.clone(), healthy);
            }
        }
    }
    Ok(found)
}
