//! What an order's readings prove, as its moves ask for it.

use std::collections::BTreeSet;

use domain::grading::{Conformity, Verdict};
use domain::text::Key;
use domain::vocabulary::Condition;
use domain::work::Proof;
use store::work_order::WorkOrder;
use store::{ReadScope, UnitOfWork, test_run};

use crate::Refusal;
use crate::verdicts::{self, Verdicts};
use crate::versions::Versions;

/// The procedure that proves the whole machine, and its step that says how it ended.
const FULL_CYCLE: (&str, &str) = ("full_cycle", "outcome");

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
    let failed_before = epochs.iter().flat_map(failing).collect();
    let failing_after = failing(&now);
    let taken_after = now.assessment.verdicts.iter().map(|verdict| verdict.of.procedure.clone()).collect();
    Ok(Proof {
        full_cycle_passed: full_cycle_passed(&now, &failing_after),
        failed_before,
        taken_after,
        failing_after,
    })
}

/// Procedures in which the latest reading of some measurement fails.
fn failing(verdicts: &Verdicts) -> BTreeSet<Key> {
    // In the order in which the evidence was taken: what stands last of a measurement counts.
    let verdicts = &verdicts.assessment.verdicts;
    let stands = |index: usize| !verdicts[index + 1..].iter().any(|later| later.of == verdicts[index].of);
    let failed = verdicts.iter().enumerate().filter(|(index, verdict)| fails(verdict) && stands(*index));
    failed.map(|(_, verdict)| verdict.of.procedure.clone()).collect()
}

/// The machine does not do its job, and it is not shown that its part is healthy and the supply to blame.
fn fails(verdict: &Verdict) -> bool {
    let is_healthy =
        matches!(verdict.at_reference.conformity, Conformity::Pass | Conformity::ConditionalPass);
    verdict.condition == Condition::Failed || (verdict.as_found.conformity == Conformity::Fail && !is_healthy)
}

fn full_cycle_passed(verdicts: &Verdicts, failing: &BTreeSet<Key>) -> bool {
    let (procedure, step) = FULL_CYCLE;
    let is_failing = failing.iter().any(|key| key.as_str() == procedure);
    let of_outcome = verdicts
        .assessment
        .verdicts
        .iter()
        .rev()
        .find(|verdict| verdict.of.procedure.as_str() == procedure && verdict.of.step.as_str() == step);
    !is_failing
        && of_outcome.is_some_and(|verdict| matches!(verdict.condition, Condition::Ok | Condition::Degraded))
}
