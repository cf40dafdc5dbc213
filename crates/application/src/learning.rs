//! Learning what healthy machines read and how often faults arise: asked for once, worked off in pages of appliances, each in one
//! transaction, by whichever copy of the service gets to it. A killed one goes on where it stood.

mod ask;
mod faults;
mod page;
mod read;

use std::time::Duration;

use store::{StoreError, learning};

use crate::{Application, Refusal, UseCase};

pub use ask::CreateKnowledgeVersion;
pub use read::{GetKnowledgeVersion, GetLearnedFaults, ListKnowledgeVersions};
pub use store::learning::{Learning, LearningState, NewLearning};

/// How many appliances one transaction takes.
const PAGE: i64 = 25;

/// How often a copy of the service looks for a learning that another copy began and left.
const LOOK_EVERY: Duration = Duration::from_secs(15);

/// What became of one page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// There may be more.
    Worked,
    /// The version is made.
    Done,
    /// There is none to work on, or another works on it.
    Idle,
}

impl Application {
    /// Works on learnings as they are asked for. May be dropped at any moment.
    pub async fn keep_learning(self) {
        loop {
            self.learn().await;
            let _woken_or_not = tokio::time::timeout(LOOK_EVERY, self.asked_to_learn().notified()).await;
        }
    }

    /// Works on the running learning until it is done, or nothing can be done about it now.
    pub async fn learn(&self) {
        loop {
            match self.learn_page(PAGE).await {
                Ok(Step::Worked) => tokio::task::yield_now().await,
                Ok(Step::Done | Step::Idle) => return,
                Err(error) => {
                    tracing::error!(%error, "a learning broke off");
                    self.give_up(&error).await;
                    return;
                }
            }
        }
    }

    /// Works on the next page of at most so many appliances.
    pub async fn learn_page(&self, appliances: i64) -> Result<Step, Refusal> {
        if !learning::is_running(self.database()).await? {
            return Ok(Step::Idle);
        }
        let mut unit = self.begin_alone(CreateKnowledgeVersion::NAME).await?;
        let Some(learning) = learning::take(&mut unit).await? else { return Ok(Step::Idle) };
        let step = page::work(&mut unit, self.versions(), &learning, appliances).await?;
        unit.commit().await?;
        Ok(step)
    }

    /// Ends a learning that would fail again. One that the database was not there for is tried again.
    async fn give_up(&self, error: &Refusal) {
        if matches!(error, Refusal::Store(StoreError::Unavailable(_))) {
            return;
        }
        if let Err(error) = self.fail_running().await {
            tracing::error!(%error, "a learning that broke off could not be ended");
        }
    }

    async fn fail_running(&self) -> Result<(), Refusal> {
        let mut unit = self.begin_alone(CreateKnowledgeVersion::NAME).await?;
        if let Some(learning) = learning::take(&mut unit).await? {
            let failure = "it broke off on something that is stored; the service's log says on what";
            learning::end(&mut unit, learning.n, Some(failure)).await?;
            learning::clear(&mut unit, learning.n).await?;
            unit.record(store::Change::of("knowledge_version.failed", learning.id));
        }
        Ok(unit.commit().await?)
    }
}
