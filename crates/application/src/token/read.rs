use domain::id::PersonId;
use store::token::Token;
use store::{person, token};

use crate::{Application, Caller, Question, Refusal};

/// The tokens of a person, without their secrets.
#[derive(Debug, Clone, Copy)]
pub struct ListTokens(pub PersonId);

impl Question for ListTokens {
    const NAME: &'static str = "list_tokens";
    type Answer = Vec<Token>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Token>, Refusal> {
        let found = person::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "person" })?;
        Ok(token::of_person(application.database(), self.0).await?)
    }
}
