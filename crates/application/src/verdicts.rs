//! Verdicts: a pure function of all evidence of an epoch, computed when they are asked for.

pub(crate) mod bench;
pub(crate) mod carried;
pub(crate) mod job;
mod last_healthy;
mod past;
mod read;

use std::collections::{BTreeMap, BTreeSet};

use chrono::TimeDelta;
use domain::equipment::Measurement;
use domain::evidence::TestRun;
use domain::grading::{Assessment, Conformity, Verdict};
use domain::id::{ApplianceId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Condition;
use store::test_run::{self, ApplianceContext, OrderEvidence, StoredRun};
use store::{ReadScope, UnitOfWork};

use crate::versions::Versions;
use crate::{Application, Refusal};

use bench::Bench;
use past::{Past, PastJobs};

pub use last_healthy::LastHealthy;
pub use read::{GetOrderVerdicts, GetRunVerdicts};

/// What follows from the evidence of one epoch of an order, or of runs that belong together without one.
#[derive(Debug, Clone)]
pub struct Verdicts {
    pub appliance: ApplianceId,
    pub epoch: u32,
    /// The epoch in which the machine is now.
    pub current_epoch: u32,
    /// Counts the order's evidence; 0 without an order.
    pub evidence_version: i64,
    pub assessment: Assessment,
    /// The knowledge that its healthy readings were compared with; none before anything was learned.
    pub knowledge_version: Option<i64>,
    /// The reading of the same measurement that was healthy last, in another job.
    pub last_healthy: BTreeMap<Measurement, LastHealthy>,
}

/// Runs without an order belong together if they were taken within this time of each other.
const TOGETHER: TimeDelta = TimeDelta::hours(12);

/// The verdicts of an order's epoch: the current one unless another is asked for. `None` where the scope
/// shows no such order; a refusal where nobody knows yet which machine it is about.
pub async fn of_order(
    application: &Application,
    scope: &ReadScope,
    order: WorkOrderId,
    epoch: Option<u32>,
) -> Result<Option<Verdicts>, Refusal> {
    let database = application.database();
    let Some(evidence) = test_run::order_evidence(database, scope, order).await? else { return Ok(None) };
    let (appliance, context) = evidence.appliance.clone().ok_or_else(unknown_machine)?;
    let before = first_taken(&evidence.runs).unwrap_or(application.now());
    let past = Past::of(application, appliance, before, Some(order)).await?;
    of_evidence(application.versions(), evidence, appliance, &context, past, epoch).await.map(Some)
}

/// The verdicts of every epoch of an order, oldest first, as it stands in a unit of work, whoever asks.
pub(crate) async fn of_every_epoch_within(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: WorkOrderId,
    evidence: OrderEvidence,
) -> Result<Vec<Verdicts>, Refusal> {
    let (appliance, context) = evidence.appliance.clone().ok_or_else(unknown_machine)?;
    let before = first_taken(&evidence.runs).unwrap_or(unit.now());
    let past = Past::within(unit, versions, appliance, before, order).await?;
    let grading = Grading::of(versions, evidence, appliance, &context, past).await?;
    (0..=grading.current_epoch).map(|epoch| grading.verdicts(epoch)).collect()
}

/// The verdicts on one run, from all evidence that belongs to it.
pub async fn of_run(application: &Application, run: &StoredRun) -> Result<Verdicts, Refusal> {
    let missing = Refusal::NotFound { what: "test run" };
    let mut verdicts = if let Some(order) = run.run.work_order {
        // Whoever may see the run may see what follows from it.
        let everything = ReadScope::everything();
        of_order(application, &everything, order, Some(run.run.epoch)).await?.ok_or(missing)?
    } else {
        of_run_without_order(application, run).await?.ok_or(missing)?
    };
    verdicts.assessment.verdicts.retain(|verdict| verdict.test_run == run.run.id);
    verdicts.assessment.not_tested.retain(|skipped| skipped.test_run == run.run.id);
    Ok(verdicts)
}

async fn of_run_without_order(
    application: &Application,
    run: &StoredRun,
) -> Result<Option<Verdicts>, Refusal> {
    let database = application.database();
    let appliance = run.run.appliance;
    let Some(context) = test_run::appliance(database, appliance).await? else { return Ok(None) };
    let runs = test_run::of_appliance_around(database, appliance, run.run.taken_at, TOGETHER).await?;
    let before = first_taken(&runs).unwrap_or(run.run.taken_at);
    let past = Past::of(application, appliance, before, None).await?;
    let evidence = OrderEvidence { evidence_version: 0, appliance: None, runs, epoch: 0 };
    of_evidence(application.versions(), evidence, appliance, &context, past, None).await.map(Some)
}

/// Procedures in which something fails, epoch by epoch before the one in which the machine is now.
pub(crate) async fn failing_before(
    application: &Application,
    order: WorkOrderId,
    evidence: &OrderEvidence,
) -> Result<Vec<BTreeSet<Key>>, Refusal> {
    if evidence.epoch == 0 {
        return Ok(Vec::new());
    }
    let (appliance, context) = evidence.appliance.clone().ok_or_else(unknown_machine)?;
    let before = first_taken(&evidence.runs).unwrap_or(application.now());
    let past = Past::of(application, appliance, before, Some(order)).await?;
    let grading = Grading::of(application.versions(), evidence.clone(), appliance, &context, past).await?;
    (0..evidence.epoch).map(|epoch| Ok(failing(&grading.verdicts(epoch)?))).collect()
}

/// Procedures in which the latest reading of some measurement fails.
pub(crate) fn failing(verdicts: &Verdicts) -> BTreeSet<Key> {
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

pub(crate) fn unknown_machine() -> Refusal {
    Refusal::Conflict {
        detail: "nobody has confirmed yet which appliance the order is about; set its appliance_id first"
            .to_owned(),
    }
}

fn first_taken(runs: &[StoredRun]) -> Option<Timestamp> {
    runs.iter().map(|stored| stored.run.taken_at).min()
}

async fn of_evidence(
    versions: &Versions,
    evidence: OrderEvidence,
    appliance: ApplianceId,
    context: &ApplianceContext,
    past: Past,
    epoch: Option<u32>,
) -> Result<Verdicts, Refusal> {
    let epoch = epoch.unwrap_or(evidence.epoch);
    Grading::of(versions, evidence, appliance, context, past).await?.verdicts(epoch)
}

/// All that grading asks for, laid out for any epoch.
struct Grading<'a> {
    appliance: ApplianceId,
    current_epoch: u32,
    evidence_version: i64,
    runs: Vec<TestRun>,
    bench: Bench<'a>,
    bench_of_past: Bench<'a>,
    past: PastJobs,
}

impl<'a> Grading<'a> {
    async fn of(
        versions: &Versions,
        evidence: OrderEvidence,
        appliance: ApplianceId,
        context: &'a ApplianceContext,
        past: Past,
    ) -> Result<Self, Refusal> {
        let (current_epoch, evidence_version) = (evidence.epoch, evidence.evidence_version);
        let runs: Vec<TestRun> = evidence.runs.into_iter().map(|stored| stored.run).collect();
        let bench = Bench::of(versions, context, &runs).await?;
        let bench = bench.beside_neighbours(versions, appliance, &runs).await?;
        let bench_of_past = Bench::of(versions, context, past.runs()).await?;
        let past = past.in_jobs(&bench_of_past, &context.model_key)?;
        Ok(Self { appliance, current_epoch, evidence_version, runs, bench, bench_of_past, past })
    }

    fn verdicts(&self, epoch: u32) -> Result<Verdicts, Refusal> {
        let past = &self.past;
        let assessment = self.bench.assess(&self.runs, epoch, &past.references)?;
        let wanted: BTreeSet<&Measurement> = assessment.verdicts.iter().map(|verdict| &verdict.of).collect();
        let last_healthy = last_healthy::find(&self.bench_of_past, &past.jobs, &past.of_fleet, &wanted)?;
        Ok(Verdicts {
            appliance: self.appliance,
            epoch,
            current_epoch: self.current_epoch,
            evidence_version: self.evidence_version,
            assessment,
            knowledge_version: past.knowledge_version,
            last_healthy,
        })
    }
}
