use domain::id::SiteId;
use store::site::{self, Site, SiteFilter};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// A kitchen.
#[derive(Debug, Clone, Copy)]
pub struct GetSite(pub SiteId);

impl Question for GetSite {
    const NAME: &'static str = "get_site";
    type Answer = Site;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Site, Refusal> {
        let found = site::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "site" })
    }
}

/// Kitchens.
#[derive(Debug, Clone)]
pub struct ListSites {
    pub filter: SiteFilter,
    pub page: PageRequest,
}

impl Question for ListSites {
    const NAME: &'static str = "list_sites";
    type Answer = Page<Site>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Page<Site>, Refusal> {
        Ok(site::list(application.database(), &caller.read_scope(), &self.filter, &self.page).await?)
    }
}
