use domain::vocabulary::Position;
use store::fitted_part::{self, FittedPart, NewFittedPart};
use store::{Change, UnitOfWork, appliance, catalogue, part};

use crate::refusal::Fault;
use crate::use_case::{is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Notes which part is in a position of a machine: what was found there, or what somebody fitted.
pub struct FitPart(pub NewFittedPart);

impl UseCase for FitPart {
    const NAME: &'static str = "create_fitted_part";
    type Outcome = Created<FittedPart>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let appliance = appliance::get(unit, &caller.read_scope(), new.appliance).await?;
        let appliance = appliance.ok_or(Refusal::NotFound { what: "appliance" })?;
        let mut faults = Vec::new();
        if part::get(unit, new.part).await?.is_none() {
            faults.push(Fault::at("/part_id", "no part has this id"));
        }
        let model = catalogue::model::get(unit, appliance.model.as_str(), appliance.model_version).await?;
        let position = new.position.as_str().parse::<Position>().ok();
        let has = model.zip(position).is_some_and(|(model, position)| model.entry.has(position));
        if !has {
            let detail = format!("{} has no such position", appliance.model);
            faults.push(Fault::at("/position", detail));
        }
        if new.fitted_at > unit.now() {
            faults.push(Fault::at("/fitted_at", "must not lie in the future"));
        }
        if !faults.is_empty() {
            return Err(Refusal::Invalid(faults));
        }
        let is_new = is_new(fitted_part::fit(unit, &new).await?, "fitted part")?;
        if is_new {
            let change = Change::of("fitted_part.created", new.id);
            unit.record(change.at_site(appliance.site).on_appliance(Some(new.appliance)));
        }
        let item = written(fitted_part::get(unit, new.id).await?, "fitted part")?;
        Ok(Created { item, is_new })
    }
}
