use domain::id::WorkOrderId;
use store::interlock_defeat::{self, InterlockDefeat};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// The interlock defeats of an order.
#[derive(Debug, Clone, Copy)]
pub struct ListInterlockDefeats(pub WorkOrderId);

impl Question for ListInterlockDefeats {
    const NAME: &'static str = "list_work_order_interlock_defeats";
    type Answer = Vec<InterlockDefeat>;

    async fn answer(
        self,
        application: &Application,
        caller: &Caller,
    ) -> Result<Vec<InterlockDefeat>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(interlock_defeat::of_order(application.database(), self.0).await?)
    }
}
