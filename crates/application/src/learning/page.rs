//! One page of a learning: the next appliances, or, after the last, the version.

use std::collections::HashMap;

use domain::grading::LearnedReferences;
use domain::id::ApplianceId;
use domain::known_good::fleet::{Method, Plan, learn_selected};
use domain::known_good::learned::{LearnedMeasurement, sides};
use domain::known_good::selection::one_per_unit;
use domain::known_good::tolerance::Aim;
use domain::known_good::variance_components::pooled;
use serde_json::json;
use store::appliance_history::{self, ApplianceHistory};
use store::learning::{self, Group, Learning, UnitEvidence};
use store::test_run::{self, ApplianceContext, StoredRun};
use store::{Change, UnitOfWork, knowledge, known_version};

use super::{Step, faults};
use crate::Refusal;
use crate::known_good::evidence;
use crate::verdicts::bench::Bench;
use crate::verdicts::job::jobs;
use crate::versions::Versions;

/// What computed it, for whoever compares two versions.
const ENGINE: &str = concat!("ovenwright ", env!("CARGO_PKG_VERSION"));

pub(super) async fn work(
    unit: &mut UnitOfWork,
    versions: &Versions,
    learning: &Learning,
    appliances: i64,
) -> Result<Step, Refusal> {
    let page = learning::appliances(unit, learning, appliances).await?;
    let Some((last, _)) = page.last() else {
        finish(unit, versions, learning).await?;
        return Ok(Step::Done);
    };
    let ids: Vec<ApplianceId> = page.iter().map(|(id, _)| *id).collect();
    let mut runs: HashMap<ApplianceId, Vec<StoredRun>> = HashMap::new();
    for stored in test_run::of_appliances_within(unit, &ids, learning.created_at).await? {
        if stored.run.taken_at <= learning.as_of {
            runs.entry(stored.run.appliance).or_default().push(stored);
        }
    }
    let mut histories = appliance_history::all_within(unit, &ids, learning.created_at).await?;
    let (mut units, mut unreadable) = (Vec::new(), 0);
    for (id, context) in &page {
        let Some(runs) = runs.remove(id) else { continue };
        let history = histories.remove(id).unwrap_or_default();
        unreadable += gather(versions, learning, *id, context, runs, &history, &mut units).await?;
        tokio::task::yield_now().await;
    }
    learning::put(unit, learning.n, &units).await?;
    learning::advance(unit, learning.n, *last, i64::try_from(page.len()).unwrap_or(0), unreadable).await?;
    Ok(Step::Worked)
}

/// Adds what one appliance gives; tells how many of its jobs could not be graded.
async fn gather(
    versions: &Versions,
    learning: &Learning,
    appliance: ApplianceId,
    context: &ApplianceContext,
    runs: Vec<StoredRun>,
    history: &ApplianceHistory,
    units: &mut Vec<UnitEvidence>,
) -> Result<i64, Refusal> {
    let bench = Bench::of(versions, context, runs.iter().map(|stored| &stored.run)).await?;
    let jobs = jobs(runs);
    let nothing = LearnedReferences::default();
    let (mut graded, mut unreadable) = (Vec::with_capacity(jobs.len()), 0);
    for job in &jobs {
        match job.assess(&bench, &nothing) {
            Ok(assessment) => graded.push((assessment, job.runs.as_slice())),
            Err(error) => {
                tracing::warn!(%error, %appliance, "a job could not be graded and teaches nothing");
                unreadable += 1;
            }
        }
    }
    for (of, readings) in evidence::collect(graded, history) {
        // What the building supplies is no matter of the model.
        if readings.position.is_external() {
            continue;
        }
        let good = readings.good(history, learning.as_of);
        let within = good.within(readings.quantity);
        let mut counted: Vec<_> = good.all().collect();
        counted.sort_unstable_by_key(|reading| (reading.taken_at, reading.test_run));
        let mut left_out = good.left_out;
        let latest = one_per_unit(counted, &mut left_out).pop();
        let group = Group { model: bench.model().key.clone(), of, quantity: readings.quantity };
        units.push(UnitEvidence { group, appliance, latest, within, left_out });
    }
    Ok(unreadable)
}

/// Learns each reference from what all appliances gave, and the faults from the orders that ended, and keeps them
/// as the version.
async fn finish(unit: &mut UnitOfWork, versions: &Versions, learning: &Learning) -> Result<(), Refusal> {
    let version = u32::try_from(learning.n).map_err(|error| Refusal::Internal(error.to_string()))?;
    let mut learned = Vec::new();
    for group in learning::groups(unit, learning.n).await? {
        let newest = known_version::newest_model(unit, group.model.as_str()).await?;
        let model = versions.model(group.model.as_str(), newest.unwrap_or(0)).await?;
        let model = model.ok_or_else(|| Refusal::Internal(format!("no model {}", group.model)))?;
        let units = learning::units(unit, learning.n, &group).await?;
        let plan = Plan {
            method: Method::Normal,
            scale: group.quantity.scale(),
            aim: Aim::usual(sides(&model, &group.of)),
            as_of: learning.as_of,
            version,
        };
        let reference = learn_selected(&units.readings, units.left_out, plan);
        let within = pooled(units.within).ok();
        let Group { model, of, quantity } = group;
        learned.push(LearnedMeasurement { model, of, quantity, reference, within });
        tokio::task::yield_now().await;
    }
    let (faults, of_faults) = faults::learn(unit, versions, learning).await?;
    let made_from = json!({
        "as_of": learning.as_of,
        "known_at": learning.created_at,
        "engine": ENGINE,
        "appliances": learning.appliances_done,
        "jobs_unreadable": learning.jobs_unreadable,
        "faults": of_faults,
    });
    let learned = knowledge::Learned { known_good: learned, faults };
    knowledge::insert(unit, learning.n, &learned, &made_from).await?;
    learning::clear(unit, learning.n).await?;
    learning::end(unit, learning.n, None).await?;
    unit.record(Change::of("knowledge_version.made", learning.id));
    Ok(())
}
