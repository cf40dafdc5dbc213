use domain::id::{ApplianceId, SiteId};
use store::appliance::{self, Appliance, ApplianceFilter};
use store::fitted_part::{self, FittedPart};
use store::{Page, PageRequest, site};

use crate::{Application, Caller, Question, Refusal};

/// A machine.
#[derive(Debug, Clone, Copy)]
pub struct GetAppliance(pub ApplianceId);

impl Question for GetAppliance {
    const NAME: &'static str = "get_appliance";
    type Answer = Appliance;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Appliance, Refusal> {
        let found = appliance::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "appliance" })
    }
}

/// Machines.
#[derive(Debug, Clone)]
pub struct ListAppliances {
    pub filter: ApplianceFilter,
    pub page: PageRequest,
}

impl Question for ListAppliances {
    const NAME: &'static str = "list_appliances";
    type Answer = Page<Appliance>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Page<Appliance>, Refusal> {
        Ok(appliance::list(application.database(), &caller.read_scope(), &self.filter, &self.page).await?)
    }
}

/// The machines of a kitchen, oldest first.
#[derive(Debug, Clone, Copy)]
pub struct ListSiteAppliances(pub SiteId);

/// More than any kitchen has.
const WHOLE_KITCHEN: PageRequest = PageRequest { after: None, oldest_first: true, limit: 1000 };

impl Question for ListSiteAppliances {
    const NAME: &'static str = "list_site_appliances";
    type Answer = Vec<Appliance>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Appliance>, Refusal> {
        let (database, scope) = (application.database(), caller.read_scope());
        let site = site::find(database, &scope, self.0).await?;
        site.ok_or(Refusal::NotFound { what: "site" })?;
        let filter = ApplianceFilter { site: Some(self.0), ..ApplianceFilter::default() };
        Ok(appliance::list(database, &scope, &filter, &WHOLE_KITCHEN).await?.items)
    }
}

/// What is and was in a machine, as far as it was noted.
#[derive(Debug, Clone, Copy)]
pub struct ListFittedParts(pub ApplianceId);

impl Question for ListFittedParts {
    const NAME: &'static str = "list_fitted_parts";
    type Answer = Vec<FittedPart>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<FittedPart>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(fitted_part::of_appliance(application.database(), self.0).await?)
    }
}

/// The machine, if the caller may see it: what hangs on it is shown to whoever sees it.
pub(crate) async fn require_shown(
    application: &Application,
    caller: &Caller,
    id: ApplianceId,
) -> Result<Appliance, Refusal> {
    let found = appliance::find(application.database(), &caller.read_scope(), id).await?;
    found.ok_or(Refusal::NotFound { what: "appliance" })
}
