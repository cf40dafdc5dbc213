//! What grading asks for besides the runs: the model, the procedures that the runs name, and what other
//! machines' runs say of the building.

use std::collections::BTreeSet;
use std::sync::Arc;

use chrono::TimeDelta;
use domain::equipment::Model;
use domain::evidence::TestRun;
use domain::grading::{Assessment, GradingInput, HealthyReferences, grade};
use domain::id::ApplianceId;
use domain::procedure::{Procedure, ProcedureVersion};
use store::test_run::{ApplianceContext, of_neighbours};

use crate::Refusal;
use crate::versions::Versions;

/// Grades runs of one appliance.
pub(crate) struct Bench<'a> {
    context: &'a ApplianceContext,
    model: Arc<Model>,
    procedures: Vec<Procedure>,
    /// Of the kitchen's other machines, where they were asked for.
    site_runs: Vec<TestRun>,
}

impl<'a> Bench<'a> {
    /// With every version of every procedure that the runs name, and the newest of those that must come
    /// before them.
    pub async fn of(
        versions: &Versions,
        context: &'a ApplianceContext,
        runs: impl IntoIterator<Item = &TestRun>,
    ) -> Result<Self, Refusal> {
        let model = versions.model(&context.model_key, context.model_version).await?;
        let model = model.ok_or_else(|| Refusal::Internal("an appliance without its model".to_owned()))?;
        let named: BTreeSet<_> = runs.into_iter().map(|run| run.procedure.clone()).collect();
        let mut procedures = of_versions(versions, &named).await?;
        let run: BTreeSet<String> = procedures.iter().map(|procedure| procedure.key.to_string()).collect();
        let missing: Vec<String> = comes_first(&procedures).filter(|key| !run.contains(key)).collect();
        let missing = versions.newest_procedures(&missing).await?;
        procedures.extend(missing.into_iter().map(Arc::unwrap_or_clone));
        Ok(Self { context, model, procedures, site_runs: Vec::new() })
    }

    /// With what the kitchen's other machines were read to get from the building at about the time of
    /// the runs.
    pub async fn beside_neighbours(
        mut self,
        versions: &Versions,
        appliance: ApplianceId,
        runs: &[TestRun],
    ) -> Result<Self, Refusal> {
        let taken = || runs.iter().map(|run| run.taken_at);
        if let (Some(first), Some(last)) = (taken().min(), taken().max()) {
            let asked: BTreeSet<String> = comes_first(&self.procedures).collect();
            let asked: Vec<String> = asked.into_iter().collect();
            let taken = (first.instant() - NEAR, last.instant() + NEAR);
            let found =
                of_neighbours(versions.database(), self.context.site, appliance, &asked, taken).await?;
            self.site_runs = found.into_iter().map(|stored| stored.run).collect();
            let known: BTreeSet<_> = self.procedures.iter().map(Procedure::id).collect();
            let named: BTreeSet<_> = self.site_runs.iter().map(|run| run.procedure.clone()).collect();
            self.procedures.extend(of_versions(versions, named.difference(&known)).await?);
        }
        Ok(self)
    }

    pub fn model(&self) -> &Model {
        &self.model
    }

    pub fn procedures(&self) -> &[Procedure] {
        &self.procedures
    }

    pub fn site_runs(&self) -> &[TestRun] {
        &self.site_runs
    }

    /// Grades the runs of one epoch.
    pub fn assess(
        &self,
        runs: &[TestRun],
        epoch: u32,
        references: &dyn HealthyReferences,
    ) -> Result<Assessment, Refusal> {
        let input = GradingInput {
            model: &self.model,
            procedures: &self.procedures,
            runs,
            site_runs: &self.site_runs,
            epoch,
            appliance_limits: &self.context.limits,
            references,
        };
        grade(&input).map_err(|error| Refusal::Internal(error.to_string()))
    }
}

/// A reading of the building counts for the other machines if it was taken within this time of theirs.
pub(super) const NEAR: TimeDelta = TimeDelta::hours(12);

pub(super) async fn of_versions(
    versions: &Versions,
    named: impl IntoIterator<Item = &ProcedureVersion>,
) -> Result<Vec<Procedure>, Refusal> {
    let mut procedures = Vec::new();
    for named in named {
        let procedure = versions.procedure(named.key.as_str(), named.version).await?;
        let procedure =
            procedure.ok_or_else(|| Refusal::Internal(format!("a run of {named}, which is not there")))?;
        procedures.push(Arc::unwrap_or_clone(procedure));
    }
    Ok(procedures)
}

/// The procedures that these ask to be read first.
fn comes_first(procedures: &[Procedure]) -> impl Iterator<Item = String> {
    procedures.iter().flat_map(domain::judgement::comes_first).map(|key| key.to_string())
}
