use domain::id::{TestRunId, WorkOrderId};
use store::test_run::{self, StoredRun};

use crate::{Application, Caller, Question, Refusal};

/// A test run as it is kept.
#[derive(Debug, Clone, Copy)]
pub struct GetTestRun(pub TestRunId);

impl Question for GetTestRun {
    const NAME: &'static str = "get_test_run";
    type Answer = StoredRun;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<StoredRun, Refusal> {
        let found = test_run::one(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "test run" })
    }
}

/// The test runs of an order as they were sent, in the order in which they were taken.
#[derive(Debug, Clone, Copy)]
pub struct ListTestRuns(pub WorkOrderId);

impl Question for ListTestRuns {
    const NAME: &'static str = "list_work_order_test_runs";
    type Answer = Vec<StoredRun>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<StoredRun>, Refusal> {
        let evidence = test_run::order_evidence(application.database(), &caller.read_scope(), self.0).await?;
        let mut runs = evidence.ok_or(Refusal::NotFound { what: "work order" })?.runs;
        runs.sort_by_key(|stored| (stored.run.taken_at, stored.run.id));
        Ok(runs)
    }
}
