use domain::id::WorkOrderId;
use store::waiting::{self, Waiting};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What an order waits and waited for.
#[derive(Debug, Clone, Copy)]
pub struct ListWaiting(pub WorkOrderId);

impl Question for ListWaiting {
    const NAME: &'static str = "list_work_order_waiting";
    type Answer = Vec<Waiting>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Waiting>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(waiting::of_order(application.database(), self.0).await?)
    }
}
