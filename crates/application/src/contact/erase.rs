use domain::id::ContactId;
use store::contact;
use store::{Change, UnitOfWork};

use crate::{Caller, Refusal, UseCase};

/// Takes a person's name and phone out for good; calls and approvals keep the empty contact.
pub struct EraseContact(pub ContactId);

impl UseCase for EraseContact {
    const NAME: &'static str = "erase_contact";
    type Outcome = ();

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<(), Refusal> {
        let missing = Refusal::NotFound { what: "contact" };
        let contact = contact::get(unit, self.0).await?.ok_or(missing)?;
        if !contact::erase(unit, self.0).await? {
            return Ok(());
        }
        let change = Change::of("contact.erased", self.0);
        unit.record(match contact.site {
            Some(site) => change.at_site(site),
            None => change,
        });
        Ok(())
    }
}
