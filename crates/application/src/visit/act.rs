use domain::id::VisitId;
use domain::time::Timestamp;
use domain::work::{self, ApplianceState, VisitAction, VisitError, VisitResult};
use store::UnitOfWork;
use store::visit::{self, Visit};

use crate::use_case::written;
use crate::work_order::{hold, not_in_future, set_appliance_state};
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

impl UseCase for MoveVisit {
    const NAME: &'static str = "act_on_visit";
    type Outcome = Visit;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Visit, Refusal> {
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
        if let Some(state) = self.appliance_state {
            set_appliance_state(unit, &held, state).await?;
        }
        if !visit::update(unit, &visit, self.expected_version).await? {
            return Err(Refusal::Stale { what: "visit", current: visit.version });
        }
        if let Some(at) = visit.times.called_off_at {
            visit::end_presence(unit, self.id, at).await?;
        }
        let why = self.why.unwrap_or_else(|| self.action.to_string());
        unit.record(held.change("visit.moved", self.id).because(why));
        written(visit::get(unit, self.id).await?, "visit")
    }
}
