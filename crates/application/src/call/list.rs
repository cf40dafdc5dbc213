use domain::id::SiteId;
use store::call::{self, Call};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// Calls.
#[derive(Debug, Clone)]
pub struct ListCalls {
    pub site: Option<SiteId>,
    pub page: PageRequest,
}

impl Question for ListCalls {
    const NAME: &'static str = "list_calls";
    type Answer = Page<Call>;

    async fn answer(self, application: &Application, _: &Caller) -> Result<Page<Call>, Refusal> {
        Ok(call::list(application.database(), self.site, &self.page).await?)
    }
}
