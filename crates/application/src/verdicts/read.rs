use domain::id::{TestRunId, WorkOrderId};
use store::test_run;

use super::{Verdicts, of_order, of_run};
use crate::{Application, Caller, Question, Refusal};

/// What follows from an order's readings.
#[derive(Debug, Clone, Copy)]
pub struct GetOrderVerdicts {
    pub order: WorkOrderId,
    /// The one in which the machine is now, unless said.
    pub epoch: Option<u32>,
}

impl Question for GetOrderVerdicts {
    const NAME: &'static str = "get_work_order_verdicts";
    type Answer = Verdicts;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Verdicts, Refusal> {
        let verdicts = of_order(application, &caller.read_scope(), self.order, self.epoch).await?;
        verdicts.ok_or(Refusal::NotFound { what: "work order" })
    }
}

/// What follows from one run, by all evidence that belongs to it.
#[derive(Debug, Clone, Copy)]
pub struct GetRunVerdicts(pub TestRunId);

impl Question for GetRunVerdicts {
    const NAME: &'static str = "get_test_run_verdicts";
    type Answer = Verdicts;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Verdicts, Refusal> {
        let run = test_run::one(application.database(), &caller.read_scope(), self.0).await?;
        of_run(application, &run.ok_or(Refusal::NotFound { what: "test run" })?).await
    }
}
