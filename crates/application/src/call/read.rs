use domain::id::CallId;
use store::{UnitOfWork, call};

use super::intake::{Intake, intake};
use crate::{Caller, Refusal, UseCase};

/// A call with its orders and what was known of their machines. Changes nothing.
pub struct ReadCall(pub CallId);

impl UseCase for ReadCall {
    const NAME: &'static str = "get_call";
    type Outcome = Intake;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Intake, Refusal> {
        let call = call::get(unit, &caller.read_scope(), self.0).await?;
        intake(unit, call.ok_or(Refusal::NotFound { what: "call" })?).await
    }
}
