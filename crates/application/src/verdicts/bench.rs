//! What grading asks for besides the runs: the model, and the procedures that the runs name.

use std::collections::BTreeSet;
use std::sync::Arc;

use domain::equipment::Model;
use domain::evidence::TestRun;
use domain::grading::{Assessment, GradingInput, HealthyReferences, grade};
use domain::procedure::Procedure;
use store::test_run::ApplianceContext;

use crate::Refusal;
use crate::versions::Versions;

/// Grades runs of one appliance.
pub(crate) struct Bench<'a> {
    context: &'a ApplianceContext,
    model: Arc<Model>,
    procedures: Vec<Procedure>,
}

impl<'a> Bench<'a> {
    /// With every version of every procedure that the runs name.
    pub async fn of(
        versions: &Versions,
        context: &'a ApplianceContext,
        runs: impl IntoIterator<Item = &TestRun>,
    ) -> Result<Self, Refusal> {
        let model = versions.model(&context.model_key, context.model_version).await?;
        let model = model.ok_or_else(|| Refusal::Internal("an appliance without its model".to_owned()))?;
        let named: BTreeSet<_> = runs.into_iter().map(|run| run.procedure.clone()).collect();
        let mut procedures = Vec::with_capacity(named.len());
        for named in named {
            let procedure = versions.procedure(named.key.as_str(), named.version).await?;
            let procedure = procedure
                .ok_or_else(|| Refusal::Internal(format!("a run of {named}, which is not there")))?;
            procedures.push(Arc::unwrap_or_clone(procedure));
        }
        Ok(Self { context, model, procedures })
    }

    pub fn model(&self) -> &Model {
        &self.model
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
            epoch,
            appliance_limits: &self.context.limits,
            references,
        };
        grade(&input).map_err(|error| Refusal::Internal(error.to_string()))
    }
}
