//! What recurs in a kitchen.

use domain::id::SiteId;
use domain::repeats::counting::{RecurringFaults, recurring_faults};
use domain::time::Timestamp;
use store::recurring;

use crate::{Application, Caller, Question, Refusal};

/// The faults of a kitchen, counted.
#[derive(Debug, Clone, Copy)]
pub struct GetRecurringFaults {
    pub site: SiteId,
    /// Now, unless said.
    pub as_of: Option<Timestamp>,
}

impl Question for GetRecurringFaults {
    const NAME: &'static str = "get_site_recurring_faults";
    type Answer = RecurringFaults;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<RecurringFaults, Refusal> {
        let as_of = self.as_of.unwrap_or_else(|| application.now());
        let scope = caller.read_scope();
        let confirmed = recurring::confirmations(application.database(), &scope, self.site, as_of).await?;
        let confirmed = confirmed.ok_or(Refusal::NotFound { what: "site" })?;
        Ok(recurring_faults(&confirmed, as_of))
    }
}
