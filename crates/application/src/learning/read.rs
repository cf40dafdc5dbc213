use domain::diagnosis::Knowledge;
use domain::text::Key;
use store::learning::{self, Learning};
use store::{Page, PageRequest, knowledge};

use crate::{Application, Caller, Question, Refusal};

/// A knowledge version; while it is being learned, how far it is.
#[derive(Debug, Clone, Copy)]
pub struct GetKnowledgeVersion(pub i64);

impl Question for GetKnowledgeVersion {
    const NAME: &'static str = "get_knowledge_version";
    type Answer = Learning;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Learning, Refusal> {
        let found = learning::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "knowledge version" })
    }
}

/// Knowledge versions.
#[derive(Debug, Clone, Copy)]
pub struct ListKnowledgeVersions {
    pub page: PageRequest,
}

impl Question for ListKnowledgeVersions {
    const NAME: &'static str = "list_knowledge_versions";
    type Answer = Page<Learning>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Learning>, Refusal> {
        Ok(learning::list(application.database(), &self.page).await?)
    }
}

/// What a knowledge version knows of a model's faults.
#[derive(Debug, Clone)]
pub struct GetLearnedFaults {
    pub version: i64,
    pub model: Key,
}

impl Question for GetLearnedFaults {
    const NAME: &'static str = "get_learned_faults";
    type Answer = Knowledge;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Knowledge, Refusal> {
        let found = knowledge::faults(application.database(), self.version, self.model.as_str()).await?;
        found.ok_or(Refusal::NotFound { what: "knowledge of this model's faults" })
    }
}
