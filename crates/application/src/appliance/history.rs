//! Everything that ever happened to a machine.

use domain::id::ApplianceId;
use domain::text::Key;
use domain::time::Timestamp;
use store::history::{self, HistoryEntry};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// What happened to a machine, newest first.
#[derive(Debug, Clone)]
pub struct GetApplianceHistory {
    pub id: ApplianceId,
    /// Only what speaks of this position.
    pub position: Option<Key>,
    /// Now, unless said.
    pub as_of: Option<Timestamp>,
    pub page: PageRequest,
}

#[derive(Debug)]
pub struct ApplianceHistory {
    pub as_of: Timestamp,
    pub page: Page<HistoryEntry>,
}

impl Question for GetApplianceHistory {
    const NAME: &'static str = "get_appliance_history";
    type Answer = ApplianceHistory;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<ApplianceHistory, Refusal> {
        let (database, scope) = (application.database(), caller.read_scope());
        let as_of = self.as_of.unwrap_or_else(|| application.now());
        let position = self.position.as_ref();
        let page = history::of_appliance(database, &scope, self.id, position, as_of, &self.page).await?;
        Ok(ApplianceHistory { as_of, page: page.ok_or(Refusal::NotFound { what: "appliance" })? })
    }
}
