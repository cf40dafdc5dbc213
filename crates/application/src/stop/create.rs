use store::stop::{self, NewStop, Stop};
use store::{Creation, UnitOfWork, appliance, appliance_state};

use super::keep;
use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::not_in_future;
use crate::{Caller, Created, Refusal, UseCase};

/// Says that a machine may not be used. Whoever sees a danger says so: it waits for nobody and for no version.
pub struct CreateStop(pub NewStop);

impl UseCase for CreateStop {
    const NAME: &'static str = "create_stop";
    type Outcome = Created<Stop>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let seen = appliance::get(unit, &caller.read_scope(), new.appliance).await?;
        let site = seen.ok_or(Refusal::NotFound { what: "appliance" })?.site;
        let mut faults = Vec::new();
        not_in_future("/stopped_at", Some(new.stopped_at), unit.now(), &mut faults);
        Refusal::unless_faultless(faults)?;
        appliance_state::lock(unit, new.appliance).await?;
        let creation: Creation = keep(unit, caller, &new, site, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "stop")?;
        let item = written(stop::get(unit, new.id).await?, "stop")?;
        Ok(Created { item, is_new })
    }
}
