use domain::danger::Danger;
use domain::id::VisitId;
use domain::time::Timestamp;
use domain::work::{self, ApplianceState, VisitAction, VisitError, VisitResult};
use store::visit::{self, Visit};
use store::{UnitOfWork, appliance_state, interlock_defeat, sight};

use crate::use_case::written;
use crate::work_order::{Held, hold, not_in_future, set_appliance_state, stop_machine};
use crate::{Caller, Fault, Refusal, UseCase};

/// Takes a step of a visit: sets out, arrives, leaves with a result; or tells that nobody came.
pub struct MoveVisit {
    pub id: VisitId,
    pub expected_version: i64,
    pub action: VisitAction,
    /// When it happened; now, if it is not said.
    pub at: Option<Timestamp>,
    /// With `leave`.
    pub result: Option<VisitResult>,
    /// With `leave`: in which state the appliance is left. Whoever was there says it.
    pub appliance_state: Option<ApplianceState>,
    pub why: Option<String>,
}

/// A visit after a step of it.
#[derive(Debug)]
pub struct VisitMoved {
    pub visit: Visit,
    /// The state of the order's appliance: unsafe_do_not_use under stop-use, whatever was said of it.
    pub stands: Option<ApplianceState>,
}

impl UseCase for MoveVisit {
    const NAME: &'static str = "act_on_visit";
    type Outcome = VisitMoved;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<VisitMoved, Refusal> {
        let missing = Refusal::NotFound { what: "visit" };
        let work_order = visit::get(unit, self.id).await?.ok_or(missing)?.work_order;
        let held = hold(unit, caller, work_order).await?;
        let mut visit = written(visit::get(unit, self.id).await?, "visit")?;
        if visit.version != self.expected_version {
            return Err(Refusal::Stale { what: "visit", current: visit.version });
        }
        let mut faults = Vec::new();
        not_in_future("/at", self.at, unit.now(), &mut faults);
        if self.action != VisitAction::Leave && self.appliance_state.is_some() {
            faults.push(Fault::at(
                "/appliance_state",
                format!("belongs to leave; leave it out of {}", self.action),
            ));
        }
        let saw_it = self.result.is_some_and(|result| result != VisitResult::NoAccess);
        if saw_it && held.order.appliance.is_some() && self.appliance_state.is_none() {
            faults.push(Fault::at("/appliance_state", "say in which state the appliance is left"));
        }
        match work::visit_after(&visit.times, self.action, self.at.unwrap_or(unit.now()), self.result) {
            Ok(times) => visit.times = times,
            Err(error @ VisitError::NotNow { .. }) => {
                return Err(Refusal::NotNow { detail: error.to_string(), missing: Vec::new() });
            }
            Err(error @ VisitError::BeforeTheLastStep { .. }) => {
                faults.push(Fault::at("/at", error.to_string()));
            }
            Err(error) => faults.push(Fault::at("/result", error.to_string())),
        }
        Refusal::unless_faultless(faults)?;
        let at = self.at.unwrap_or(unit.now());
        if self.action == VisitAction::Leave && held.order.appliance.is_some() {
            self.leave_safe(unit, caller, &held, at).await?;
        }
        if let Some(state) = self.appliance_state {
            set_appliance_state(unit, caller, &held, state, at).await?;
        }
        let sight = sight::of_order(unit, work_order).await?;
        if !visit::update(unit, &visit, self.expected_version).await? {
            return Err(Refusal::Stale { what: "visit", current: visit.version });
        }
        if let Some(at) = visit.times.called_off_at {
            visit::end_presence(unit, self.id, at).await?;
            sight.tell_losses(unit).await?;
        }
        let why = self.why.unwrap_or_else(|| self.action.to_string());
        unit.record(held.change("visit.moved", self.id).because(why));
        let visit = written(visit::get(unit, self.id).await?, "visit")?;
        let stands = match held.order.appliance {
            Some(appliance) => appliance_state::get(unit, appliance).await?.map(|place| place.state),
            None => None,
        };
        Ok(VisitMoved { visit, stands })
    }
}

impl MoveVisit {
    /// Whoever leaves while an interlock is defeated leaves a machine that may wash with its door open.
    async fn leave_safe(
        &self,
        unit: &mut UnitOfWork,
        caller: &Caller,
        held: &Held,
        at: Timestamp,
    ) -> Result<(), Refusal> {
        let defeats = interlock_defeat::of_order_within(unit, held.order.id).await?;
        if defeats.iter().any(|defeat| defeat.removed_at.is_none()) {
            let why = "It was left while an interlock was defeated.".to_owned();
            stop_machine(unit, caller, held, &[Danger::DefeatedInterlock], why, at).await?;
        }
        Ok(())
    }
}
