use domain::work::ApplianceState;
use store::appliance::{self, Appliance, NewAppliance};
use store::{Change, UnitOfWork, catalogue, site};

use super::limits;
use crate::refusal::{Fault, Listed};
use crate::stop::{said_unsafe, stop_use};
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a machine in a kitchen in.
pub struct CreateAppliance(pub NewAppliance);

impl UseCase for CreateAppliance {
    const NAME: &'static str = "create_appliance";
    type Outcome = Created<Appliance>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let scope = caller.read_scope();
        check(unit, caller, &new).await?;
        let creation = appliance::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "appliance")?;
        if is_new {
            unit.record(Change::of("appliance.created", new.id).at_site(new.site).on_appliance(Some(new.id)));
            if new.state == ApplianceState::UnsafeDoNotUse {
                stop_use(unit, caller, said_unsafe(new.id, new.site, unit.now())).await?;
            }
        }
        let item = written(appliance::get(unit, &scope, new.id).await?, "appliance")?;
        Ok(Created { item, is_new })
    }
}

async fn check(unit: &mut UnitOfWork, caller: &Caller, new: &NewAppliance) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    if site::get_within(unit, &caller.read_scope(), new.site).await?.is_none() {
        faults.push(Fault::at("/site_id", "no site has this id"));
    }
    let model = match new.model_version {
        Some(version) => catalogue::model::get(unit, new.model.as_str(), version).await?,
        None => catalogue::model::newest_of(unit, new.model.as_str()).await?,
    };
    match model {
        Some(model) => faults.extend(limits::faults(unit, &model.entry, &new.limits).await?),
        None => {
            faults.push(Fault::not_listed("/model/key", "no model has this key and version", Listed::Models));
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(Refusal::Invalid(faults)) }
}
