use domain::id::WorkOrderId;
use store::work_order::{self, Filter, WorkOrder};
use store::{Page, PageRequest};

use crate::{Application, Caller, Question, Refusal};

/// An order.
#[derive(Debug, Clone, Copy)]
pub struct GetWorkOrder(pub WorkOrderId);

impl Question for GetWorkOrder {
    const NAME: &'static str = "get_work_order";
    type Answer = WorkOrder;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<WorkOrder, Refusal> {
        let found = work_order::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "work order" })
    }
}

/// Orders.
#[derive(Debug, Clone)]
pub struct ListWorkOrders {
    pub filter: Filter,
    pub page: PageRequest,
}

impl Question for ListWorkOrders {
    const NAME: &'static str = "list_work_orders";
    type Answer = Page<WorkOrder>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Page<WorkOrder>, Refusal> {
        Ok(work_order::list(application.database(), &caller.read_scope(), &self.filter, &self.page).await?)
    }
}

/// Refuses unless the caller may see the order: what lies below it is shown to whoever sees it.
pub(crate) async fn require_shown(
    application: &Application,
    caller: &Caller,
    order: WorkOrderId,
) -> Result<(), Refusal> {
    let found = work_order::find(application.database(), &caller.read_scope(), order).await?;
    found.map(|_| ()).ok_or(Refusal::NotFound { what: "work order" })
}
