use store::known_good_removal::{self, NewRemoval, Removal};
use store::{Change, UnitOfWork};

use crate::use_case::{body_sha256, is_new, written};
use crate::{Caller, Created, Refusal, UseCase};

/// Takes a reading out of the references for a coded reason, or back in without one. What is in force
/// shows in the next knowledge version.
pub struct RemoveFromKnownGood(pub NewRemoval);

impl UseCase for RemoveFromKnownGood {
    const NAME: &'static str = "create_known_good_removal";
    type Outcome = Created<Removal>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let missing = || Refusal::invalid("/test_run_id", "no test run has this id");
        let place = known_good_removal::place(unit, new.test_run).await?.ok_or_else(missing)?;
        let by = caller.principal.person;
        let creation = known_good_removal::insert(unit, &new, by, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "removal")?;
        if is_new {
            let kind = if new.reason.is_some() {
                "known_good.reading_removed"
            } else {
                "known_good.reading_returned"
            };
            let change = Change::of(kind, new.id).at_site(place.site).on_appliance(Some(place.appliance));
            let why = new.reason.map(|reason| reason.word().to_owned());
            let change = change.on_order(place.work_order);
            unit.record(why.into_iter().fold(change, Change::because));
        }
        let item = written(known_good_removal::get(unit, new.id).await?, "removal")?;
        Ok(Created { item, is_new })
    }
}
