use domain::id::WorkOrderId;
use store::note::{self, Note};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// The notes of an order, oldest first.
#[derive(Debug, Clone, Copy)]
pub struct ListNotes(pub WorkOrderId);

impl Question for ListNotes {
    const NAME: &'static str = "list_work_order_notes";
    type Answer = Vec<Note>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<Note>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(note::of_order(application.database(), self.0).await?)
    }
}
