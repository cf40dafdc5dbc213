use std::collections::BTreeSet;

use domain::danger::told_by;
use domain::work::{OrderKind, Urgency};
use store::call::{self, NewCall};
use store::work_order::NewWorkOrder;
use store::{Change, Creation, ReadScope, UnitOfWork, place};

use super::intake::{Intake, intake};
use crate::stop::{Stopping, stop_use};
use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{insert_new, not_in_future, order_faults};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Takes a call, with all orders that it opens.
pub struct TakeCall {
    pub call: NewCall,
    /// Of kind corrective, at the call's site; the call's own id and time are put in.
    pub orders: Vec<NewWorkOrder>,
}

impl UseCase for TakeCall {
    const NAME: &'static str = "create_call";
    type Outcome = Created<Intake>;

    async fn carry_out(mut self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let hash = body_sha256(&(&self.call, &self.orders))?;
        self.hear();
        // What is there already is not held against what has changed since.
        let known = call::known_hash(unit, self.call.id).await?;
        let creation = if let Some(creation) = Creation::of_known(known.as_deref(), &hash) {
            creation
        } else {
            self.check(unit).await?;
            call::insert(unit, &self.call, caller.principal.person, &hash).await?
        };
        let is_new = is_new(creation, "call")?;
        if is_new {
            unit.record(Change::of("call.taken", self.call.id).at_site(self.call.site));
            for order in &self.orders {
                if !insert_new(unit, order).await? {
                    return Err(Refusal::IdTaken { what: "work order" });
                }
            }
            if self.call.stop_use {
                self.stop_use(unit, caller).await?;
            }
        }
        let everything = ReadScope::everything();
        let call = written(call::get(unit, &everything, self.call.id).await?, "call")?;
        Ok(Created { item: intake(unit, call).await?, is_new })
    }
}

impl TakeCall {
    /// Everything that does not fit what is stored, or does not fit together.
    async fn check(&self, unit: &mut UnitOfWork) -> Result<(), Refusal> {
        let call = &self.call;
        let mut faults = Vec::new();
        not_in_future("/received_at", call.received_at, unit.now(), &mut faults);
        if !call.dangers.is_empty() && !call.stop_use && call.continued_use_reason.is_none() {
            faults.push(Fault::at(
                "/stop_use",
                "a danger was told: set stop_use, or say in continued_use_reason why the machine may stay in use",
            ));
        }
        if call.continued_use_reason.is_some() && (call.stop_use || call.dangers.is_empty()) {
            faults.push(Fault::at(
                "/continued_use_reason",
                "belongs to a call with a danger and without stop_use; leave it out",
            ));
        }
        let site_exists = place::site_exists(unit, call.site).await?;
        if !site_exists {
            faults.push(Fault::at("/site_id", "no site has this id"));
        }
        if let Some(contact) = call.contact
            && site_exists
            && !place::contact_belongs_to(unit, contact, call.site).await?
        {
            faults.push(Fault::at("/contact_id", "is no contact of this site or of its customer"));
        }
        let (mut ids, mut appliances) = (BTreeSet::new(), BTreeSet::new());
        for (index, order) in self.orders.iter().enumerate() {
            let at = format!("/orders/{index}");
            if !ids.insert(order.id) {
                faults.push(Fault::at(format!("{at}/id"), "is given to two orders; make an id for each"));
            }
            if order.appliance.is_some_and(|appliance| !appliances.insert(appliance)) {
                let detail = "has an order in this call already; put its symptoms together";
                faults.push(Fault::at(format!("{at}/appliance_id"), detail));
            }
            faults.extend(order_faults(unit, order, &at).await?);
        }
        Refusal::unless_faultless(faults)
    }

    /// Hears the danger in a symptom, ticked or not, and makes a machine over which nobody gave a reason to go on urgent.
    fn hear(&mut self) {
        let symptoms = self.orders.iter().flat_map(|order| &order.symptoms);
        for told in symptoms.filter_map(|symptom| symptom.as_str().parse().ok().and_then(told_by)) {
            if !self.call.dangers.contains(&told) {
                self.call.dangers.push(told);
            }
        }
        if !self.call.dangers.is_empty() && self.call.stop_use {
            self.call.urgency = Urgency::Danger;
            for order in &mut self.orders {
                order.urgency = Urgency::Danger;
            }
        }
    }

    async fn stop_use(&self, unit: &mut UnitOfWork, caller: &Caller) -> Result<(), Refusal> {
        for order in self.orders.iter().filter(|order| order.kind == OrderKind::Corrective) {
            let Some(appliance) = order.appliance else { continue };
            let stopping = Stopping {
                appliance,
                site: order.site,
                work_order: Some(order.id),
                dangers: &self.call.dangers,
                why: format!("The caller was told not to use it: {}", self.call.words),
                at: self.call.received_at.unwrap_or(unit.now()),
            };
            stop_use(unit, caller, stopping).await?;
        }
        Ok(())
    }
}
