use domain::id::PersonId;
use store::visit::{self, NewVisit, Visit};
use store::{Creation, UnitOfWork, work_order};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{hold, require};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Books a visit.
pub struct BookVisit(pub NewVisit);

impl UseCase for BookVisit {
    const NAME: &'static str = "create_visit";
    type Outcome = Created<Visit>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        let hash = body_sha256(&new)?;
        let known = visit::known_hash(unit, new.id).await?;
        let creation = if let Some(creation) = Creation::of_known(known.as_deref(), &hash) {
            creation
        } else {
            check_people(unit, &new.people).await?;
            let situation = work_order::situation(unit, &held.order).await?;
            require(&situation.missing_for_visit())?;
            visit::insert(unit, &new, &hash).await?
        };
        let is_new = is_new(creation, "visit")?;
        if is_new {
            unit.record(held.change("visit.booked", new.id));
        }
        let item = written(visit::get(unit, new.id).await?, "visit")?;
        Ok(Created { item, is_new })
    }
}

/// Names everybody who cannot be sent.
pub(super) async fn check_people(unit: &mut UnitOfWork, people: &[PersonId]) -> Result<(), Refusal> {
    let unavailable = visit::not_available(unit, people).await?;
    let faults = people.iter().enumerate().filter(|(_, person)| unavailable.contains(person));
    Refusal::unless_faultless(
        faults
            .map(|(index, _)| {
                Fault::at(format!("/people/{index}"), "nobody active in the company has this id")
            })
            .collect(),
    )
}
