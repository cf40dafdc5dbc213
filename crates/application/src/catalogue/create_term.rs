use domain::text::{Key, Text};
use domain::vocabulary;
use store::term::{self, Term, TermList};
use store::{Change, Creation, UnitOfWork};

use crate::{Caller, Created, Refusal, UseCase};

/// Takes an entry of the company's own into one of the lists that may be extended.
pub struct CreateTerm {
    pub list: TermList,
    pub key: Key,
    pub description: Text<1, 500>,
}

impl UseCase for CreateTerm {
    const NAME: &'static str = "create_term";
    type Outcome = Created<Term>;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Self::Outcome, Refusal> {
        let may_be_extended =
            vocabulary::lists().iter().any(|list| list.name == self.list.word() && list.may_be_extended);
        if !may_be_extended {
            let detail = "the computation depends on each entry of this list: it cannot be extended";
            return Err(Refusal::invalid("/list", detail));
        }
        let (key, description) = (self.key.as_str(), self.description.as_str());
        let is_new = match term::insert(unit, self.list, key, description).await? {
            Creation::Created => true,
            Creation::AlreadyThere => false,
            Creation::Differs => {
                let detail = format!("the list has an entry {key} already, with another description");
                return Err(Refusal::Conflict { detail });
            }
        };
        if is_new {
            let subject = unit.next_id();
            let why = format!("{} {key}: {description}", self.list);
            unit.record(Change::of("term.created", subject).because(why));
        }
        let item = Term { key: key.to_owned(), description: Some(description.to_owned()), built_in: false };
        Ok(Created { item, is_new })
    }
}
