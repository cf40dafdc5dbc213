use domain::work::may_pause_clock;
use store::UnitOfWork;
use store::waiting::{self, NewWaiting, Waiting};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{hold, not_in_future};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Notes that an order waits for something.
pub struct BeginWaiting(pub NewWaiting);

impl UseCase for BeginWaiting {
    const NAME: &'static str = "create_waiting";
    type Outcome = Created<Waiting>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        let creation = waiting::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "waiting")?;
        if is_new {
            held.require_open()?;
            let mut faults = Vec::new();
            not_in_future("/from_at", new.from_at, unit.now(), &mut faults);
            if new.pauses_clock && !may_pause_clock(new.reason) {
                let detail = format!("waiting for {} is ours and pauses no clock; send false", new.reason);
                faults.push(Fault::at("/pauses_clock", detail));
            }
            Refusal::unless_faultless(faults)?;
            unit.record(held.change("waiting.began", new.id).because(new.reason.word()));
        }
        let item = written(waiting::get(unit, new.id).await?, "waiting")?;
        Ok(Created { item, is_new })
    }
}
