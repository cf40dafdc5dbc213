use domain::id::WaitingId;
use domain::time::Timestamp;
use store::UnitOfWork;
use store::waiting::{self, Waiting};

use crate::use_case::written;
use crate::work_order::{hold, not_in_future};
use crate::{Caller, Fault, Refusal, UseCase};

/// Notes that an order no longer waits for something.
pub struct EndWaiting {
    pub id: WaitingId,
    pub expected_version: i64,
    /// Now, if it is not said.
    pub at: Option<Timestamp>,
}

impl UseCase for EndWaiting {
    const NAME: &'static str = "act_on_waiting";
    type Outcome = Waiting;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Waiting, Refusal> {
        let missing = Refusal::NotFound { what: "waiting" };
        let work_order = waiting::get(unit, self.id).await?.ok_or(missing)?.work_order;
        let held = hold(unit, caller, work_order).await?;
        let waiting = written(waiting::get(unit, self.id).await?, "waiting")?;
        if waiting.version != self.expected_version {
            return Err(Refusal::Stale { what: "waiting", current: waiting.version });
        }
        if let Some(ended) = waiting.to_at {
            return Err(Refusal::NotNow { detail: format!("it ended at {ended}"), missing: Vec::new() });
        }
        let mut faults = Vec::new();
        not_in_future("/at", self.at, unit.now(), &mut faults);
        let to_at = self.at.unwrap_or(unit.now());
        if to_at < waiting.from_at {
            faults.push(Fault::at("/at", format!("must not lie before {}, when it began", waiting.from_at)));
        }
        Refusal::unless_faultless(faults)?;
        if !waiting::end(unit, self.id, to_at, self.expected_version).await? {
            return Err(Refusal::Stale { what: "waiting", current: waiting.version });
        }
        unit.record(held.change("waiting.ended", self.id));
        written(waiting::get(unit, self.id).await?, "waiting")
    }
}
