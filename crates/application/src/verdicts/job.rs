//! Which runs belong together.

use std::cell::OnceCell;
use std::collections::HashMap;

use domain::evidence::TestRun;
use domain::grading::{Assessment, HealthyReferences};
use domain::id::WorkOrderId;
use store::test_run::StoredRun;

use super::bench::Bench;
use crate::Refusal;

/// The runs of an order's epoch, or of a day without an order.
pub(crate) struct Job {
    pub runs: Vec<TestRun>,
    epoch: u32,
    assessment: OnceCell<Assessment>,
}

impl Job {
    /// Its assessment, made when it is first asked for.
    pub fn assess(
        &self,
        bench: &Bench<'_>,
        references: &dyn HealthyReferences,
    ) -> Result<&Assessment, Refusal> {
        if self.assessment.get().is_none() {
            let assessment = bench.assess(&self.runs, self.epoch, references)?;
            return Ok(self.assessment.get_or_init(|| assessment));
        }
        self.assessment.get().ok_or_else(|| Refusal::Internal("an assessment was lost".to_owned()))
    }
}

/// The runs in jobs, in the order in which each is met first.
pub(crate) fn jobs(runs: impl IntoIterator<Item = StoredRun>) -> Vec<Job> {
    type Place = (Option<WorkOrderId>, u32, chrono::NaiveDate);
    let mut jobs: Vec<Job> = Vec::new();
    let mut places: HashMap<Place, usize> = HashMap::new();
    for StoredRun { run, .. } in runs {
        let place = match run.work_order {
            Some(order) => (Some(order), run.epoch, chrono::NaiveDate::MIN),
            None => (None, 0, run.taken_at.instant().date_naive()),
        };
        let index = *places.entry(place).or_insert(jobs.len());
        if index == jobs.len() {
            jobs.push(Job { runs: Vec::new(), epoch: place.1, assessment: OnceCell::new() });
        }
        jobs[index].runs.push(run);
    }
    jobs
}
