use domain::procedure::{self, DefeatError, DefeatOpening, LONGEST_DEFEAT_MINUTES};
use store::interlock_defeat::{self, InterlockDefeat, NewInterlockDefeat};
use store::{Creation, UnitOfWork};

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
    let opening = DefeatOpening {
        opened_by: caller.principal.person,
        second_person: is_caller(new.second_person.as_str(), caller).then_some(caller.principal.person),
        opened_at: new.opened_at.unwrap_or(unit.now()),
        expires_at: new.expires_at,
    };
    let of_job = interlock_defeat::of_order_within(unit, new.work_order).await?;
    let states: Vec<_> = of_job.iter().map(InterlockDefeat::state).collect();
    match procedure::check_opening(LONGEST_DEFEAT_MINUTES, &opening, &states) {
        Ok(()) => {}
        Err(error @ DefeatError::SamePerson) => faults.push(Fault::at("/second_person", error.to_string())),
        Err(error @ DefeatError::TooLong { .. }) => faults.push(Fault::at("/expires_at", error.to_string())),
        Err(error) => {
            let missing = vec![error.to_string()];
            return Err(Refusal::NotNow { detail: error.to_string(), missing });
        }
    }
    Refusal::unless_faultless(faults)
}

fn is_caller(name: &str, caller: &Caller) -> bool {
    name.trim().to_lowercase() == caller.principal.name.trim().to_lowercase()
}
