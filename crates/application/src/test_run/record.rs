use std::collections::HashSet;
use std::sync::Arc;

use domain::danger::Danger;
use domain::evidence::{Doubt, TestRun};
use domain::id::{SiteId, TestRunId};
use domain::time::Timestamp;
use store::test_run::{self, NewTestRun};
use store::{Change, StoreError, UnitOfWork};

use super::check::{Surroundings, Unfit};
use crate::stop::{Stopping, stop_use};
use crate::use_case::body_sha256;
use crate::versions::Versions;
use crate::work_order::recheck_proof;
use crate::{Caller, Fault, Refusal, UseCase};

/// Keeps what a phone sends. Runs that hold are kept whatever becomes of the others.
pub struct RecordTestRuns {
    pub versions: Arc<Versions>,
    /// Their epoch is not the sender's to say and is left 0.
    pub runs: Vec<TestRun>,
    /// What the device's clock lacks.
    pub clock_correction_microseconds: i64,
}

/// What became of one run.
#[derive(Debug)]
pub enum Recorded {
    /// With what in it is doubtful.
    Created(Vec<Doubt>),
    AlreadyThere(Vec<Doubt>),
    IdTaken,
    Invalid(Vec<Fault>),
    /// The device's clock is wrong: the phone keeps the run, and sends it again.
    ClockToSet(String),
}

struct Candidate {
    index: usize,
    site: SiteId,
    dangers: Vec<Danger>,
    /// By our clock.
    taken_at: Timestamp,
    new: NewTestRun,
}

impl UseCase for RecordTestRuns {
    const NAME: &'static str = "create_test_runs";
    type Outcome = Vec<Recorded>;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Self::Outcome, Refusal> {
        let ids: Vec<TestRunId> = self.runs.iter().map(|run| run.id).collect();
        let (versions, correction) = (Arc::clone(&self.versions), self.clock_correction_microseconds);
        let mut surroundings = Surroundings::of(unit, caller, versions, &self.runs, correction).await?;
        // After the orders' locks, so that a repeated batch sees what its twin wrote.
        let mut hashes = test_run::known_hashes(unit, &ids).await?;
        let mut results = Vec::with_capacity(self.runs.len());
        let mut candidates = Vec::new();
        for (index, run) in self.runs.into_iter().enumerate() {
            let sha256 = body_sha256(&run)?;
            results.push(match hashes.get(&run.id) {
                Some(known) if *known == sha256 => Recorded::AlreadyThere(surroundings.doubts(&run).await?),
                Some(_) => Recorded::IdTaken,
                None => {
                    let named = run.appliance;
                    let run = surroundings.redirected(run);
                    let moved_from = (run.appliance != named).then_some(named);
                    match surroundings.check(&run).await? {
                        Err(Unfit::Faulty(faults)) => Recorded::Invalid(faults),
                        Err(Unfit::ClockToSet(detail)) => Recorded::ClockToSet(detail),
                        Ok(checked) => {
                            hashes.insert(run.id, sha256.clone());
                            let new = NewTestRun {
                                run,
                                quantities: checked.quantities,
                                clock_correction_microseconds: correction,
                                taken_by: caller.principal.person,
                                late: checked.late,
                                moved_from,
                                sha256,
                            };
                            let (site, dangers, taken_at) = (checked.site, checked.dangers, checked.taken_at);
                            candidates.push(Candidate { index, site, dangers, taken_at, new });
                            Recorded::Created(checked.doubts)
                        }
                    }
                }
            });
        }
        insert(unit, &mut candidates, &mut results).await?;
        let orders: HashSet<_> =
            candidates.iter().filter_map(|candidate| candidate.new.run.work_order).collect();
        let orders: Vec<_> = orders.into_iter().collect();
        test_run::bump_evidence(unit, &orders).await?;
        for Candidate { site, dangers, taken_at, new, .. } in candidates {
            let run = new.run;
            if !dangers.is_empty() {
                let told: Vec<&str> = dangers.iter().map(|danger| danger.words()).collect();
                let stopping = Stopping {
                    appliance: run.appliance,
                    site,
                    work_order: run.work_order,
                    dangers: &dangers,
                    why: format!("{} was read in {}.", told.join(" and "), run.procedure),
                    at: taken_at,
                };
                stop_use(unit, caller, stopping).await?;
            }
            let kind =
                if run.retraction_reason.is_some() { "test_run.retracted" } else { "test_run.recorded" };
            let change = Change::of(kind, run.id).at_site(site).on_appliance(Some(run.appliance));
            unit.record(change.on_order(run.work_order));
        }
        // Their rows are locked: whoever proves or closes one of them at this moment sees these readings, or is seen here.
        for order in orders {
            recheck_proof(unit, &self.versions, order).await?;
        }
        Ok(results)
    }
}

/// All at once; only if a constraint refuses, one after the other.
async fn insert(
    unit: &mut UnitOfWork,
    candidates: &mut Vec<Candidate>,
    results: &mut [Recorded],
) -> Result<(), Refusal> {
    let new: Vec<&NewTestRun> = candidates.iter().map(|candidate| &candidate.new).collect();
    match test_run::insert_all(unit, &new).await {
        Ok(()) => return Ok(()),
        Err(StoreError::Duplicate { .. } | StoreError::Dangling { .. } | StoreError::Refused { .. }) => {}
        Err(error) => return Err(error.into()),
    }
    let inserted = test_run::insert_each(unit, &new).await?;
    let ids: Vec<TestRunId> = new.iter().map(|new| new.run.id).collect();
    let hashes = test_run::known_hashes(unit, &ids).await?;
    let mut inserted = inserted.into_iter();
    candidates.retain(|candidate| match inserted.next() {
        Some(Err(error)) => {
            let known = hashes.get(&candidate.new.run.id);
            results[candidate.index] = refused(known, &candidate.new.sha256, &error);
            false
        }
        _ => true,
    });
    Ok(())
}

/// A run without an order has no lock, so its twin can win the race.
fn refused(known: Option<&Vec<u8>>, ours: &[u8], error: &StoreError) -> Recorded {
    match (known, error) {
        (Some(known), _) if known == ours => Recorded::AlreadyThere(Vec::new()),
        (Some(_), _) => Recorded::IdTaken,
        (None, StoreError::Duplicate { constraint }) if constraint == "test_run_supersedes_id_key" => {
            let detail = "that run is superseded by another already; read it again and supersede that one";
            Recorded::Invalid(vec![Fault::at("/supersedes_id", detail)])
        }
        (None, error) => {
            tracing::warn!(%error, "the store refused a run that was checked");
            Recorded::Invalid(vec![Fault::at(
                "",
                "what it points at was changed in the meantime; send it again",
            )])
        }
    }
}
