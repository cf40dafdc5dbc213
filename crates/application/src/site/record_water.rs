use domain::site_water::{NoIndex, WaterSample};
use store::site_water::{self, KeptWaterSample, NewWaterSample};
use store::{Change, UnitOfWork, site};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Keeps a sample of a kitchen's water.
pub struct RecordSiteWater(pub NewWaterSample);

impl UseCase for RecordSiteWater {
    const NAME: &'static str = "create_site_water";
    type Outcome = Created<KeptWaterSample>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let site = site::get_within(unit, &caller.read_scope(), new.site).await?;
        site.ok_or(Refusal::NotFound { what: "site" })?;
        check(&new.sample)?;
        let creation = site_water::insert(unit, &new, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "water sample")?;
        if is_new {
            unit.record(Change::of("site_water.created", new.id).at_site(new.site));
        }
        let item = written(site_water::get(unit, new.id).await?, "water sample")?;
        Ok(Created { item, is_new })
    }
}

fn check(sample: &WaterSample) -> Result<(), Refusal> {
    let has_any = sample.hardness.is_some()
        || sample.calcium_hardness.is_some()
        || sample.alkalinity.is_some()
        || sample.conductivity.is_some()
        || sample.chloride.is_some()
        || sample.ph.is_some();
    if !has_any {
        return Err(Refusal::invalid("", "a sample has at least one value beside its temperature"));
    }
    match (sample.calcium_hardness, sample.hardness) {
        (Some(calcium), Some(total)) if calcium > total => {
            Err(Refusal::invalid("/calcium_hardness", NoIndex::CalciumExceedsHardness.to_string()))
        }
        _ => Ok(()),
    }
}
