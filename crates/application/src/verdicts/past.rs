//! An appliance's readings before the evidence that is graded, and what was learned by then.

use std::sync::Arc;

use domain::evidence::TestRun;
use domain::grading::LearnedReferences;
use domain::id::{ApplianceId, WorkOrderId};
use domain::time::Timestamp;
use store::UnitOfWork;
use store::appliance_history::{self, ApplianceHistory};
use store::test_run::{self, StoredRun};

use super::bench::Bench;
use super::job::{Job, jobs};
use crate::knowledge::Knowledge;
use crate::known_good::evidence;
use crate::versions::Versions;
use crate::{Application, Refusal};

/// The past as it is stored.
pub(super) struct Past {
    before: Timestamp,
    runs: Vec<StoredRun>,
    /// With what happened around the runs, which nobody asks for before anything was learned.
    knowledge: Option<(Arc<Knowledge>, ApplianceHistory)>,
}

impl Past {
    pub async fn of(
        application: &Application,
        appliance: ApplianceId,
        before: Timestamp,
        not_in: Option<WorkOrderId>,
    ) -> Result<Self, Refusal> {
        let database = application.database();
        let runs = test_run::standing_before(database, appliance, before, not_in).await?;
        let knowledge = match application.versions().knowledge().await? {
            Some(knowledge) => {
                let now = application.now();
                Some((knowledge, appliance_history::one(database, appliance, now).await?))
            }
            None => None,
        };
        Ok(Self { before, runs, knowledge })
    }

    /// [`Self::of`] as it stands in a unit of work.
    pub async fn within(
        unit: &mut UnitOfWork,
        versions: &Versions,
        appliance: ApplianceId,
        before: Timestamp,
        not_in: WorkOrderId,
    ) -> Result<Self, Refusal> {
        let runs = test_run::standing_before_within(unit, appliance, before, Some(not_in)).await?;
        let knowledge = match versions.knowledge_within(unit).await? {
            Some(knowledge) => {
                let now = unit.now();
                Some((knowledge, appliance_history::one_within(unit, appliance, now).await?))
            }
            None => None,
        };
        Ok(Self { before, runs, knowledge })
    }

    pub fn runs(&self) -> impl Iterator<Item = &TestRun> {
        self.runs.iter().map(|stored| &stored.run)
    }

    /// Puts the past in jobs, newest first, and learns the appliance's own references from it, of readings
    /// that counted as good before the evidence was taken.
    pub fn in_jobs(self, bench: &Bench<'_>, model_key: &str) -> Result<PastJobs, Refusal> {
        let jobs = jobs(self.runs);
        let knowledge_version = self.knowledge.as_ref().map(|(knowledge, _)| knowledge.n());
        let mut references = LearnedReferences::default();
        let known = self.knowledge.as_ref();
        let known = known.and_then(|(knowledge, history)| Some((knowledge.of_model(model_key)?, history)));
        let Some((of_model, history)) = known else {
            return Ok(PastJobs { jobs, knowledge_version, of_fleet: references.clone(), references });
        };
        references.fleet.clone_from(&of_model.fleet);
        let of_fleet = references.clone();
        if of_model.learned.values().any(|learned| learned.within.is_some()) {
            let mut graded = Vec::with_capacity(jobs.len());
            for job in &jobs {
                graded.push((job.assess(bench, &of_fleet)?, job.runs.as_slice()));
            }
            for (of, readings) in evidence::collect(graded, history) {
                let good = readings.good(history, self.before);
                let own = of_model.learned.get(&of).and_then(|learned| learned.own(&good.current()));
                references.own.extend(own.map(|own| (of, own)));
            }
        }
        Ok(PastJobs { jobs, knowledge_version, of_fleet, references })
    }
}

/// The past, and what it says of a healthy machine.
pub(super) struct PastJobs {
    /// Newest first.
    pub jobs: Vec<Job>,
    pub knowledge_version: Option<i64>,
    /// For the past itself: an appliance's own references are made of it.
    pub of_fleet: LearnedReferences,
    pub references: LearnedReferences,
}
