//! Carries use cases out.

use std::sync::Arc;

use domain::id::PersonId;
use domain::time::Timestamp;
use store::idempotency::{self, KeptAnswer, KeyState, KeyedRequest};
use store::unit_of_work::Authority;
use store::{Database, UnitOfWork};
use tokio::sync::{Notify, OnceCell};
use tokio_util::task::TaskTracker;

use crate::caller::Caller;
use crate::measures::{self, LastFacts, LastMeasures};
use crate::news::LastLook;
use crate::refusal::Refusal;
use crate::repeats::{self, LastCompared};
use crate::surroundings::{Clock, IdSource};
use crate::use_case::UseCase;
use crate::versions::Versions;

/// What a use case's outcome is answered with.
#[derive(Debug)]
pub struct Rendered {
    pub given: KeptAnswer,
    /// What is remembered for a repeated request, where that is not the answer itself.
    pub kept: Option<KeptAnswer>,
}

/// So often, what nobody can ask for any more is deleted.
const TIDY_EVERY: std::time::Duration = std::time::Duration::from_mins(10);

/// The use cases over one company's database.
#[derive(Debug, Clone)]
pub struct Application {
    database: Database,
    clock: Arc<dyn Clock>,
    ids: Arc<dyn IdSource>,
    versions: Arc<Versions>,
    writes: TaskTracker,
    asked_to_learn: Arc<Notify>,
    token_key: Arc<OnceCell<Vec<u8>>>,
    last_compared: Arc<LastCompared>,
    last_facts: Arc<LastFacts>,
    last_measures: Arc<LastMeasures>,
    last_look: Arc<LastLook>,
}

impl Application {
    pub fn new(database: Database, clock: Arc<dyn Clock>, ids: Arc<dyn IdSource>) -> Self {
        let versions = Arc::new(Versions::new(database.aside()));
        Self {
            database,
            clock,
            ids,
            versions,
            writes: TaskTracker::new(),
            asked_to_learn: Arc::default(),
            token_key: Arc::default(),
            last_compared: Arc::new(LastCompared::new(repeats::FRESH, 1)),
            last_facts: Arc::default(),
            last_measures: Arc::new(LastMeasures::new(measures::FRESH, measures::MOST_KEPT)),
            last_look: Arc::default(),
        }
    }

    /// The same by another clock.
    #[must_use]
    pub fn by(&self, clock: Arc<dyn Clock>) -> Self {
        Self { clock, ..self.clone() }
    }

    /// For reads, which go to the store with the caller's scope.
    pub fn database(&self) -> &Database {
        &self.database
    }

    /// Versions of models and procedures.
    pub fn versions(&self) -> &Arc<Versions> {
        &self.versions
    }

    pub(crate) fn last_compared(&self) -> &Arc<LastCompared> {
        &self.last_compared
    }

    pub(crate) fn last_facts(&self) -> &LastFacts {
        &self.last_facts
    }

    pub(crate) fn last_measures(&self) -> &Arc<LastMeasures> {
        &self.last_measures
    }

    pub(crate) fn last_look(&self) -> &LastLook {
        &self.last_look
    }

    /// What tags tokens' secrets; asked of the database once.
    pub(crate) async fn token_key(&self) -> Result<&[u8], Refusal> {
        let key = self.token_key.get_or_try_init(|| self.database.own_secret("tokens")).await?;
        Ok(key)
    }

    pub fn now(&self) -> Timestamp {
        self.clock.now()
    }

    /// A new identifier, as a form carries it: sent twice, it is one thing.
    pub fn next_id(&self) -> uuid::Uuid {
        self.ids.next(self.now())
    }

    /// Waits until every write that was begun has ended; call it after the last request was taken.
    pub async fn drain(&self) {
        self.writes.close();
        self.writes.wait().await;
    }

    /// Carries a use case out.
    pub async fn perform<U: UseCase>(&self, caller: &Caller, use_case: U) -> Result<U::Outcome, Refusal> {
        caller.require(U::NAME)?;
        let (this, caller) = (self.clone(), caller.clone());
        self.in_own_task(async move {
            let mut unit = this.begin(&caller, U::NAME).await?;
            let outcome = use_case.carry_out(&mut unit, &caller).await?;
            unit.commit().await?;
            Ok(outcome)
        })
        .await
    }

    /// Carries a use case out and renders its answer. With a key, the answer is remembered in the same
    /// transaction, and a repeated request gets the first one's answer.
    pub async fn answer<U: UseCase>(
        &self,
        caller: &Caller,
        key: Option<KeyedRequest>,
        use_case: U,
        render: impl FnOnce(U::Outcome) -> Result<Rendered, Refusal> + Send + 'static,
    ) -> Result<KeptAnswer, Refusal> {
        caller.require(U::NAME)?;
        let (this, caller) = (self.clone(), caller.clone());
        self.in_own_task(async move {
            let mut unit = this.begin(&caller, U::NAME).await?;
            if let Some(key) = &key {
                match idempotency::take(&mut unit, key).await? {
                    KeyState::Ours => {}
                    KeyState::Answered(answer) => return Ok(answer),
                    KeyState::UsedForAnother => return Err(Refusal::KeyUsedForAnother),
                    KeyState::Busy => return Err(Refusal::KeyBusy),
                }
            }
            let outcome = use_case.carry_out(&mut unit, &caller).await?;
            let Rendered { given, kept } = render(outcome)?;
            if let Some(key) = &key {
                idempotency::remember(&mut unit, key, kept.as_ref().unwrap_or(&given)).await?;
            }
            unit.commit().await?;
            Ok(given)
        })
        .await
    }

    /// Deletes what has expired, again and again; goes on when the database is away.
    pub async fn keep_tidy(self) {
        loop {
            match idempotency::forget_expired(&self.database, self.now()).await {
                Ok(0) => {}
                Ok(forgotten) => tracing::debug!(forgotten, "expired answers are forgotten"),
                Err(error) => tracing::warn!(reasons = error.reasons(), "expired answers are still kept"),
            }
            tokio::time::sleep(TIDY_EVERY).await;
        }
    }

    async fn begin(&self, caller: &Caller, use_case: &'static str) -> Result<UnitOfWork, Refusal> {
        let authority = self.authority(Some(caller.principal.person), use_case, caller.request_id.clone());
        Ok(self.database.begin(authority).await?)
    }

    /// A unit of work on nobody's behalf: what a command of the operator's does.
    pub(crate) async fn begin_alone(&self, use_case: &'static str) -> Result<UnitOfWork, Refusal> {
        Ok(self.database.begin(self.authority(None, use_case, use_case.to_owned())).await?)
    }

    fn authority(&self, person: Option<PersonId>, use_case: &'static str, request_id: String) -> Authority {
        Authority { person, use_case, request_id, now: self.now(), ids: Arc::clone(&self.ids) }
    }

    /// Rings when a learning was asked for.
    pub fn asked_to_learn(&self) -> &Notify {
        &self.asked_to_learn
    }

    /// A client that hangs up drops its handler; the task goes on, and shutdown waits for it.
    async fn in_own_task<T: Send + 'static>(
        &self,
        work: impl Future<Output = Result<T, Refusal>> + Send + 'static,
    ) -> Result<T, Refusal> {
        match self.writes.spawn(work).await {
            Ok(result) => result,
            Err(error) => Err(Refusal::Internal(format!("the write broke off: {error}"))),
        }
    }
}
