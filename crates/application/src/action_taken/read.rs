use domain::id::WorkOrderId;
use store::action_taken::{self, ActionTaken};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What was done on an order.
#[derive(Debug, Clone, Copy)]
pub struct ListActionsTaken(pub WorkOrderId);

impl Question for ListActionsTaken {
    const NAME: &'static str = "list_actions_taken";
    type Answer = Vec<ActionTaken>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<ActionTaken>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(action_taken::of_order(application.database(), self.0).await?)
    }
}
