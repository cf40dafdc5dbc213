use domain::id::{ContactId, CustomerId, SiteId};
use store::contact::{self, Contact};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// A contact.
#[derive(Debug, Clone, Copy)]
pub struct GetContact(pub ContactId);

impl Question for GetContact {
    const NAME: &'static str = "get_contact";
    type Answer = Contact;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Contact, Refusal> {
        let found = contact::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "contact" })
    }
}

/// Contacts.
#[derive(Debug, Clone)]
pub struct ListContacts {
    pub customer: Option<CustomerId>,
    pub site: Option<SiteId>,
    /// Part of the name, or the last digits of the phone.
    pub search: Option<String>,
    pub page: PageRequest,
}

impl Question for ListContacts {
    const NAME: &'static str = "list_contacts";
    type Answer = Page<Contact>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Contact>, Refusal> {
        Ok(contact::list(
            application.database(),
            self.customer,
            self.site,
            self.search.as_deref(),
            &self.page,
        )
        .await?)
    }
}
