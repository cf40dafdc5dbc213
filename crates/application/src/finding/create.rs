use domain::id::ApplianceId;
use domain::vocabulary::Condition;
use domain::work::{FindingParts, check_finding};
use store::finding::{self, Finding, NewFinding};
use store::{UnitOfWork, fault_catalogue, test_run};

use crate::use_case::{body_sha256, is_new, written};
use crate::work_order::{Held, hold_at, not_in_future};
use crate::{Caller, Created, Fault, Listed, Refusal, UseCase};

/// Keeps what somebody confirmed of a position, or the correction of an earlier finding.
pub struct CreateFinding(pub NewFinding);

impl UseCase for CreateFinding {
    const NAME: &'static str = "create_finding";
    type Outcome = Created<Finding>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let new = self.0;
        let held = hold_at(unit, caller, new.work_order, ("/found_at", new.found_at)).await?;
        let appliance = held.order.appliance.ok_or_else(|| Refusal::Conflict {
            detail: "nobody has confirmed yet which appliance the order is about; set its appliance_id first"
                .to_owned(),
        })?;
        check(&new, unit)?;
        check_fault(unit, &new, appliance).await?;
        check_runs(unit, &new, appliance).await?;
        let superseded = superseded(unit, &new, appliance).await?;
        let confirmed_by = caller.principal.person;
        let creation = finding::insert(unit, &new, appliance, confirmed_by, &body_sha256(&new)?).await?;
        let is_new = is_new(creation, "finding")?;
        let item = written(finding::get(unit, new.id).await?, "finding")?;
        if is_new {
            if let Some(superseded) = superseded {
                finding::count(unit, held.order.site, &superseded, -1).await?;
            }
            finding::count(unit, held.order.site, &item, 1).await?;
            test_run::bump_evidence(unit, &[new.work_order]).await?;
            unit.record(record(&held, &new));
        }
        Ok(Created { item, is_new })
    }
}

fn record(held: &Held, new: &NewFinding) -> store::Change {
    let kind = if new.retraction_reason.is_some() { "finding.retracted" } else { "finding.confirmed" };
    held.change(kind, new.id).because(format!("{}: {}", new.position, new.finding))
}

fn check(new: &NewFinding, unit: &UnitOfWork) -> Result<(), Refusal> {
    let mut faults = Vec::new();
    not_in_future("/found_at", Some(new.found_at), unit.now(), &mut faults);
    match new.finding.as_str().parse::<Condition>() {
        Err(unknown) => faults.push(Fault::at("/finding", unknown.to_string())),
        // A retraction repeats what it takes back, as far as its sender likes.
        Ok(_) if new.retraction_reason.is_some() => {}
        Ok(condition) => {
            let parts = FindingParts {
                condition,
                failure_mode: new.failure_mode.as_ref(),
                mechanism: new.mechanism.as_ref(),
                cause: new.cause.as_ref(),
                note: new.note.as_ref(),
            };
            faults.extend(check_finding(&parts).err().into_iter().flatten().map(Fault::from));
        }
    }
    if new.retraction_reason.is_some() && new.supersedes.is_none() {
        faults.push(Fault::at("/supersedes_id", "name the finding that is taken back"));
    }
    if new.supersedes == Some(new.id) {
        faults.push(Fault::at("/supersedes_id", "a finding cannot supersede itself"));
    }
    Refusal::unless_faultless(faults)
}

/// The fault that it names must be of the machine's model, and stand where the finding does.
async fn check_fault(unit: &mut UnitOfWork, new: &NewFinding, appliance: ApplianceId) -> Result<(), Refusal> {
    let Some((key, version)) = &new.fault else { return Ok(()) };
    let context = test_run::appliances(unit, &[appliance]).await?.remove(&appliance);
    let model = context.map(|context| context.model_key).unwrap_or_default();
    match fault_catalogue::position_of(unit, &model, key, *version).await? {
        None => {
            let detail = format!("the catalogue of {model} has no version {version} of a fault {key}");
            Err(Refusal::Invalid(vec![Fault::not_listed("/fault", detail, Listed::Faults)]))
        }
        Some(position) if position != new.position.as_str() => {
            Err(Refusal::invalid("/position", format!("the fault {key} is one of the {position}")))
        }
        Some(_) => Ok(()),
    }
}

/// The runs that it rests on were read on its machine.
async fn check_runs(unit: &mut UnitOfWork, new: &NewFinding, appliance: ApplianceId) -> Result<(), Refusal> {
    let known = test_run::corrected(unit, &new.test_runs).await?;
    let faults = new.test_runs.iter().enumerate().filter_map(|(index, run)| {
        let detail = match known.get(run) {
            None => "no such run is kept: send it first",
            Some(run) if run.appliance != appliance => "was read on another machine than the order's",
            Some(_) => return None,
        };
        Some(Fault::at(format!("/test_run_ids/{index}"), detail))
    });
    Refusal::unless_faultless(faults.collect())
}

/// The finding that is corrected, if it is of the same order and machine.
async fn superseded(
    unit: &mut UnitOfWork,
    new: &NewFinding,
    appliance: ApplianceId,
) -> Result<Option<Finding>, Refusal> {
    let Some(id) = new.supersedes else { return Ok(None) };
    let found = finding::get(unit, id).await?;
    let found = found.filter(|found| found.work_order == new.work_order && found.appliance == appliance);
    let found = found.ok_or_else(|| Refusal::invalid("/supersedes_id", "the order has no such finding"))?;
    match found.superseded_by {
        Some(by) if by != new.id => {
            let detail = format!("that finding is superseded by {by} already; supersede that one");
            Err(Refusal::invalid("/supersedes_id", detail))
        }
        _ => Ok(Some(found)),
    }
}
