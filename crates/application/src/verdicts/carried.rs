//! What grading asks for beside the runs of an order, to be carried away by a phone.

use std::collections::{BTreeMap, BTreeSet};

use domain::equipment::{FunctionalLimit, Measurement};
use domain::evidence::TestRun;
use domain::grading::LearnedReferences;
use domain::id::{ApplianceId, WorkOrderId};
use domain::procedure::Procedure;
use store::test_run::{ApplianceContext, OrderEvidence, of_neighbours};

use super::bench::{NEAR, of_versions};
use super::last_healthy::{self, LastHealthy};
use super::past::Past;
use super::{Grading, first_taken};
use crate::{Application, Refusal};

pub(crate) struct Carried {
    pub runs: Vec<TestRun>,
    pub site_runs: Vec<TestRun>,
    /// Of the runs, and what they ask to be read first.
    pub procedures: Vec<Procedure>,
    pub limits: Vec<FunctionalLimit>,
    pub references: LearnedReferences,
    /// Of everything that was ever read on the machine in another job.
    pub last_healthy: BTreeMap<Measurement, LastHealthy>,
}

/// `procedures` are those that may be carried out now: what they ask to be read first is looked for at the kitchen's other
/// machines already, whether or not anything was read on this one.
pub(crate) async fn carried(
    application: &Application,
    order: WorkOrderId,
    evidence: OrderEvidence,
    (appliance, context): (ApplianceId, &ApplianceContext),
    procedures: &[Procedure],
) -> Result<Carried, Refusal> {
    let versions = application.versions();
    let before = first_taken(&evidence.runs).unwrap_or(application.now());
    let past = Past::of(application, appliance, before, Some(order)).await?;
    let grading = Grading::of(versions, evidence, appliance, context, past).await?;
    let now = application.now().instant();
    let asked: BTreeSet<String> =
        procedures.iter().flat_map(domain::judgement::comes_first).map(|key| key.to_string()).collect();
    let asked: Vec<String> = asked.into_iter().collect();
    let taken = (now - NEAR, now + NEAR);
    let near = of_neighbours(versions.database(), context.site, appliance, &asked, taken).await?;
    let mut site_runs = grading.bench.site_runs().to_vec();
    let is_new = |run: &TestRun| site_runs.iter().all(|known| known.id != run.id);
    let near: Vec<TestRun> = near.into_iter().map(|stored| stored.run).filter(is_new).collect();
    site_runs.extend(near);
    let mut known = grading.bench.procedures().to_vec();
    let named: BTreeSet<_> = site_runs.iter().map(|run| run.procedure.clone()).collect();
    let of_known: BTreeSet<_> = known.iter().map(Procedure::id).collect();
    known.extend(of_versions(versions, named.difference(&of_known)).await?);
    let past = &grading.past;
    let mut read = BTreeSet::new();
    for job in &past.jobs {
        let assessment = job.assess(&grading.bench_of_past, &past.of_fleet)?;
        read.extend(assessment.verdicts.iter().map(|verdict| &verdict.of));
    }
    let last_healthy = last_healthy::find(&grading.bench_of_past, &past.jobs, &past.of_fleet, &read)?;
    Ok(Carried {
        site_runs,
        procedures: known,
        limits: context.limits.clone(),
        references: past.references.clone(),
        last_healthy,
        runs: grading.runs,
    })
}
