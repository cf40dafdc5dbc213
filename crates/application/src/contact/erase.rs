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
        let mut contact = contact::get(unit, self.0).await?.ok_or(missing)?;
        if contact.erased_at.is_some() {
            return Ok(());
        }
        contact.name = None;
        contact.phone = None;
        contact.erased_at = Some(unit.now());
        if !contact::update(unit, &contact, contact.version).await? {
            let detail = "the contact was changed at the same moment; repeat the request".to_owned();
            return Err(Refusal::Conflict { detail });
        }
        let change = Change::of("contact.erased", self.0);
        unit.record(match contact.site {
            Some(site) => change.at_site(site),
            None => change,
        });
        Ok(())
    }
}
