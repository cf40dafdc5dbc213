//! The people of the company: who may do what, and where each is signed in.

use domain::id::PersonId;
use store::PageRequest;
use store::person;
use store::sign_in;
use store::token;

pub use store::person::{NewPerson, Person};
pub use store::token::Token;

use crate::{Application, Caller, Question, Refusal};

/// Everybody, those who left too.
#[derive(Debug, Clone, Copy)]
pub struct SeePeople;

/// More people than this are not on one page.
const MOST: PageRequest = PageRequest { after: None, oldest_first: true, limit: 500 };

impl Question for SeePeople {
    const NAME: &'static str = "see_people";
    type Answer = Vec<Person>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Person>, Refusal> {
        let mut people = person::list(application.database(), None, None, &MOST).await?.items;
        people.sort_by_key(|person| (!person.active, person.name.as_str().to_lowercase()));
        Ok(people)
    }
}

/// One person.
#[derive(Debug, Clone, Copy)]
pub struct SeePerson(pub PersonId);

#[derive(Debug)]
pub struct PersonFile {
    pub person: Person,
    /// By which name; none where no password is set.
    pub signs_in_as: Option<String>,
    /// What has not ended, newest first; told to whoever may end it.
    pub tokens: Option<Vec<Token>>,
}

impl Question for SeePerson {
    const NAME: &'static str = "see_people";
    type Answer = PersonFile;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<PersonFile, Refusal> {
        let database = application.database();
        let missing = Refusal::NotFound { what: "person" };
        let person = person::find(database, self.0).await?.ok_or(missing)?;
        let now = application.now();
        let tokens = if caller.require("list_tokens").is_ok() {
            let mut tokens = token::of_person(database, self.0).await?;
            tokens.retain(|token| {
                token.revoked_at.is_none() && token.expires_at.is_none_or(|expires_at| expires_at > now)
            });
            Some(tokens)
        } else {
            None
        };
        let signs_in_as = sign_in::of_person(database, self.0).await?;
        let signs_in_as = signs_in_as.filter(|of| of.password.is_some()).map(|of| of.name);
        Ok(PersonFile { person, signs_in_as, tokens })
    }
}
