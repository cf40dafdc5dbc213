//! One question for everything that can be named.

pub use store::search::Found;

use crate::{Application, Caller, Question, Refusal};

/// Kitchens, machines, orders, people and customers that these words name.
#[derive(Debug, Clone)]
pub struct FindAnything(pub String);

impl Question for FindAnything {
    const NAME: &'static str = "find_anything";
    type Answer = Vec<Found>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Found>, Refusal> {
        // No name has U+0000, and Postgres takes none.
        let words = self.0.replace('\0', "");
        if words.trim().is_empty() {
            return Ok(Vec::new());
        }
        Ok(store::search::find(application.database(), words.trim()).await?)
    }
}

/// The same as the interface asks it, which programs use too.
#[derive(Debug, Clone)]
pub struct Search(pub String);

impl Question for Search {
    const NAME: &'static str = "search";
    type Answer = Vec<Found>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Vec<Found>, Refusal> {
        Ok(store::search::find(application.database(), &self.0).await?)
    }
}
