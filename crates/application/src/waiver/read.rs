use domain::id::WorkOrderId;
use store::waiver::{self, Waiver};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What was waived on an order.
#[derive(Debug, Clone, Copy)]
pub struct ListWaivers(pub WorkOrderId);

impl Question for ListWaivers {
    const NAME: &'static str = "list_work_order_waivers";
    type Answer = Vec<Waiver>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Waiver>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(waiver::of_order(application.database(), self.0).await?)
    }
}
