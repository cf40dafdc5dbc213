use domain::id::ApplianceId;
use store::stop::{self, Stop};

use crate::appliance::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// When and why a machine was taken out of use.
#[derive(Debug, Clone, Copy)]
pub struct ListStops(pub ApplianceId);

impl Question for ListStops {
    const NAME: &'static str = "list_stops";
    type Answer = Vec<Stop>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Stop>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(stop::of_appliance(application.database(), self.0).await?)
    }
}
