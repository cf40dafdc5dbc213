//! Keeps an order's verdicts and diagnoses as they stood when it was closed.

use domain::id::WorkOrderId;
use store::UnitOfWork;
use store::outcome_snapshot::{self, FrozenEpoch};

use crate::verdicts::of_order_within;
use crate::versions::Versions;
use crate::{Refusal, diagnosis};

/// Freezes every epoch. The order's appliance must be known.
pub(super) async fn freeze(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: WorkOrderId,
) -> Result<(), Refusal> {
    let mut epochs = Vec::new();
    let mut next = 0;
    while let Some(verdicts) = of_order_within(unit, versions, order, Some(next)).await? {
        let (last, evidence_version) = (verdicts.current_epoch, verdicts.evidence_version);
        let diagnosis = match diagnosis::of_order_within(unit, versions, order, next).await {
            Ok(diagnosis) => diagnosis,
            // There is nothing to diagnose with: an order may be closed without.
            Err(Refusal::Conflict { .. }) => None,
            Err(refusal) => return Err(refusal),
        };
        epochs.push(FrozenEpoch {
            epoch: next,
            knowledge_version: verdicts.knowledge_version,
            assessment: verdicts.assessment,
            diagnosis,
        });
        if next >= last {
            outcome_snapshot::insert(unit, order, evidence_version, &epochs).await?;
            break;
        }
        next += 1;
    }
    Ok(())
}
