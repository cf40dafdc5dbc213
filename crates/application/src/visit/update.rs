use domain::id::{PersonId, VisitId};
use domain::text::Words;
use domain::time::Timestamp;
use store::visit::{self, Visit};
use store::{UnitOfWork, sight};

use super::create::{check_people, check_places};
use crate::use_case::written;
use crate::work_order::hold;
use crate::{Caller, Refusal, UseCase};

/// Changes when a visit is planned and who is sent, while it is open.
pub struct UpdateVisit {
    pub id: VisitId,
    pub expected_version: i64,
    pub planned_at: Option<Timestamp>,
    pub people: Option<Vec<PersonId>>,
    /// Why somebody is booked who is booked elsewhere about that time.
    pub overlap_reason: Option<Words>,
}

impl UseCase for UpdateVisit {
    const NAME: &'static str = "update_visit";
    type Outcome = Visit;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Visit, Refusal> {
        let missing = Refusal::NotFound { what: "visit" };
        let work_order = visit::get(unit, self.id).await?.ok_or(missing)?.work_order;
        let held = hold(unit, caller, work_order).await?;
        let mut visit = written(visit::get(unit, self.id).await?, "visit")?;
        if visit.version != self.expected_version {
            return Err(Refusal::Stale { what: "visit", current: visit.version });
        }
        if !visit.times.state().is_open() {
            return Err(Refusal::Conflict { detail: "the visit is over; book another".to_owned() });
        }
        let sight = sight::of_order(unit, work_order).await?;
        let mut changed = Vec::new();
        if let Some(planned_at) = self.planned_at {
            if visit.times.arrived_at.is_some() {
                return Err(Refusal::Conflict { detail: "somebody is there already".to_owned() });
            }
            visit.times.planned_at = planned_at;
            changed.push("planned_at");
        }
        if let Some(people) = &self.people {
            check_people(unit, people).await?;
            visit::set_people(unit, self.id, people).await?;
            changed.push("people");
        }
        let people = self.people.as_ref().unwrap_or(&visit.people);
        if !changed.is_empty() && visit.times.arrived_at.is_none() {
            let reason = self.overlap_reason.as_ref();
            check_places(unit, work_order, visit.times.planned_at, people, reason).await?;
        }
        if !visit::update(unit, &visit, self.expected_version).await? {
            return Err(Refusal::Stale { what: "visit", current: visit.version });
        }
        if changed.contains(&"people") {
            sight.tell_losses(unit).await?;
        }
        unit.record(held.change("visit.changed", self.id).fields(changed));
        written(visit::get(unit, self.id).await?, "visit")
    }
}
