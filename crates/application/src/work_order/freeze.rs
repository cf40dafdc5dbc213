//! Keeps an order's verdicts and diagnoses as they stood when it was closed.

use domain::id::WorkOrderId;
use store::outcome_snapshot::{self, FrozenEpoch};
use store::{ReadScope, UnitOfWork, test_run};

use crate::versions::Versions;
use crate::{Refusal, diagnosis, verdicts};

/// Freezes every epoch. The order's appliance must be known.
pub(super) async fn freeze(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: WorkOrderId,
) -> Result<(), Refusal> {
    let evidence = test_run::order_evidence_within(unit, &ReadScope::everything(), order).await?;
    let Some(evidence) = evidence else { return Ok(()) };
    let evidence_version = evidence.evidence_version;
    let verdicts = verdicts::of_every_epoch_within(unit, versions, order, evidence.clone()).await?;
    let diagnoses = match diagnosis::of_every_epoch_within(unit, versions, order, evidence).await {
        Ok(diagnoses) => diagnoses,
        // There is nothing to diagnose with: an order may be closed without.
        Err(Refusal::Conflict { .. }) => Vec::new(),
        Err(refusal) => return Err(refusal),
    };
    let mut diagnoses = diagnoses.into_iter();
    let frozen = verdicts.into_iter().map(|verdicts| FrozenEpoch {
        epoch: verdicts.epoch,
        knowledge_version: verdicts.knowledge_version,
        assessment: verdicts.assessment,
        diagnosis: diagnoses.next(),
    });
    outcome_snapshot::insert(unit, order, evidence_version, &frozen.collect::<Vec<_>>()).await?;
    Ok(())
}
