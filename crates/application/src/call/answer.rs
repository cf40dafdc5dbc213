use store::call::{self, NewAnswer};
use store::{Change, UnitOfWork, test_run};

use super::intake::{Intake, intake};
use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::not_in_future;
use crate::{Caller, Created, Refusal, UseCase};

/// Keeps what was answered when somebody rang back. It counts for the diagnosis as what was said in the call does; asked
/// again, the last answer counts.
pub struct AnswerCall(pub NewAnswer);

impl UseCase for AnswerCall {
    const NAME: &'static str = "create_call_answer";
    type Outcome = Created<Intake>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let known = call::get(unit, &caller.read_scope(), new.call).await?;
        let known = known.ok_or(Refusal::NotFound { what: "call" })?;
        let orders = call::orders_of(unit, new.call).await?;
        let creation = call::insert_answer(unit, &new, caller.principal.person, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "answer")?;
        if is_new {
            let mut faults = Vec::new();
            not_in_future("/answered_at", new.answered_at, unit.now(), &mut faults);
            Refusal::unless_faultless(faults)?;
            test_run::bump_evidence(unit, &orders).await?;
            let change = Change::of("call.answered", new.call).at_site(known.site);
            unit.record(change.because(new.question.as_str()));
        }
        let call = written(call::get(unit, &caller.read_scope(), new.call).await?, "call")?;
        Ok(Created { item: intake(unit, call).await?, is_new })
    }
}
