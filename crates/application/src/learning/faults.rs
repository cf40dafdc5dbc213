//! What closed orders teach of faults. Only findings of a person who looked confirm or refute; what nobody looked
//! for counts by its expectation under the catalogue.

use std::collections::{BTreeMap, BTreeSet};

use chrono::TimeDelta;
use domain::diagnosis::{ClosedJob, Exposure, JobFinding, Knowledge, Tables, learning::JobOutcome};
use domain::equipment::{DAYS_PER_YEAR, ObservationKey};
use domain::id::{SiteId, WorkOrderId};
use domain::text::Key;
use domain::vocabulary::{Condition, EvidenceKind};
use serde_json::{Value, json};
use store::learning::Learning;
use store::learning::jobs::{self, EndedOrder, Look};
use store::order_standing::{self, OrderStanding, StandingFinding};
use store::{UnitOfWork, fault_catalogue, known_version};

use crate::Refusal;
use crate::diagnosis::Numbers;
use crate::diagnosis::case::{complaint, faults_meant};
use crate::versions::Versions;

/// How many orders are read at once.
const PAGE: i64 = 500;

/// What is learned of each model's faults, and from what.
pub(super) async fn learn(
    unit: &mut UnitOfWork,
    versions: &Versions,
    learning: &Learning,
) -> Result<(BTreeMap<String, Knowledge>, Value), Refusal> {
    let version = u32::try_from(learning.n).map_err(|error| Refusal::Internal(error.to_string()))?;
    let (mut learned, mut made_from) = (BTreeMap::new(), BTreeMap::new());
    for (model, catalogue) in fault_catalogue::newest_known_at(unit, learning.created_at).await? {
        let exposure = exposure(unit, learning, &model).await?;
        if exposure.is_empty() {
            continue;
        }
        let newest = known_version::newest_model(unit, model.as_str()).await?.unwrap_or(0);
        let numbers = Numbers::OfCatalogue(catalogue);
        let known = match versions.known_faults(model.as_str(), newest, numbers).await {
            Ok(known) => known,
            Err(Refusal::Conflict { detail }) => {
                tracing::warn!(%model, detail, "nothing is learned of the faults of a model");
                continue;
            }
            Err(refusal) => return Err(refusal),
        };
        let jobs = jobs_of(unit, learning, &model, &known.tables).await?;
        let compute = move || Knowledge::learn(&known.tables, &jobs, &exposure, version);
        let knowledge = versions.tables().compute(compute).await?;
        let of = json!({
            "catalogue_version": catalogue,
            "jobs": knowledge.made_from.jobs,
            "appliance_years": knowledge.made_from.appliance_years,
            "sha256": knowledge.made_from.sha256,
        });
        made_from.insert(model.to_string(), of);
        learned.insert(model.to_string(), knowledge);
    }
    Ok((learned, json!(made_from)))
}

async fn exposure(unit: &mut UnitOfWork, learning: &Learning, model: &Key) -> Result<Vec<Exposure>, Refusal> {
    let window = (learning.as_of, learning.created_at);
    let mut days: BTreeMap<SiteId, TimeDelta> = BTreeMap::new();
    for (site, time) in jobs::service_times(unit, model.as_str(), window).await? {
        *days.entry(site).or_default() += time;
    }
    let years = |time: TimeDelta| time.as_seconds_f64() / (DAYS_PER_YEAR * 86_400.0);
    Ok(days
        .into_iter()
        .filter(|(_, time)| *time > TimeDelta::zero())
        .map(|(site, time)| Exposure { site, appliance_years: years(time) })
        .collect())
}

async fn jobs_of(
    unit: &mut UnitOfWork,
    learning: &Learning,
    model: &Key,
    tables: &Tables,
) -> Result<Vec<ClosedJob>, Refusal> {
    let window = (learning.as_of, learning.created_at);
    let (mut closed, mut after) = (Vec::new(), None);
    loop {
        let orders = jobs::ended_orders(unit, model.as_str(), window, after, PAGE).await?;
        let Some(last) = orders.last() else { return Ok(closed) };
        after = Some(last.id);
        let ids: Vec<WorkOrderId> = orders.iter().map(|order| order.id).collect();
        let mut standings = order_standing::of_orders_within(unit, &ids, learning.created_at).await?;
        let mut looks = jobs::looks(unit, &ids, learning.created_at).await?;
        for order in orders {
            let standing = standings.remove(&order.id).unwrap_or_default();
            let looks = looks.remove(&order.id).unwrap_or_default();
            closed.extend(closed_job(tables, &order, &standing, &looks));
        }
        tokio::task::yield_now().await;
    }
}

/// None of an order that nobody went to.
fn closed_job(
    tables: &Tables,
    order: &EndedOrder,
    standing: &OrderStanding,
    looks: &[Look],
) -> Option<ClosedJob> {
    let first_change = standing.actions.iter().find(|action| action.changes_the_machine());
    let first_change = first_change.map(|action| action.taken_at.instant());
    let of_first_visit =
        || looks.iter().filter(|look| first_change.is_none_or(|change| look.taken_at < change));
    let done: BTreeSet<&str> = of_first_visit().map(|look| look.procedure.as_str()).collect();
    let seen = of_first_visit().filter_map(|look| {
        let (step, choice) = look.choice.clone()?;
        Some((ObservationKey::new(format!("{}/{step}", look.procedure)).ok()?, choice))
    });
    Some(ClosedJob {
        work_order: order.id,
        site: order.site,
        technician: order.technician?,
        complaint: complaint(&standing.symptoms),
        findings: findings(tables, standing),
        looks: seen.collect(),
        full_checklist: tells(tables).all(|procedure| done.contains(procedure)),
    })
}

/// The procedures that tell of faults.
fn tells(tables: &Tables) -> impl Iterator<Item = &str> {
    let catalogue = tables.catalogue();
    let measured = catalogue.measurements.iter().map(|measurement| measurement.key.procedure());
    let looked = catalogue.inspections.iter().map(|inspection| inspection.key.procedure());
    measured.chain(looked).filter(|procedure| *procedure != "intake")
}

/// What an order says of faults: each of them once, by the last finding that speaks of it.
fn findings(tables: &Tables, standing: &OrderStanding) -> Vec<JobFinding> {
    let mut outcomes: BTreeMap<Key, JobOutcome> = BTreeMap::new();
    for finding in &standing.findings {
        let Some(outcome) = outcome(standing, finding) else { continue };
        for fault in faults_meant(tables.catalogue(), finding) {
            let said = outcomes.entry(fault.key.clone()).or_insert(outcome);
            // That it is in order after the repair takes nothing back.
            if outcome != JobOutcome::Refuted {
                *said = outcome;
            }
        }
    }
    outcomes.into_iter().map(|(fault, outcome)| JobFinding { fault, outcome }).collect()
}

/// None where nobody looked, or where what was only told was not mended either.
fn outcome(standing: &OrderStanding, finding: &StandingFinding) -> Option<JobOutcome> {
    let looked = matches!(
        finding.evidence.as_str().parse(),
        Ok(EvidenceKind::Measured | EvidenceKind::Timed | EvidenceKind::Seen)
    );
    let is_mended = || {
        let mut actions = standing.actions.iter().filter(|action| action.changes_the_machine());
        actions.any(|action| action.position == finding.position && action.taken_at >= finding.found_at)
    };
    match finding.finding.as_str().parse().ok()? {
        Condition::Ok if looked => Some(JobOutcome::Refuted),
        Condition::Degraded | Condition::Failed if looked => Some(JobOutcome::Confirmed),
        Condition::Degraded | Condition::Failed if is_mended() => Some(JobOutcome::MendedTogether),
        _ => None,
    }
}
