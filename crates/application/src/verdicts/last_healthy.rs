//! The reading that was healthy last, to stand beside the new one.

use std::collections::{BTreeMap, BTreeSet};

use domain::equipment::Measurement;
use domain::evidence::TestRun;
use domain::id::{TestRunId, WorkOrderId};
use domain::time::Timestamp;
use domain::vocabulary::Condition;
use store::test_run::{ApplianceContext, StoredRun};

use super::assess;
use crate::Refusal;
use crate::versions::Versions;

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

/// What belongs together: an order's epoch, or a day without an order.
type Job = (Option<WorkOrderId>, u32, chrono::NaiveDate);

/// Looks through the past, newest first, until every wanted measurement has one or the past ends.
pub(super) async fn find(
    versions: &Versions,
    context: &ApplianceContext,
    past: Vec<StoredRun>,
    wanted: &BTreeSet<&Measurement>,
) -> Result<BTreeMap<Measurement, LastHealthy>, Refusal> {
    let mut found = BTreeMap::new();
    for ((_, epoch, _), runs) in jobs(past) {
        if found.len() == wanted.len() {
            break;
        }
        let assessment = assess(versions, context, &runs, epoch).await?;
        let cycle = assessment.verdicts.iter().filter(|verdict| verdict.of.procedure.as_str() == FULL_CYCLE);
        let cycle: Vec<_> = cycle.map(|verdict| verdict.as_found.conformity.is_inside()).collect();
        let verified = !cycle.is_empty() && cycle.iter().all(|inside| *inside == Some(true));
        for verdict in assessment.verdicts.iter().rev() {
            let is_new = wanted.contains(&verdict.of) && !found.contains_key(&verdict.of);
            if is_new && verdict.condition == Condition::Ok {
                let taken_at = runs.iter().find(|run| run.id == verdict.test_run).map(|run| run.taken_at);
                let Some(taken_at) = taken_at else { continue };
                let value = verdict.at_reference.value;
                let healthy = LastHealthy { test_run: verdict.test_run, taken_at, value, verified };
                found.insert(verdict.of.clone(), healthy);
            }
        }
    }
    Ok(found)
}

const FULL_CYCLE: &str = "full_cycle";

/// The past in jobs, the newest first.
fn jobs(past: Vec<StoredRun>) -> Vec<(Job, Vec<TestRun>)> {
    let mut jobs: Vec<(Job, Vec<TestRun>)> = Vec::new();
    for StoredRun { run, .. } in past {
        let day = run.taken_at.instant().date_naive();
        let job = match run.work_order {
            Some(order) => (Some(order), run.epoch, chrono::NaiveDate::MIN),
            None => (None, 0, day),
        };
        match jobs.iter_mut().find(|(other, _)| *other == job) {
            Some((_, runs)) => runs.push(run),
            None => jobs.push((job, vec![run])),
        }
    }
    jobs
}
