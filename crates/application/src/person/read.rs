use domain::id::PersonId;
use domain::role::Role;
use store::person::{self, Person};
use store::{Page, PageRequest};

use crate::{Application, Caller, Principal, Question, Refusal};

/// Who asks.
#[derive(Debug, Clone, Copy)]
pub struct GetMe;

impl Question for GetMe {
    const NAME: &'static str = "get_me";
    type Answer = Principal;

    async fn answer(self, _: &Application, caller: &Caller) -> Result<Principal, Refusal> {
        Ok(caller.principal.clone())
    }
}

/// Somebody of the company.
#[derive(Debug, Clone, Copy)]
pub struct GetPerson(pub PersonId);

impl Question for GetPerson {
    const NAME: &'static str = "get_person";
    type Answer = Person;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Person, Refusal> {
        let found = person::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "person" })
    }
}

/// People of the company.
#[derive(Debug, Clone)]
pub struct ListPeople {
    /// Part of the name.
    pub search: Option<String>,
    pub role: Option<Role>,
    pub page: PageRequest,
}

impl Question for ListPeople {
    const NAME: &'static str = "list_people";
    type Answer = Page<Person>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Person>, Refusal> {
        Ok(person::list(application.database(), self.search.as_deref(), self.role, &self.page).await?)
    }
}
