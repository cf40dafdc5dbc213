use domain::id::ApplianceId;
use domain::text::Key;
use domain::time::Timestamp;

use super::{Drift, of_appliance};
use crate::{Application, Caller, Question, Refusal};

/// Whether a machine's readings drift.
#[derive(Debug, Clone)]
pub struct GetApplianceDrift {
    pub id: ApplianceId,
    /// Now, unless said.
    pub as_of: Option<Timestamp>,
    /// Of this procedure's measurements alone.
    pub procedure: Option<Key>,
}

impl Question for GetApplianceDrift {
    const NAME: &'static str = "get_appliance_drift";
    type Answer = Drift;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Drift, Refusal> {
        let as_of = self.as_of.unwrap_or_else(|| application.now());
        let (scope, procedure) = (caller.read_scope(), self.procedure.as_ref());
        let drift = of_appliance(application, &scope, self.id, as_of, procedure).await?;
        drift.ok_or(Refusal::NotFound { what: "appliance" })
    }
}
