use domain::id::BranchId;
use store::branch::{self, Branch};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// A branch.
#[derive(Debug, Clone, Copy)]
pub struct GetBranch(pub BranchId);

impl Question for GetBranch {
    const NAME: &'static str = "get_branch";
    type Answer = Branch;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Branch, Refusal> {
        let found = branch::find(application.database(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "branch" })
    }
}

/// Branches.
#[derive(Debug, Clone)]
pub struct ListBranches {
    /// Part of the name.
    pub search: Option<String>,
    pub page: PageRequest,
}

impl Question for ListBranches {
    const NAME: &'static str = "list_branches";
    type Answer = Page<Branch>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Branch>, Refusal> {
        Ok(branch::list(application.database(), self.search.as_deref(), &self.page).await?)
    }
}
