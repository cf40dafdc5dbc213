use domain::id::WorkOrderId;
use store::finding::{self, Finding};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What was found on an order, corrected findings among it.
#[derive(Debug, Clone, Copy)]
pub struct ListFindings(pub WorkOrderId);

impl Question for ListFindings {
    const NAME: &'static str = "list_findings";
    type Answer = Vec<Finding>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Finding>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(finding::of_order(application.database(), self.0).await?)
    }
}
