use domain::id::{PartLineId, WorkOrderId};
use store::part_line::{self, PartLine};

use crate::work_order::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// A part of an order.
#[derive(Debug, Clone, Copy)]
pub struct GetPartLine(pub PartLineId);

impl Question for GetPartLine {
    const NAME: &'static str = "get_part_line";
    type Answer = PartLine;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<PartLine, Refusal> {
        let found = part_line::find(application.database(), &caller.read_scope(), self.0).await?;
        found.ok_or(Refusal::NotFound { what: "part line" })
    }
}

/// The parts of an order.
#[derive(Debug, Clone, Copy)]
pub struct ListPartLines(pub WorkOrderId);

impl Question for ListPartLines {
    const NAME: &'static str = "list_part_lines";
    type Answer = Vec<PartLine>;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<Vec<PartLine>, Refusal> {
        require_shown(application, caller, self.0).await?;
        Ok(part_line::of_order(application.database(), self.0).await?)
    }
}
