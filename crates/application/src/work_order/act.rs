use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use domain::id::{ContactId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::work::{self, ApplianceState, OrderAction, OrderMove, Outcome, SymptomResult};
use store::work_order::{self, WorkOrder};
use store::{UnitOfWork, place, waiting};

use super::freeze::freeze;
use super::hold::{Held, hold, not_in_future, require};
use super::proof;
use super::update::set_appliance_state;
use crate::use_case::written;
use crate::versions::Versions;
use crate::{Caller, Fault, Refusal, UseCase};

/// Moves an order from one state to another.
pub struct MoveWorkOrder {
    pub versions: Arc<Versions>,
    pub id: WorkOrderId,
    pub expected_version: i64,
    pub action: OrderAction,
    pub saying: MoveSaying,
}

/// What a move says besides its name.
#[derive(Debug, Clone, Default)]
pub struct MoveSaying {
    /// With `report_repaired`: when the machine worked again.
    pub restored_at: Option<Timestamp>,
    /// With `prove`: what became of each symptom of the complaint.
    pub symptoms: BTreeMap<Key, SymptomResult>,
    /// With `close`.
    pub outcome: Option<Outcome>,
    /// With `close`: in which state the appliance is left.
    pub appliance_state: Option<ApplianceState>,
    /// With `close`: who signed at the customer's.
    pub signed_off_by: Option<ContactId>,
    /// With `cancel` and `resume_repair`.
    pub why: Option<String>,
}

impl UseCase for MoveWorkOrder {
    const NAME: &'static str = "act_on_work_order";
    type Outcome = WorkOrder;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<WorkOrder, Refusal> {
        let mut held = hold(unit, caller, self.id).await?;
        if held.order.version != self.expected_version {
            return Err(Refusal::Stale { what: "work order", current: held.order.version });
        }
        let order_move = self.as_move(&held.order, unit.now())?;
        let mut situation = work_order::situation(unit, &held.order).await?;
        let repaired = self.saying.outcome == Some(Outcome::Repaired);
        if self.action == OrderAction::Prove || repaired {
            situation.proof = proof::of_order(unit, &self.versions, &held.order).await?;
            let with = |result| {
                let said = self.saying.symptoms.iter().filter(move |(_, said)| **said == result);
                said.map(|(symptom, _)| symptom.clone()).collect()
            };
            situation.proof.remaining = with(SymptomResult::Remains);
            situation.proof.not_tried = with(SymptomResult::NotTried);
        }
        require(&work::check(&situation, order_move))?;
        self.check_symptoms(&held.order)?;
        let from = held.order.state;
        held.order.state = work::after(self.action);
        let changed = self.apply(unit, caller, &mut held).await?;
        if !work_order::update(unit, &held.order, self.expected_version).await? {
            return Err(Refusal::Stale { what: "work order", current: held.order.version });
        }
        if self.action == OrderAction::Close && held.order.appliance.is_some() {
            freeze(unit, &self.versions, self.id).await?;
        }
        let why = self.saying.why.clone().unwrap_or_else(|| format!("{from} to {}", held.order.state));
        let tried = self.saying.symptoms.iter().map(|(symptom, result)| format!("{symptom}: {result}"));
        let why = std::iter::once(why).chain(tried).collect::<Vec<_>>().join("; ");
        unit.record(held.change("work_order.moved", self.id).fields(changed).because(why));
        written(work_order::get(unit, self.id).await?, "work order")
    }
}

impl MoveWorkOrder {
    /// The move, if everything that it has to say is said, and nothing else.
    fn as_move(&self, order: &WorkOrder, now: Timestamp) -> Result<OrderMove, Refusal> {
        let saying = &self.saying;
        let mut faults = Vec::new();
        let mut only_with = |given: bool, pointer: &str, action: OrderAction| {
            if given && self.action != action {
                faults.push(Fault::at(
                    pointer,
                    format!("belongs to {action}; leave it out of {}", self.action),
                ));
            }
        };
        only_with(!saying.symptoms.is_empty(), "/symptoms", OrderAction::Prove);
        only_with(saying.outcome.is_some(), "/outcome", OrderAction::Close);
        only_with(saying.appliance_state.is_some(), "/appliance_state", OrderAction::Close);
        only_with(saying.signed_off_by.is_some(), "/signed_off_by", OrderAction::Close);
        only_with(saying.restored_at.is_some(), "/restored_at", OrderAction::ReportRepaired);
        if self.action == OrderAction::Close && saying.outcome.is_none() {
            faults.push(Fault::at("/outcome", "say how the order ends"));
        }
        if saying.appliance_state.is_some() && order.appliance.is_none() {
            faults.push(Fault::at("/appliance_state", "it is not known which appliance the order is about"));
        }
        if self.action == OrderAction::ReportRepaired {
            not_in_future("/restored_at", saying.restored_at, now, &mut faults);
            match saying.restored_at {
                None => faults.push(Fault::at("/restored_at", "say when the machine worked again")),
                Some(at) if at < order.received_at => faults.push(Fault::at(
                    "/restored_at",
                    format!("must not lie before {}, when the order was received", order.received_at),
                )),
                Some(_) => {}
            }
        }
        Refusal::unless_faultless(faults)?;
        Ok(match (self.action, saying.outcome) {
            (OrderAction::Close, Some(outcome)) => {
                OrderMove::Close { outcome, leaves: saying.appliance_state }
            }
            (OrderAction::Assess | OrderAction::Close, _) => OrderMove::Assess,
            (OrderAction::Plan, _) => OrderMove::Plan,
            (OrderAction::StartRepair, _) => OrderMove::StartRepair,
            (OrderAction::ReportRepaired, _) => OrderMove::ReportRepaired,
            (OrderAction::ResumeRepair, _) => OrderMove::ResumeRepair,
            (OrderAction::Prove, _) => OrderMove::Prove,
            (OrderAction::Cancel, _) => OrderMove::Cancel,
        })
    }

    /// Whoever proves an order has tried every symptom of its complaint, and no other.
    fn check_symptoms(&self, order: &WorkOrder) -> Result<(), Refusal> {
        if self.action != OrderAction::Prove {
            return Ok(());
        }
        let said: BTreeSet<&Key> = self.saying.symptoms.keys().collect();
        let told: BTreeSet<&Key> = order.symptoms.iter().collect();
        if said == told {
            return Ok(());
        }
        let told: Vec<&str> = told.into_iter().map(Key::as_str).collect();
        let results = SymptomResult::WORDS.join(", ");
        let detail = if told.is_empty() {
            "the order has no symptoms; leave them out".to_owned()
        } else {
            format!("say of each symptom of the complaint ({}) what became of it: {results}", told.join(", "))
        };
        Err(Refusal::invalid("/symptoms", detail))
    }

    /// What the move changes besides the state; returns the changed fields' names.
    async fn apply(
        &self,
        unit: &mut UnitOfWork,
        caller: &Caller,
        held: &mut Held,
    ) -> Result<Vec<&'static str>, Refusal> {
        let mut changed = vec!["state"];
        match self.action {
            OrderAction::ReportRepaired => {
                held.order.restored_at = self.saying.restored_at;
                changed.push("restored_at");
            }
            OrderAction::ResumeRepair => {
                held.order.restored_at = None;
                changed.push("restored_at");
            }
            OrderAction::Close | OrderAction::Cancel => {
                held.order.outcome = self.saying.outcome.or(Some(Outcome::Cancelled));
                held.order.closed_at = Some(unit.now());
                if let Some(contact) = self.saying.signed_off_by
                    && !place::contact_belongs_to(unit, contact, held.order.site).await?
                {
                    let detail = "is no contact of the order's kitchen or of its customer";
                    return Err(Refusal::invalid("/signed_off_by", detail));
                }
                held.order.signed_off_by = self.saying.signed_off_by;
                changed.extend(["outcome", "closed_at"]);
                if self.saying.signed_off_by.is_some() {
                    changed.push("signed_off_by");
                }
                if let Some(state) = self.saying.appliance_state {
                    let now = unit.now();
                    set_appliance_state(unit, caller, held, state, now).await?;
                }
                for id in waiting::end_all(unit, self.id).await? {
                    unit.record(held.change("waiting.ended", id));
                }
            }
            OrderAction::Assess | OrderAction::Plan | OrderAction::StartRepair | OrderAction::Prove => {}
        }
        Ok(changed)
    }
}
