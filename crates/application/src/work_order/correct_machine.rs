//! A wrong unit put right.

use std::sync::Arc;

use domain::id::ApplianceId;
use domain::text::Words;
use domain::work::ApplianceState;
use store::fitted_part::{self, NewFittedPart};
use store::machine_correction::{self, MachineCorrection, NewMachineCorrection};
use store::{
    Change, Creation, ReadScope, UnitOfWork, appliance_state, call, finding, part_line, sight, stop,
    test_run, work_order,
};

use super::hold::{Held, hold};
use super::update::{set_appliance_state, stop_machine};
use crate::use_case::{body_sha256, is_new, written};
use crate::versions::Versions;
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Moves an order, with all that was read, found and fitted under it, to the right machine of its kitchen. Runs and findings
/// are superseded by the same on the right machine; a run that comes later and names the wrong one is moved as it comes.
pub struct CorrectMachine {
    pub versions: Arc<Versions>,
    pub new: NewMachineCorrection,
}

impl UseCase for CorrectMachine {
    const NAME: &'static str = "create_machine_correction";
    type Outcome = Created<MachineCorrection>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = &self.new;
        let mut held = hold(unit, caller, new.work_order).await?;
        let hash = body_sha256(new)?;
        let known = machine_correction::known_hash(unit, new.id).await?;
        if let Some(creation) = Creation::of_known(known.as_deref(), &hash) {
            is_new(creation, "machine correction")?;
            let item = written(machine_correction::get(unit, new.id).await?, "machine correction")?;
            return Ok(Created { item, is_new: false });
        }
        held.require_open()?;
        let sight = sight::of_order(unit, new.work_order).await?;
        let from = self.check(unit, &held).await?;
        let runs = machine_correction::move_runs(unit, new.work_order, from, new.to).await?;
        let findings = machine_correction::move_findings(unit, new.work_order, (from, new.to), &runs).await?;
        for (old, moved) in &findings {
            for (id, by) in [(*old, -1), (*moved, 1)] {
                let counted = written(finding::get(unit, id).await?, "finding")?;
                finding::count(unit, held.order.site, &counted, by).await?;
            }
        }
        let said = appliance_state::get(unit, from).await?.map(|place| place.state);
        held.order.appliance = Some(new.to);
        move_parts(unit, &held, from, new.to).await?;
        settle_state(unit, caller, &held, from, said).await?;
        if !work_order::update(unit, &held.order, held.order.version).await? {
            return Err(Refusal::Stale { what: "work order", current: held.order.version });
        }
        sight.tell_losses(unit).await?;
        machine_correction::insert(unit, new, from, caller.principal.person, &hash).await?;
        test_run::bump_evidence(unit, &[new.work_order]).await?;
        for run in runs.values() {
            unit.record(held.change("test_run.moved", *run));
        }
        for (_, finding) in &findings {
            unit.record(held.change("finding.moved", *finding));
        }
        let why: &Words = &new.why;
        unit.record(held.change("work_order.machine_corrected", new.work_order).because(why.as_str()));
        let left = Change::of("appliance.order_moved_away", from).at_site(held.order.site);
        unit.record(left.on_appliance(Some(from)).because(why.as_str()));
        let item = written(machine_correction::get(unit, new.id).await?, "machine correction")?;
        Ok(Created { item, is_new: true })
    }
}

impl CorrectMachine {
    /// The machine that the order has, if it can be moved to the other.
    async fn check(&self, unit: &mut UnitOfWork, held: &Held) -> Result<ApplianceId, Refusal> {
        const AT: &str = "/appliance_id";
        let to = self.new.to;
        let Some(from) = held.order.appliance else {
            let detail =
                "it is not known yet which machine the order is about: set its appliance_id".to_owned();
            return Err(Refusal::Conflict { detail });
        };
        if from == to {
            return Err(Refusal::invalid(AT, "is the machine that the order has"));
        }
        let place = appliance_state::get(unit, to).await?;
        let place = place.ok_or_else(|| Refusal::invalid(AT, "there is no such appliance"))?;
        if place.site != held.order.site {
            return Err(Refusal::invalid(
                AT,
                "stands in another kitchen than the order's: open an order there",
            ));
        }
        let appliance = test_run::appliances(unit, &[to]).await?.remove(&to);
        let appliance = written(appliance, "appliance")?;
        let model = self.versions.model(&appliance.model_key, appliance.model_version).await?;
        let model = written(model, "appliance's model")?;
        let scope = ReadScope::everything();
        let evidence = test_run::order_evidence_within(unit, &scope, held.order.id).await?;
        let mut faults = Vec::new();
        for stored in evidence.into_iter().flat_map(|evidence| evidence.runs) {
            let run = stored.run;
            let stands = stored.superseded_by.is_none() && run.retraction_reason.is_none();
            let procedure = &run.procedure;
            let procedure = self.versions.procedure(procedure.key.as_str(), procedure.version).await?;
            let fits = procedure.is_none_or(|procedure| run.validate(&procedure, &model).is_ok());
            if stands && !fits {
                let detail = format!(
                    "run {} of {} does not fit model {}: take it back first (retraction_reason)",
                    run.id, run.procedure, appliance.model_key
                );
                faults.push(Fault::at(AT, detail));
            }
        }
        Refusal::unless_faultless(faults)?;
        Ok(from)
    }
}

/// Parts that the order fitted are in the right machine, and what was in the wrong one never left it.
async fn move_parts(
    unit: &mut UnitOfWork,
    held: &Held,
    from: ApplianceId,
    to: ApplianceId,
) -> Result<(), Refusal> {
    for line in part_line::of_order_within(unit, held.order.id).await? {
        let (Some(position), Some(fitted_at)) = (line.position, line.fitted_at) else { continue };
        let noted = fitted_part::withdraw(unit, from, &position, line.part, fitted_at).await?;
        let Some((id, serial)) = noted else { continue };
        let part = NewFittedPart { id, appliance: to, position, part: line.part, serial, fitted_at };
        fitted_part::fit(unit, &part).await?;
    }
    Ok(())
}

/// The state that was said of the wrong machine was said of this one; what is unsafe stays so, and so does the other, until
/// somebody releases it.
async fn settle_state(
    unit: &mut UnitOfWork,
    caller: &Caller,
    held: &Held,
    from: ApplianceId,
    said: Option<ApplianceState>,
) -> Result<(), Refusal> {
    let told = match held.order.call {
        Some(id) => call::get(unit, &ReadScope::everything(), id).await?,
        None => None,
    };
    if let Some(call) = told.filter(|call| call.stop_use) {
        let why = format!("The caller was told not to use it: {}", call.words);
        stop_machine(unit, caller, held, &call.dangers, why, call.received_at).await?;
    }
    let of_this_order = |stop: &stop::Stop| stop.work_order == Some(held.order.id);
    for stop in stop::open_of(unit, from).await?.into_iter().filter(of_this_order) {
        stop_machine(unit, caller, held, &stop.dangers, stop.why.to_string(), stop.stopped_at).await?;
    }
    match said {
        Some(ApplianceState::Removed | ApplianceState::UnsafeDoNotUse) | None => Ok(()),
        Some(state) => {
            let now = unit.now();
            set_appliance_state(unit, caller, held, state, now).await
        }
    }
}
