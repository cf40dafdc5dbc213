//! What an order does without, and why.

mod read;

pub use read::ListWaivers;
pub use store::waiver::{NewWaiver, Waiver};

use domain::work::WaitingReason;
use store::waiver;
use store::{UnitOfWork, waiting};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::hold;
use crate::{Caller, Created, Refusal, UseCase};

/// Keeps that an order does without a proof, for a reason by which somebody of the management stands. It stands until the
/// machine is changed again. A technician asks for it: the order waits for a waiver.
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
            let why = format!("{}, {}: {}", new.what, new.code, new.reason);
            unit.record(held.change("waiver.given", new.id).because(why));
            for id in waiting::end_of_reason(unit, new.work_order, WaitingReason::Waiver).await? {
                unit.record(held.change("waiting.ended", id));
            }
        }
        let item = written(waiver::get(unit, new.id).await?, "waiver")?;
        Ok(Created { item, is_new })
    }
}
