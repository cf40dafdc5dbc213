use domain::id::PersonId;
use domain::procedure::{self, DefeatError, DefeatOpening, LONGEST_DEFEAT_MINUTES};
use domain::role::Role;
use store::interlock_defeat::{self, InterlockDefeat, NewInterlockDefeat, SecondPerson};
use store::{Creation, UnitOfWork, contact, person, place, work_order};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{hold, not_in_future};
use crate::{Caller, Created, Fault, Refusal, UseCase};

/// Records that an interlock is defeated for a test: by whom, beside whom, until when. A procedure's own
/// limit, which may be shorter, is held against the test run.
pub struct OpenInterlockDefeat(pub NewInterlockDefeat);

impl UseCase for OpenInterlockDefeat {
    const NAME: &'static str = "create_interlock_defeat";
    type Outcome = Created<InterlockDefeat>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold(unit, caller, new.work_order).await?;
        let hash = body_sha256(&new)?;
        let known = interlock_defeat::known_hash(unit, new.id).await?;
        let opened_by = caller.principal.person;
        let creation = if let Some(creation) = Creation::of_known(known.as_deref(), &hash) {
            creation
        } else {
            held.require_open()?;
            check(unit, &new, caller).await?;
            interlock_defeat::insert(unit, &new, opened_by, &hash).await?
        };
        let is_new = is_new(creation, "interlock defeat")?;
        if is_new {
            let why = format!("until {}", new.expires_at);
            unit.record(held.change("interlock.defeated", new.id).because(why));
        }
        let item = written(interlock_defeat::get(unit, new.id).await?, "interlock defeat")?;
        Ok(Created { item, is_new })
    }
}

async fn check(unit: &mut UnitOfWork, new: &NewInterlockDefeat, caller: &Caller) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    not_in_future("/opened_at", new.opened_at, unit.now(), &mut faults);
    let colleague = check_second(unit, new, caller, &mut faults).await?;
    let opening = DefeatOpening {
        opened_by: caller.principal.person,
        second_person: colleague,
        opened_at: new.opened_at.unwrap_or(unit.now()),
        expires_at: new.expires_at,
    };
    let of_job = interlock_defeat::of_order_within(unit, new.work_order).await?;
    let states: Vec<_> = of_job.iter().map(InterlockDefeat::state).collect();
    match procedure::check_opening(LONGEST_DEFEAT_MINUTES, &opening, &states) {
        Ok(()) => {}
        Err(error @ DefeatError::SamePerson) => {
            faults.push(Fault::at("/second_person_id", error.to_string()));
        }
        Err(error @ DefeatError::TooLong { .. }) => faults.push(Fault::at("/expires_at", error.to_string())),
        Err(error) => {
            let missing = vec![error.to_string()];
            return Err(Refusal::NotNow { detail: error.to_string(), missing });
        }
    }
    Refusal::unless_faultless(faults)
}

/// Whoever stands by is there, is one of those whom he is said to be, and is never the caller himself; returns whom of ours.
async fn check_second(
    unit: &mut UnitOfWork,
    new: &NewInterlockDefeat,
    caller: &Caller,
    faults: &mut Vec<Fault>,
) -> Result<Option<PersonId>, Refusal> {
    let is_caller = |name: &str| procedure::is_same_name(name, &caller.principal.name);
    let same = DefeatError::SamePerson.to_string();
    match &new.second {
        SecondPerson::Colleague(id) => {
            let known = person::get(unit, *id).await?;
            if !known.is_some_and(|person| person.active && person.role != Role::Integration) {
                faults.push(Fault::at("/second_person_id", "is nobody who works here"));
            }
            Ok(Some(*id))
        }
        SecondPerson::Contact(id) => {
            let site = work_order::get(unit, new.work_order).await?.map(|order| order.site);
            let is_known = match site {
                Some(site) => place::contact_belongs_to(unit, *id, site).await?,
                None => false,
            };
            let name = contact::get(unit, *id).await?.and_then(|contact| contact.name);
            if !is_known {
                let detail = "is no contact of the order's kitchen or of its customer";
                faults.push(Fault::at("/second_contact_id", detail));
            } else if name.is_some_and(|name| is_caller(name.as_str())) {
                faults.push(Fault::at("/second_contact_id", same));
            }
            Ok(None)
        }
        SecondPerson::OfKitchen(name) => {
            let is_ours = |ours: &String| procedure::is_same_name(name.as_str(), ours);
            if is_caller(name.as_str()) {
                faults.push(Fault::at("/second_person", same));
            } else if person::names_of_people(unit).await?.iter().any(is_ours) {
                let detail = "is the name of one of ours: say who it is in second_person_id";
                faults.push(Fault::at("/second_person", detail));
            } else if !name.as_str().chars().any(char::is_alphabetic) {
                faults.push(Fault::at("/second_person", "is no name"));
            }
            Ok(None)
        }
    }
}
