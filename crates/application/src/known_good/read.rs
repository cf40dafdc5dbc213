use domain::id::{KnownGoodRemovalId, TestRunId};
use domain::known_good::learned::LearnedMeasurement;
use domain::text::Key;
use domain::time::Timestamp;
use store::known_good_removal::{self, Removal};
use store::{Page, PageRequest, knowledge};

use crate::{Application, Caller, Question, Refusal};

/// What healthy machines show.
#[derive(Debug, Clone)]
pub struct ListKnownGood {
    pub model: Option<Key>,
    pub procedure: Option<Key>,
    /// As an earlier knowledge version had it; the newest unless said.
    pub version: Option<i64>,
}

#[derive(Debug)]
pub struct KnownGood {
    /// The knowledge version and when it was made; none before anything was learned.
    pub version: Option<(i64, Timestamp)>,
    pub references: Vec<LearnedMeasurement>,
}

impl Question for ListKnownGood {
    const NAME: &'static str = "list_known_good";
    type Answer = KnownGood;

    async fn answer(self, application: &Application, _: &Caller) -> Result<KnownGood, Refusal> {
        let database = application.database();
        let newest = match self.version {
            Some(n) => Some(n),
            None => knowledge::newest(database).await?,
        };
        let Some(n) = newest else { return Ok(KnownGood { version: None, references: Vec::new() }) };
        let known = knowledge::get(database, n).await?;
        let known = known.ok_or(Refusal::NotFound { what: "knowledge version" })?;
        let is_wanted = |wanted: &Option<Key>, key: &Key| wanted.as_ref().is_none_or(|wanted| wanted == key);
        let wanted = known.known_good.into_iter().filter(|learned| {
            is_wanted(&self.model, &learned.model) && is_wanted(&self.procedure, &learned.of.procedure)
        });
        Ok(KnownGood { version: Some((n, known.made_at)), references: wanted.collect() })
    }
}

/// A decision about a reading in the references.
#[derive(Debug, Clone, Copy)]
pub struct GetKnownGoodRemoval(pub KnownGoodRemovalId);

impl Question for GetKnownGoodRemoval {
    const NAME: &'static str = "get_known_good_removal";
    type Answer = Removal;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Removal, Refusal> {
        let found = known_good_removal::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "entry" })
    }
}

/// Decisions about readings in the references.
#[derive(Debug, Clone)]
pub struct ListKnownGoodRemovals {
    pub test_run: Option<TestRunId>,
    pub page: PageRequest,
}

impl Question for ListKnownGoodRemovals {
    const NAME: &'static str = "list_known_good_removals";
    type Answer = Page<Removal>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Removal>, Refusal> {
        Ok(known_good_removal::list(application.database(), self.test_run, &self.page).await?)
    }
}
