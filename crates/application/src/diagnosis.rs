//! Diagnoses: computed from all evidence of an epoch when they are asked for, like verdicts. What is likely never follows
//! from verdicts; what is to be read again after a repair does: what failed before it.

pub(crate) mod case;
mod read;
mod tables;
mod what_if;

use std::collections::BTreeSet;
use std::sync::Arc;

use domain::diagnosis::{
    Case, Diagnosis, Possible, diagnose, diagnose_one_of, gets_full_checklist, input_sha256,
};
use domain::evidence::TestRun;
use domain::id::WorkOrderId;
use domain::procedure::Procedure;
use domain::text::Key;
use store::order_standing::{self, OrderStanding};
use store::test_run::{self, OrderEvidence};
use store::{ReadScope, UnitOfWork};

use crate::versions::Versions;
use crate::{Application, Refusal};

pub use read::{Diagnose, GetDiagnosis, GetOutcomeSnapshot, WithParts};
pub use store::diagnosis::{Diagnosed, NotWeighed};
pub use store::outcome_snapshot::{FrozenEpoch, OutcomeSnapshot};
pub use tables::{KnownFaults, Numbers, WarmTables};
pub use what_if::{WhatIf, WhatIfRun, what_if};

/// The diagnosis of an order's epoch: the current one unless another is asked for. `None` where the scope shows
/// no such order; a refusal where its model has no catalogue. Where nobody knows yet which machine it is about it is
/// a mixture of what its kitchen has.
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
    let of = model_of(&evidence);
    let failing = crate::verdicts::failing_before(application, order, &evidence).await?;
    let file = File::of(versions, order, evidence, failing, standing).await?;
    let epoch = epoch.unwrap_or(file.current_epoch);
    let Some((model, version)) = of else {
        return of_kitchen(application, &file, epoch, numbers).await.map(Some);
    };
    let known = versions.known_faults(&model, version, numbers).await?;
    let told = file.told(&known, epoch)?;
    let input = input_sha256(&known.tables, &told.case);
    if let Some(diagnosis) = store::diagnosis::cached(database, &input, application.now()).await? {
        return Ok(Some(told.with(&known, diagnosis)));
    }
    let diagnosed = versions.tables().compute(move || told.diagnose(&known)).await?;
    // The answer stands whether or not it could be kept.
    store::diagnosis::cache(database, &diagnosed.diagnosis, application.now()).await;
    Ok(Some(diagnosed))
}

/// The model of the machine that the order is about, if anybody has said which it is.
fn model_of(evidence: &OrderEvidence) -> Option<(String, u32)> {
    evidence.appliance.as_ref().map(|(_, context)| (context.model_key.clone(), context.model_version))
}

/// Nobody has said which machine it is: a mixture of those of its kitchen whose faults are known.
async fn of_kitchen(
    application: &Application,
    file: &File,
    epoch: u32,
    numbers: Numbers,
) -> Result<Diagnosed, Refusal> {
    let versions = application.versions();
    let mut possible = Vec::new();
    for of in order_standing::kitchen(application.database(), file.order).await? {
        match versions.known_faults(&of.model, of.version, numbers).await {
            Ok(known) => possible.push((file.told(&known, epoch)?, known, of.machines)),
            // No faults of this model are known.
            Err(Refusal::Conflict { .. }) => {}
            Err(refusal) => return Err(refusal),
        }
    }
    let work = move || {
        let each = |(told, known, machines): &(Told, Arc<KnownFaults>, u32)| {
            (known.tables.identity().to_owned(), told.case.clone(), *machines)
        };
        let cases: Vec<_> = possible.iter().map(each).collect();
        let machines: Vec<Possible> = possible
            .iter()
            .zip(&cases)
            .map(|((_, known, machines), (_, case, _))| Possible {
                tables: &known.tables,
                case,
                machines: *machines,
            })
            .collect();
        let diagnosis = diagnose_one_of(&machines)?;
        let likeliest = cases.iter().position(|(identity, ..)| *identity == diagnosis.knowledge_sha256)?;
        let (told, known, _) = possible.into_iter().nth(likeliest)?;
        Some(told.with(&known, diagnosis))
    };
    versions.tables().compute(work).await?.ok_or_else(crate::verdicts::unknown_machine)
}

/// The diagnoses of every epoch of an order, oldest first, as it stands in a unit of work, whoever asks.
pub(crate) async fn of_every_epoch_within(
    unit: &mut UnitOfWork,
    versions: &Versions,
    order: WorkOrderId,
    evidence: OrderEvidence,
) -> Result<Vec<Diagnosed>, Refusal> {
    let standing = order_standing::of_order_within(unit, order).await?;
    let (model, version) = model_of(&evidence).ok_or_else(crate::verdicts::unknown_machine)?;
    let known = versions.known_faults(&model, version, Numbers::Newest).await?;
    let verdicts = crate::verdicts::of_every_epoch_within(unit, versions, order, evidence.clone()).await?;
    let failing = verdicts.iter().map(crate::verdicts::failing).collect();
    let file = File::of(versions, order, evidence, failing, standing).await?;
    let told: Result<Vec<Told>, Refusal> =
        (0..=file.current_epoch).map(|epoch| file.told(&known, epoch)).collect();
    let told = told?;
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
    appliance: Option<domain::id::ApplianceId>,
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
        standing: OrderStanding,
    ) -> Result<Self, Refusal> {
        let appliance = evidence.appliance.map(|(appliance, _)| appliance);
        let runs: Vec<TestRun> = evidence.runs.into_iter().map(|stored| stored.run).collect();
        let procedures = named_procedures(versions, &runs).await?;
        let (current_epoch, evidence_version) = (evidence.epoch, evidence.evidence_version);
        Ok(Self { order, appliance, runs, procedures, standing, failing, current_epoch, evidence_version })
    }

    fn told(&self, known: &KnownFaults, epoch: u32) -> Result<Told, Refusal> {
        if epoch > self.current_epoch {
            return Err(Refusal::NotFound { what: "epoch of the order yet" });
        }
        let (background, mut not_weighed) =
            case::background(known.tables.catalogue(), &self.standing, &self.failing, epoch);
        let gathered = background.case(&known.tables, &self.runs, &self.procedures);
        not_weighed.extend(unreadable(gathered.unreadable));
        Ok(Told {
            case: gathered.case,
            appliance: self.appliance,
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
