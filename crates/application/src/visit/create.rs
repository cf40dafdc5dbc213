use chrono::TimeDelta;
use domain::id::{PersonId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
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
            let overlap_reason = new.overlap_reason.as_ref();
            check_places(unit, new.work_order, new.planned_at, &new.people, overlap_reason).await?;
            let situation = work_order::situation(unit, &held.order).await?;
            require(&situation.missing_for_visit())?;
            visit::insert(unit, &new, &hash).await?
        };
        let is_new = is_new(creation, "visit")?;
        if is_new {
            let change = held.change("visit.booked", new.id);
            unit.record(match &new.overlap_reason {
                Some(reason) => change.because(reason.as_str()),
                None => change,
            });
        }
        let item = written(visit::get(unit, new.id).await?, "visit")?;
        Ok(Created { item, is_new })
    }
}

/// Two visits that are planned nearer to each other than this, in two kitchens, want a word (common practice, no source).
const NEAR: TimeDelta = TimeDelta::hours(2);

/// Names everybody who is booked at two places about one time, unless a reason is given.
pub(super) async fn check_places(
    unit: &mut UnitOfWork,
    order: WorkOrderId,
    planned_at: Timestamp,
    people: &[PersonId],
    overlap_reason: Option<&Words>,
) -> Result<(), Refusal> {
    if overlap_reason.is_some() {
        return Ok(());
    }
    let around = |by: TimeDelta| Timestamp::new(planned_at.instant() + by).unwrap_or(planned_at);
    let bookings = visit::bookings_elsewhere(unit, people, order, (around(-NEAR), around(NEAR))).await?;
    let faults = bookings.into_iter().map(|booking| {
        let index = people.iter().position(|person| *person == booking.person).unwrap_or_default();
        let detail = format!(
            "{} is booked for order {} in another kitchen at {}: send somebody else, plan another time, or say why in \
             overlap_reason",
            booking.name, booking.order_number, booking.planned_at
        );
        Fault::at(format!("/people/{index}"), detail)
    });
    Refusal::unless_faultless(faults.collect())
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
