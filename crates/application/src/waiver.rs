//! What an order does without, and why.

use store::UnitOfWork;
use store::waiver::{self, NewWaiver, Waiver};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::hold;
use crate::{Caller, Created, Refusal, UseCase};

/// Keeps that an order does without a proof, for a reason. It stands until the machine is changed again.
pub struct GiveWaiver(pub NewWaiver);

impl UseCase for GiveWaiver {
    const NAME: &'static str = "create_waiver";
    type Outcome = Created<Waiver>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        let creation = waiver::insert(unit, &new, caller.principal.person, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "waiver")?;
        if is_new {
            held.require_open()?;
            unit.record(held.change("waiver.given", new.id).because(format!("{}: {}", new.what, new.reason)));
        }
        let item = written(waiver::get(unit, new.id).await?, "waiver")?;
        Ok(Created { item, is_new })
    }
}
