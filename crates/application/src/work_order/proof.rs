//! What an order's readings prove, as its moves ask for it.

use std::collections::BTreeSet;

use domain::grading::Verdict;
use domain::id::WorkOrderId;
use domain::text::Key;
use domain::vocabulary::Condition;
use domain::work::{self, FULL_CYCLE, Missing, OrderState, Outcome, Proof};
use store::work_order::{self, WorkOrder};
use store::{Change, ReadScope, UnitOfWork, test_run};

use crate::Refusal;
use crate::verdicts::{self, Verdicts};
use crate::versions::Versions;

/// The steps of a full cycle of which each must be in order: it ran to its end, cleaned, and kept its water.
const ITS_STEPS: [&str; 3] = ["outcome", "cleanliness", "leaks"];

/// Takes a proof back that the order's readings no longer bear, or says that it is doubted where the order has ended: another
/// order is then to follow it.
pub(crate) async fn recheck(
    unit: &mut UnitOfWork,
    versions: &Versions,
    id: WorkOrderId,
) -> Result<(), Refusal> {
    let Some(mut order) = work_order::get(unit, id).await? else { return Ok(()) };
    let is_proven = order.state == OrderState::Proven;
    let was_repaired = order.outcome == Some(Outcome::Repaired) && order.proof_doubted_at.is_none();
    if !is_proven && !was_repaired {
        return Ok(());
    }
    let mut situation = work_order::situation(unit, &order).await?;
    situation.proof = of_order(unit, versions, &order).await?;
    let mut lacking = work::unproven(&situation);
    if was_repaired {
        // That a test was not taken again is no news of the machine.
        lacking.retain(|missing| matches!(missing, Missing::StillFailing { .. } | Missing::FullCycle));
    }
    if lacking.is_empty() {
        return Ok(());
    }
    let kind = if is_proven {
        order.state = OrderState::RepairedUnproven;
        "work_order.proof_taken_back"
    } else {
        order.proof_doubted_at = Some(unit.now());
        "work_order.proof_doubted"
    };
    if !work_order::update(unit, &order, order.version).await? {
        return Err(Refusal::Stale { what: "work order", current: order.version });
    }
    let why: Vec<String> = lacking.iter().map(ToString::to_string).collect();
    let change = Change::of(kind, id).at_site(order.site).on_appliance(order.appliance).on_order(Some(id));
    let field = if is_proven { "state" } else { "proof_doubted_at" };
    unit.record(change.fields(vec![field]).because(format!("what is missing: {}", why.join("; "))));
    Ok(())
}

/// What failed before the last action that changed the machine, and what was read since.
pub(super) async fn of_order(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: &WorkOrder,
) -> Result<Proof, Refusal> {
    if order.appliance.is_none() {
        return Ok(Proof::default());
    }
    let evidence = test_run::order_evidence_within(unit, &ReadScope::everything(), order.id).await?;
    let Some(evidence) = evidence else { return Ok(Proof::default()) };
    let mut epochs = verdicts::of_every_epoch_within(unit, versions, order.id, evidence).await?;
    let Some(now) = epochs.pop() else { return Ok(Proof::default()) };
    let failed_before = epochs.iter().flat_map(verdicts::failing).collect();
    let failing_after = verdicts::failing(&now);
    let taken_after = now.assessment.verdicts.iter().map(|verdict| verdict.of.procedure.clone()).collect();
    Ok(Proof {
        full_cycle_passed: full_cycle_passed(&now, &failing_after),
        failed_before,
        taken_after,
        failing_after,
        ..Proof::default()
    })
}

/// Whether the last full cycle ran to its end, cleaned and kept its water, and nothing else of it fails. One that cleans
/// partly or seeps proves nothing.
fn full_cycle_passed(verdicts: &Verdicts, failing: &BTreeSet<Key>) -> bool {
    let of_cycle: Vec<&Verdict> = verdicts
        .assessment
        .verdicts
        .iter()
        .filter(|verdict| verdict.of.procedure.as_str() == FULL_CYCLE)
        .collect();
    let Some(last) = of_cycle.last() else { return false };
    let in_order = |step: &str| {
        of_cycle.iter().any(|verdict| {
            verdict.test_run == last.test_run
                && verdict.of.step.as_str() == step
                && verdict.condition == Condition::Ok
        })
    };
    !failing.iter().any(|key| key.as_str() == FULL_CYCLE) && ITS_STEPS.into_iter().all(in_order)
}
