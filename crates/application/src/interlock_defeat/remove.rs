use domain::id::InterlockDefeatId;
use domain::procedure::{self, DefeatError};
use domain::time::Timestamp;
use store::UnitOfWork;
use store::interlock_defeat::{self, InterlockDefeat};

use crate::use_case::written;
use crate::work_order::{hold, not_in_future};
use crate::{Caller, Fault, Refusal, UseCase};

/// Records that an interlock works again. Late is always allowed, and whatever else was changed: what matters is that the
/// defeat is off.
pub struct RemoveInterlockDefeat {
    pub id: InterlockDefeatId,
    /// Now, if it is not said.
    pub at: Option<Timestamp>,
}

impl UseCase for RemoveInterlockDefeat {
    const NAME: &'static str = "act_on_interlock_defeat";
    type Outcome = InterlockDefeat;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<InterlockDefeat, Refusal> {
        let missing = || Refusal::NotFound { what: "interlock defeat" };
        let order = interlock_defeat::get(unit, self.id).await?.ok_or_else(missing)?.work_order;
        let held = hold(unit, caller, order).await?;
        let defeat = interlock_defeat::get(unit, self.id).await?.ok_or_else(missing)?;
        let removed_at = self.at.unwrap_or(unit.now());
        let mut faults = Vec::new();
        not_in_future("/at", self.at, unit.now(), &mut faults);
        match procedure::check_removal(&defeat.state(), removed_at) {
            Ok(()) => {}
            Err(error @ DefeatError::RemovedBeforeOpened) => {
                faults.push(Fault::at("/at", error.to_string()));
            }
            Err(error) => return Err(Refusal::NotNow { detail: error.to_string(), missing: Vec::new() }),
        }
        Refusal::unless_faultless(faults)?;
        let removed_by = caller.principal.person;
        if !interlock_defeat::remove(unit, self.id, removed_at, removed_by).await? {
            return Err(Refusal::Stale { what: "interlock defeat", current: defeat.version });
        }
        unit.record(held.change("interlock.restored", self.id));
        written(interlock_defeat::get(unit, self.id).await?, "interlock defeat")
    }
}
