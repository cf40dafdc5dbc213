use std::sync::Arc;

use domain::id::WorkOrderId;
use domain::work::{self, Missing, OrderAction, OrderMove, Outcome, Situation};
use store::UnitOfWork;
use store::work_order::{self, WorkOrder};

use super::proof;
use crate::versions::Versions;
use crate::{Caller, Refusal, UseCase};

/// Which moves an order allows now, and what the others lack. Changes nothing.
pub struct ListMoves {
    pub versions: Arc<Versions>,
    pub id: WorkOrderId,
}

#[derive(Debug)]
pub struct Moves {
    pub order: WorkOrder,
    pub moves: Vec<PossibleMove>,
    /// What keeps a visit from being booked.
    pub missing_for_visit: Vec<Missing>,
}

/// A move; allowed if nothing is missing.
#[derive(Debug)]
pub struct PossibleMove {
    pub action: OrderAction,
    pub missing: Vec<Missing>,
    /// With `close`: the outcomes that the state lets it end with.
    pub outcomes: Vec<OutcomeNow>,
}

#[derive(Debug)]
pub struct OutcomeNow {
    pub outcome: Outcome,
    pub missing: Vec<Missing>,
}

impl UseCase for ListMoves {
    const NAME: &'static str = "list_work_order_actions";
    type Outcome = Moves;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Moves, Refusal> {
        let order = work_order::visible(unit, &caller.read_scope(), self.id).await?;
        let order = order.ok_or(Refusal::NotFound { what: "work order" })?;
        let mut situation = work_order::situation(unit, &order).await?;
        situation.proof = proof::of_order(unit, &self.versions, &order).await?;
        let moves = OrderAction::ALL.iter().map(|&action| possible(&situation, action)).collect();
        Ok(Moves { order, moves, missing_for_visit: situation.missing_for_visit() })
    }
}

fn possible(situation: &Situation, action: OrderAction) -> PossibleMove {
    let order_move = match action {
        OrderAction::Assess => OrderMove::Assess,
        OrderAction::Plan => OrderMove::Plan,
        OrderAction::StartRepair => OrderMove::StartRepair,
        OrderAction::ReportRepaired => OrderMove::ReportRepaired,
        OrderAction::ResumeRepair => OrderMove::ResumeRepair,
        OrderAction::Prove => OrderMove::Prove,
        OrderAction::Cancel => OrderMove::Cancel,
        OrderAction::Close => return closing(situation),
    };
    PossibleMove { action, missing: work::check(situation, order_move), outcomes: Vec::new() }
}

/// Closing is allowed if it is with any outcome; what all of them lack is what it lacks.
fn closing(situation: &Situation) -> PossibleMove {
    let outcomes: Vec<OutcomeNow> = work::open_outcomes(situation.state)
        .map(|outcome| {
            let order_move = OrderMove::Close { outcome, leaves: None };
            OutcomeNow { outcome, missing: work::check(situation, order_move) }
        })
        .collect();
    let missing = match outcomes.split_first() {
        None => vec![Missing::Ended],
        Some((first, others)) => {
            let by_all = |missing: &&Missing| others.iter().all(|other| other.missing.contains(missing));
            first.missing.iter().filter(by_all).cloned().collect()
        }
    };
    PossibleMove { action: OrderAction::Close, missing, outcomes }
}
