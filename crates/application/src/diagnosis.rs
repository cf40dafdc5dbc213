//! Diagnoses: computed from all evidence of an epoch when they are asked for, like verdicts. What is likely never follows
//! from verdicts; what is to be read again after a repair does: what failed before it.

pub(crate) mod case;
mod tables;
mod what_if;

use std::collections::BTreeSet;
use std::sync::Arc;

use domain::diagnosis::{Case, Diagnosis, diagnose, gather, gets_full_checklist, input_sha256};
use domain::evidence::TestRun;
use domain::id::WorkOrderId;
use domain::procedure::Procedure;
use domain::text::Key;
use store::diagnosis::{Diagnosed, NotWeighed};
use store::order_standing::{self, OrderStanding};
use store::test_run::{self, OrderEvidence};
use store::{ReadScope, UnitOfWork};

use crate::versions::Versions;
use crate::{Application, Refusal};

pub use tables::{KnownFaults, Numbers, WarmTables};
pub use what_if::{WhatIf, WhatIfRun, what_if};

/// The diagnosis of an order's epoch: the current one unless another is asked for. `None` where the scope shows
/// no such order; a refusal where nobody knows yet which machine it is about, or its model has no catalogue.
pub async fn of_order(
    application: &Application,
    scope: &ReadScope,
    order: WorkOrderId,
    epoch: Option<u32>,
    numbers: Numbers,
) -> Result<Option<Diagnosed>, Refusal> {
    let database = application.database();
    let Some(evidence) = test_run::order_evidence(database, scope, order).await? else { return Ok(None) };
    let standing = order_standing::of_order(database, order).await?;
    let versions = application.versions();
    let failing = crate::verdicts::failing_before(application, order, &evidence).await?;
    let file = File::of(versions, order, evidence, failing, (standing, numbers)).await?;
    let told = file.told(epoch.unwrap_or(file.current_epoch))?;
    let known = file.known;
    let input = input_sha256(&known.tables, &told.case);
    if let Some(diagnosis) = store::diagnosis::cached(database, &input, application.now()).await? {
        return Ok(Some(told.with(&known, diagnosis)));
    }
    let diagnosed = versions.tables().compute(move || told.diagnose(&known)).await?;
    // The answer stands whether or not it could be kept.
    store::diagnosis::cache(database, &diagnosed.diagnosis, application.now()).await;
    Ok(Some(diagnosed))
}

/// The diagnoses of every epoch of an order, oldest first, as it stands in a unit of work, whoever asks.
pub(crate) async fn of_every_epoch_within(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: WorkOrderId,
    evidence: OrderEvidence,
) -> Result<Vec<Diagnosed>, Refusal> {
    let standing = order_standing::of_order_within(unit, order).await?;
    let verdicts = crate::verdicts::of_every_epoch_within(unit, versions, order, evidence.clone()).await?;
    let failing = verdicts.iter().map(crate::verdicts::failing).collect();
    let file = File::of(versions, order, evidence, failing, (standing, Numbers::Newest)).await?;
    let told: Result<Vec<Told>, Refusal> = (0..=file.current_epoch).map(|epoch| file.told(epoch)).collect();
    let (told, known) = (told?, file.known);
    let work = move || told.into_iter().map(|told| told.diagnose(&known)).collect();
    versions.tables().compute(work).await
}

/// A case, and what an answer says besides.
struct Told {
    case: Case,
    appliance: Option<domain::id::ApplianceId>,
    current_epoch: u32,
    evidence_version: i64,
    full_checklist: bool,
    not_weighed: Vec<NotWeighed>,
}

impl Told {
    fn diagnose(self, known: &KnownFaults) -> Diagnosed {
        let diagnosis = diagnose(&known.tables, &self.case);
        self.with(known, diagnosis)
    }

    fn with(self, known: &KnownFaults, diagnosis: Diagnosis) -> Diagnosed {
        Diagnosed {
            appliance: self.appliance,
            model: known.model.clone(),
            model_version: known.model_version,
            catalogue_version: known.catalogue_version,
            knowledge_version: known.knowledge_version,
            complaint: self.case.complaint,
            current_epoch: self.current_epoch,
            evidence_version: self.evidence_version,
            full_checklist: self.full_checklist,
            observed_in: self.case.observations.iter().map(|observation| observation.test_run).collect(),
            not_weighed: self.not_weighed,
            diagnosis,
        }
    }
}

/// What is on file of an order: each epoch's case comes from it.
struct File {
    order: WorkOrderId,
    appliance: domain::id::ApplianceId,
    known: Arc<KnownFaults>,
    runs: Vec<TestRun>,
    procedures: Vec<Procedure>,
    standing: OrderStanding,
    /// Procedures in which something fails, by epoch.
    failing: Vec<BTreeSet<Key>>,
    current_epoch: u32,
    evidence_version: i64,
}

impl File {
    async fn of(
        versions: &Versions,
        order: WorkOrderId,
        evidence: OrderEvidence,
        failing: Vec<BTreeSet<Key>>,
        (standing, numbers): (OrderStanding, Numbers),
    ) -> Result<Self, Refusal> {
        let (appliance, context) = evidence.appliance.ok_or_else(crate::verdicts::unknown_machine)?;
        let known = versions.known_faults(&context.model_key, context.model_version, numbers).await?;
        let runs: Vec<TestRun> = evidence.runs.into_iter().map(|stored| stored.run).collect();
        let procedures = named_procedures(versions, &runs).await?;
        let (current_epoch, evidence_version) = (evidence.epoch, evidence.evidence_version);
        Ok(Self {
            order,
            appliance,
            known,
            runs,
            procedures,
            standing,
            failing,
            current_epoch,
            evidence_version,
        })
    }

    fn told(&self, epoch: u32) -> Result<Told, Refusal> {
        if epoch > self.current_epoch {
            return Err(Refusal::NotFound { what: "epoch of the order yet" });
        }
        let catalogue = self.known.tables.catalogue();
        let mut not_weighed = Vec::new();
        let intake = case::intake(catalogue, &self.standing, epoch, &mut not_weighed);
        let standing = case::standing(catalogue, &self.standing, epoch, &mut not_weighed);
        let mut gathered = gather(&intake, &self.runs, &self.procedures, &standing);
        gathered.case.altitude_m = self.standing.altitude_m;
        let before = self.failing.iter().take(epoch as usize);
        gathered.case.failed_before = before.flatten().cloned().collect();
        gathered.case.dangers =
            case::dangers(&self.known.tables, &self.standing, &self.runs, &self.procedures);
        not_weighed.extend(unreadable(gathered.unreadable));
        Ok(Told {
            case: gathered.case,
            appliance: Some(self.appliance),
            current_epoch: self.current_epoch,
            evidence_version: self.evidence_version,
            full_checklist: gets_full_checklist(self.order),
            not_weighed,
        })
    }
}

fn unreadable(readings: Vec<(Key, Key, String)>) -> impl Iterator<Item = NotWeighed> {
    readings
        .into_iter()
        .map(|(procedure, step, reason)| NotWeighed { what: format!("{procedure}/{step}"), reason })
}

async fn named_procedures(versions: &Versions, runs: &[TestRun]) -> Result<Vec<Procedure>, Refusal> {
    let named: std::collections::BTreeSet<_> = runs.iter().map(|run| &run.procedure).collect();
    let mut procedures = Vec::with_capacity(named.len());
    for named in named {
        // One that is not there is named among what is not weighed.
        let procedure = versions.procedure(named.key.as_str(), named.version).await?;
        procedures.extend(procedure.map(Arc::unwrap_or_clone));
    }
    Ok(procedures)
}
