use domain::id::WorkOrderId;
use store::quote::{self, Approval, Quote};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// The quotes of an order.
#[derive(Debug, Clone, Copy)]
pub struct ListQuotes(pub WorkOrderId);

impl Question for ListQuotes {
    const NAME: &'static str = "list_quotes";
    type Answer = Vec<Quote>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Quote>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(quote::of_order(application.database(), self.0).await?)
    }
}

/// What was decided about the quotes of an order.
#[derive(Debug, Clone, Copy)]
pub struct ListApprovals(pub WorkOrderId);

impl Question for ListApprovals {
    const NAME: &'static str = "list_approvals";
    type Answer = Vec<Approval>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Approval>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(quote::approvals_of_order(application.database(), self.0).await?)
    }
}
