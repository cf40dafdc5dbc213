use domain::id::PartId;
use domain::text::Key;
use store::part::{self, Part};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// A part.
#[derive(Debug, Clone, Copy)]
pub struct GetPart(pub PartId);

impl Question for GetPart {
    const NAME: &'static str = "get_part";
    type Answer = Part;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Part, Refusal> {
        let found = part::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "part" })
    }
}

/// Parts.
#[derive(Debug, Clone)]
pub struct ListParts {
    /// The beginning of the number, or part of the title.
    pub search: Option<String>,
    /// Fits this model.
    pub model: Option<Key>,
    /// Fits this position.
    pub position: Option<Key>,
    pub page: PageRequest,
}

impl Question for ListParts {
    const NAME: &'static str = "list_parts";
    type Answer = Page<Part>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Part>, Refusal> {
        Ok(part::list(
            application.database(),
            self.search.as_deref(),
            self.model.as_ref(),
            self.position.as_ref(),
            &self.page,
        )
        .await?)
    }
}
