use domain::danger::Danger;
use domain::id::{ApplianceId, WorkOrderId};
use domain::role::Role;
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{ApplianceState, Missing, Urgency};
use store::appliance_state::Set;
use store::work_order::{self, Money, WorkOrder};
use store::{ReadScope, UnitOfWork, appliance_state, call, sight};

use super::hold::{Held, hold, require};
use crate::stop::{Stopping, stop_use};
use crate::use_case::written;
use crate::{Caller, Refusal, UseCase};

/// Changes some fields of an order. An absent field stays; `Some(None)` empties it.
pub struct UpdateWorkOrder {
    pub id: WorkOrderId,
    pub expected_version: i64,
    pub urgency: Option<Urgency>,
    /// Confirms which appliance it is. A technician may change this and nothing else.
    pub appliance: Option<ApplianceId>,
    pub symptoms: Option<Vec<Key>>,
    pub spending_limit: Option<Option<Money>>,
}

const OFFICE: &[Role] = &[Role::Dispatcher, Role::Manager, Role::Administrator, Role::Integration];

impl UseCase for UpdateWorkOrder {
    const NAME: &'static str = "update_work_order";
    type Outcome = WorkOrder;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<WorkOrder, Refusal> {
        let role = caller.principal.role;
        let office_only = self.urgency.is_some() || self.symptoms.is_some() || self.spending_limit.is_some();
        if office_only && !OFFICE.contains(&role) {
            return Err(Refusal::WrongRole { role, allowed: OFFICE });
        }
        let mut held = hold(unit, caller, self.id).await?;
        if held.order.version != self.expected_version {
            return Err(Refusal::Stale { what: "work order", current: held.order.version });
        }
        held.require_open()?;
        let sight = sight::of_order(unit, self.id).await?;
        let mut changed = Vec::new();
        if let Some(appliance) = self.appliance
            && held.order.appliance != Some(appliance)
        {
            confirm(unit, caller, &mut held, appliance).await?;
            changed.push("appliance_id");
        }
        if let Some(urgency) = self.urgency {
            held.order.urgency = urgency;
            changed.push("urgency");
        }
        if let Some(limit) = self.spending_limit {
            held.order.spending_limit = limit;
            changed.push("spending_limit");
        }
        if let Some(symptoms) = &self.symptoms {
            work_order::set_symptoms(unit, self.id, symptoms).await?;
            changed.push("symptoms");
        }
        if !work_order::update(unit, &held.order, self.expected_version).await? {
            return Err(Refusal::Stale { what: "work order", current: held.order.version });
        }
        if changed.contains(&"appliance_id") {
            sight.tell_losses(unit).await?;
        }
        unit.record(held.change("work_order.changed", self.id).fields(changed));
        written(work_order::get(unit, self.id).await?, "work order")
    }
}

/// Says which appliance the order is about: once evidence stands, it stays.
async fn confirm(
    unit: &mut UnitOfWork,
    caller: &Caller,
    held: &mut Held,
    appliance: ApplianceId,
) -> Result<(), Refusal> {
    let at = "/appliance_id";
    let place = appliance_state::get(unit, appliance).await?;
    let place = place.ok_or_else(|| Refusal::invalid(at, "there is no such appliance"))?;
    if place.site != held.order.site {
        return Err(Refusal::invalid(at, "stands at another site than the order"));
    }
    if held.order.appliance.is_none() {
        // Runs that came before anybody knew which machine it is stand if they are of this one.
        let others = work_order::runs_of_others(unit, held.order.id, appliance).await?;
        if !others.is_empty() {
            let listed: Vec<String> = others.iter().map(ToString::to_string).collect();
            return Err(Refusal::Conflict {
                detail: format!(
                    "under this order stand runs of another machine: {}. Take them back (retraction_reason), or confirm that \
                     machine",
                    listed.join(", ")
                ),
            });
        }
    } else if work_order::has_evidence(unit, held.order.id).await? {
        return Err(Refusal::Conflict {
            detail: "readings, findings or actions of this order belong to the appliance it has; put the wrong unit right \
                by a correction of the order's machine"
                .to_owned(),
        });
    }
    held.order.appliance = Some(appliance);
    // The caller was told not to use it before anybody knew which one it was.
    let call = match held.order.call {
        Some(id) => call::get(unit, &ReadScope::everything(), id).await?,
        None => None,
    };
    if let Some(call) = call.filter(|call| call.stop_use) {
        let (at, why) = (call.received_at, format!("The caller was told not to use it: {}", call.words));
        stop_machine(unit, caller, held, &call.dangers, why, at).await?;
    }
    Ok(())
}

/// Stops the use of the order's machine.
pub(crate) async fn stop_machine(
    unit: &mut UnitOfWork,
    caller: &Caller,
    held: &Held,
    dangers: &[Danger],
    why: String,
    at: Timestamp,
) -> Result<(), Refusal> {
    let Some(appliance) = held.order.appliance else { return require(&[Missing::Appliance]) };
    let (site, work_order) = (held.order.site, Some(held.order.id));
    stop_use(unit, caller, Stopping { appliance, site, work_order, dangers, why, at }).await?;
    Ok(())
}

/// Sets the state of the order's appliance, and says so in the trail. What is unsafe stays so, whatever is said.
pub(crate) async fn set_appliance_state(
    unit: &mut UnitOfWork,
    caller: &Caller,
    held: &Held,
    state: ApplianceState,
    at: Timestamp,
) -> Result<(), Refusal> {
    let Some(appliance) = held.order.appliance else { return require(&[Missing::Appliance]) };
    if state == ApplianceState::UnsafeDoNotUse {
        return stop_machine(unit, caller, held, &[], "Whoever was there left it as unsafe.".to_owned(), at)
            .await;
    }
    let why = match appliance_state::set(unit, appliance, state).await? {
        Set::AsItWas => return Ok(()),
        Set::Changed => state.to_string(),
        Set::KeptUnsafe => format!("kept unsafe_do_not_use; {state} was said"),
    };
    unit.record(held.change("appliance.state_set", appliance).fields(vec!["state"]).because(why));
    Ok(())
}
