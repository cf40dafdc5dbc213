//! Somebody's own visits with all that a phone judges by where it has no signal.

use std::collections::BTreeMap;

use domain::equipment::Measurement;
use domain::id::{PersonId, WorkOrderId};
use domain::judgement::{Background, Evidence, Knowledge};
use domain::procedure::Procedure;
use store::{catalogue, order_standing, test_run, visit};

use crate::diagnosis::Numbers;
use crate::diagnosis::case::background;
use crate::see_visit::{SeeVisit, VisitFile};
use crate::verdicts::carried::{Carried, carried};
use crate::verdicts::failing_before;
use crate::{Application, Caller, Question, Refusal};

pub use crate::verdicts::LastHealthy;

/// Where the caller is sent today and tomorrow, to be kept on his phone.
#[derive(Debug, Clone, Copy)]
pub struct KeepDay;

#[derive(Debug)]
pub struct KeptDay {
    pub person: PersonId,
    pub visits: Vec<KeptVisit>,
    /// By the name that a visit's evidence gives it: the same name, the same knowledge.
    pub knowledge: BTreeMap<String, Knowledge>,
}

#[derive(Debug)]
pub struct KeptVisit {
    pub of: VisitFile,
    /// None while nobody knows which machine it is.
    pub evidence: Option<KeptEvidence>,
}

/// From which the phone judges.
#[derive(Debug)]
pub struct KeptEvidence {
    /// Name of the knowledge.
    pub knowledge: String,
    pub evidence: Evidence,
    /// The reading of each measurement that was healthy last, in another job.
    pub last_healthy: BTreeMap<Measurement, LastHealthy>,
}

impl Question for KeepDay {
    const NAME: &'static str = "see_day";
    type Answer = KeptDay;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<KeptDay, Refusal> {
        let (database, person) = (application.database(), caller.principal.person);
        let mut kept = KeptDay { person, visits: Vec::new(), knowledge: BTreeMap::new() };
        let mut of_day = visit::of_day(database, person, application.now()).await?;
        of_day.truncate(usize::from(visit::OF_A_DAY));
        let newest = catalogue::procedure::newest(database, None).await?;
        let newest: Vec<Procedure> = newest.into_iter().map(|kept| kept.entry).collect();
        for (id, _) in of_day {
            let of = match application.ask(caller, SeeVisit(id)).await {
                // Whoever was taken off it at this moment does not see it any more.
                Err(Refusal::NotFound { .. }) => continue,
                seen => seen?,
            };
            // What has ended is not judged any more.
            let evidence = if of.visit.times.state().is_open() {
                evidence(application, caller, of.file.order.id, &newest, &mut kept.knowledge).await?
            } else {
                None
            };
            kept.visits.push(KeptVisit { of, evidence });
        }
        Ok(kept)
    }
}

async fn evidence(
    application: &Application,
    caller: &Caller,
    order: WorkOrderId,
    newest: &[Procedure],
    known: &mut BTreeMap<String, Knowledge>,
) -> Result<Option<KeptEvidence>, Refusal> {
    let (database, versions) = (application.database(), application.versions());
    let found = test_run::order_evidence(database, &caller.read_scope(), order).await?;
    let Some(found) = found else { return Ok(None) };
    let Some((appliance, context)) = found.appliance.clone() else { return Ok(None) };
    let model = versions.model(&context.model_key, context.model_version).await?;
    let Some(model) = model else { return Ok(None) };
    let epoch = found.epoch;
    let (name, faults, background) =
        match versions.known_faults(&context.model_key, context.model_version, Numbers::Newest).await {
            Ok(faults) => {
                let failing = failing_before(application, order, &found).await?;
                let standing = order_standing::of_order(database, order).await?;
                let catalogue = faults.tables.catalogue();
                let (background, _) = background(catalogue, &standing, &failing, epoch);
                (faults.tables.identity().to_owned(), Some(catalogue.clone()), background)
            }
            // Nobody has described its faults: it is graded, and not diagnosed.
            Err(Refusal::Conflict { .. }) => {
                let mut background = Background::default();
                background.standing.epoch = epoch;
                (format!("{} {}", model.key, model.version), None, background)
            }
            Err(refusal) => return Err(refusal),
        };
    let applies = |procedure: &&Procedure| procedure.applies_to(&model);
    let fitting: Vec<Procedure> = newest.iter().filter(applies).cloned().collect();
    let Carried { runs, site_runs, procedures, limits, references, last_healthy } =
        carried(application, order, found, (appliance, &context), &fitting).await?;
    let is_older = |procedure: &Procedure| newest.iter().all(|newest| newest.id() != procedure.id());
    let evidence = Evidence {
        runs,
        site_runs,
        older_procedures: procedures.into_iter().filter(is_older).collect(),
        appliance_limits: limits,
        own: references.own.into_iter().collect(),
        fleet: references.fleet.into_iter().collect(),
        background,
    };
    known.entry(name.clone()).or_insert_with(|| Knowledge {
        model: model.as_ref().clone(),
        faults,
        procedures: newest.to_vec(),
    });
    Ok(Some(KeptEvidence { knowledge: name, evidence, last_healthy }))
}
