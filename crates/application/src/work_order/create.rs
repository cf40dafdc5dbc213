use domain::work::OrderKind;
use store::work_order::{self, NewWorkOrder, WorkOrder};
use store::{Change, Creation, ReadScope, UnitOfWork, appliance_state, call, place};

use super::hold::not_in_future;
use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Opens an order without a call, or one that follows an order that has ended.
pub struct CreateWorkOrder(pub NewWorkOrder);

impl UseCase for CreateWorkOrder {
    const NAME: &'static str = "create_work_order";
    type Outcome = Created<WorkOrder>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let hash = body_sha256(&new)?;
        let known = work_order::known_hash(unit, new.id).await?;
        let creation = Creation::of_known(known.as_deref(), &hash);
        if creation.is_none() {
            let mut faults = faults_of(unit, &new, "").await?;
            not_in_future("/received_at", new.received_at, unit.now(), &mut faults);
            if new.kind == OrderKind::Corrective && new.symptoms.is_empty() && new.follows.is_none() {
                faults.push(Fault::at("/symptoms", "a corrective order has at least one symptom"));
            }
            if !place::site_exists(unit, new.site).await? {
                faults.push(Fault::at("/site_id", "no site has this id"));
            }
            Refusal::unless_faultless(faults)?;
        }
        let is_new = match creation {
            Some(creation) => is_new(creation, "work order")?,
            None => insert_new(unit, &new).await?,
        };
        let item = written(work_order::get(unit, new.id).await?, "work order")?;
        Ok(Created { item, is_new })
    }
}

/// Inserts an order and records it; false if it was there before.
pub(crate) async fn insert_new(unit: &mut UnitOfWork, new: &NewWorkOrder) -> Result<bool, Refusal> {
    let creation = work_order::insert(unit, new, &body_sha256(new)?).await?;
    let is_new = is_new(creation, "work order")?;
    if is_new {
        let change = Change::of("work_order.created", new.id).at_site(new.site);
        unit.record(change.on_appliance(new.appliance).on_order(Some(new.id)));
    }
    Ok(is_new)
}

/// What of an order does not fit what is stored; `at` is where the order stands in the body.
pub(crate) async fn faults_of(
    unit: &mut UnitOfWork,
    new: &NewWorkOrder,
    at: &str,
) -> Result<Vec<Fault>, Refusal> {
    let mut faults = Vec::new();
    let known = place::known_symptoms(unit, &new.symptoms).await?;
    for (index, symptom) in new.symptoms.iter().enumerate() {
        if !known.iter().any(|code| code == symptom.as_str()) {
            faults.push(Fault::at(
                format!("{at}/symptoms/{index}"),
                "is not in the company's list of symptoms",
            ));
        }
    }
    if let Some(appliance) = new.appliance {
        match appliance_state::get(unit, appliance).await? {
            Some(place) if place.site == new.site => {}
            Some(_) => faults.push(Fault::at(
                format!("{at}/appliance_id"),
                "stands at another site; leave it out if it is not known which appliance it is",
            )),
            None => faults.push(Fault::at(format!("{at}/appliance_id"), "there is no such appliance")),
        }
    }
    if at.is_empty()
        && let Some(call) = new.call
    {
        match call::get(unit, &ReadScope::everything(), call).await? {
            Some(call) if call.site == new.site => {}
            Some(_) => faults.push(Fault::at("/call_id", "came from another site")),
            None => faults.push(Fault::at("/call_id", "no call has this id")),
        }
    }
    if let Some(follows) = new.follows {
        let pointer = format!("{at}/follows_id");
        match work_order::get(unit, follows).await? {
            None => faults.push(Fault::at(pointer, "there is no such work order")),
            Some(earlier) if earlier.site != new.site => {
                faults.push(Fault::at(pointer, "is an order of another site"));
            }
            Some(earlier) if !earlier.state.has_ended() => {
                faults.push(Fault::at(pointer, "is still open: go on with it instead of opening another"));
            }
            Some(earlier)
                if new.appliance.is_some()
                    && earlier.appliance.is_some()
                    && earlier.appliance != new.appliance =>
            {
                faults.push(Fault::at(pointer, "is an order of another appliance"));
            }
            Some(_) => {}
        }
    }
    Ok(faults)
}
