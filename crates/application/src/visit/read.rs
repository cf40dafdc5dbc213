use domain::id::{VisitId, WorkOrderId};
use store::visit::{self, Visit};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// A visit.
#[derive(Debug, Clone, Copy)]
pub struct GetVisit(pub VisitId);

impl Question for GetVisit {
    const NAME: &'static str = "get_visit";
    type Answer = Visit;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Visit, Refusal> {
        let found = visit::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "visit" })
    }
}

/// The visits of an order.
#[derive(Debug, Clone, Copy)]
pub struct ListVisits(pub WorkOrderId);

impl Question for ListVisits {
    const NAME: &'static str = "list_work_order_visits";
    type Answer = Vec<Visit>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Visit>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(visit::of_order(application.database(), self.0).await?)
    }
}
