use std::collections::BTreeSet;
use std::sync::Arc;

use domain::danger::{Danger, unreleased};
use domain::evidence::TestRun;
use domain::id::ApplianceId;
use domain::procedure::Procedure;
use domain::role::Role;
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::ApplianceState;
use store::appliance::{self, Appliance};
use store::stop::{self, Stop};
use store::{Change, UnitOfWork, appliance_state, person, test_run};

use super::with_own_limits;
use crate::use_case::written;
use crate::versions::Versions;
use crate::{Caller, Refusal, UseCase};

/// Says that a machine under stop-use may be used again: the one way out of it. A technician does it who has the skill that each
/// danger asks for, once every look for it reads healthy; without that a manager or an administrator answers for it.
pub struct ReleaseAppliance {
    pub versions: Arc<Versions>,
    pub id: ApplianceId,
    pub expected_version: i64,
    /// In which state it may be used.
    pub state: ApplianceState,
    pub reason: Words,
}

impl UseCase for ReleaseAppliance {
    const NAME: &'static str = "act_on_appliance";
    type Outcome = Appliance;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<Appliance, Refusal> {
        let scope = caller.read_scope();
        let missing = || Refusal::NotFound { what: "appliance" };
        let seen = appliance::get(unit, &scope, self.id).await?.ok_or_else(missing)?;
        let stands = appliance_state::lock(unit, self.id).await?.ok_or_else(missing)?;
        if stands.version != self.expected_version {
            return Err(Refusal::Stale { what: "appliance", current: stands.version });
        }
        if matches!(self.state, ApplianceState::UnsafeDoNotUse | ApplianceState::Removed) {
            return Err(Refusal::invalid(
                "/state",
                "say in which state it may be used: up, degraded or down",
            ));
        }
        let stops = stop::open_of(unit, self.id).await?;
        if stops.is_empty() && stands.state != ApplianceState::UnsafeDoNotUse {
            return Err(Refusal::NotNow {
                detail: format!("the machine is {} and under no stop-use", stands.state),
                missing: Vec::new(),
            });
        }
        let lacking = self.lacking(unit, caller, &seen, &stops).await?;
        if !lacking.is_empty() {
            let detail = format!("not released; what is missing: {}", lacking.join("; "));
            return Err(Refusal::NotNow { detail, missing: lacking });
        }
        stop::release(unit, self.id, caller.principal.person, &self.reason).await?;
        appliance_state::set_released(unit, self.id, self.state).await?;
        let change = Change::of("appliance.released", self.id).at_site(stands.site);
        let change = change.on_appliance(Some(self.id)).fields(vec!["state"]);
        unit.record(change.because(self.reason.as_str()));
        written(appliance::get(unit, &scope, self.id).await?, "appliance")
    }
}

impl ReleaseAppliance {
    async fn lacking(
        &self,
        unit: &mut UnitOfWork,
        caller: &Caller,
        appliance: &Appliance,
        stops: &[Stop],
    ) -> Result<Vec<String>, Refusal> {
        let defeats = appliance_state::open_defeats(unit, self.id).await?;
        if !defeats.is_empty() {
            let orders: Vec<String> = defeats.iter().map(ToString::to_string).collect();
            return Ok(vec![format!(
                "the removal of the interlock defeats of order {}: nobody releases it before",
                orders.join(", ")
            )]);
        }
        if caller.principal.role != Role::Technician {
            return Ok(Vec::new());
        }
        let dangers: BTreeSet<Danger> = stops.iter().flat_map(|stop| stop.dangers.iter().copied()).collect();
        let person = written(person::get(unit, caller.principal.person).await?, "person")?;
        let model = self.versions.model(appliance.model.as_str(), appliance.model_version).await?;
        let model = written(model, "appliance's model")?;
        let model = with_own_limits(&model, &appliance.limits);
        let procedures: Vec<Procedure> =
            self.versions.all_procedures().await?.iter().map(|procedure| (**procedure).clone()).collect();
        // What somebody only called unsafe has no danger of its own; beside a named one it still takes a manager.
        let mut lacking: Vec<String> = Vec::new();
        if stops.iter().any(|stop| stop.dangers.is_empty()) && !dangers.is_empty() {
            lacking.extend(
                unreleased(&BTreeSet::new(), &person.skills, &[], &procedures, &model)
                    .iter()
                    .map(ToString::to_string),
            );
        }
        let since = stops.iter().map(|stop| stop.stopped_at).max();
        let since = since.max(appliance_state::last_changed(unit, self.id).await?);
        let runs = self.runs_since(unit, since).await?;
        let runs: Vec<&TestRun> = runs.iter().collect();
        let unreleased = unreleased(&dangers, &person.skills, &runs, &procedures, &model);
        lacking.extend(unreleased.iter().map(ToString::to_string));
        Ok(lacking)
    }

    /// The runs of the machine that still stand and were taken after an instant, whatever order they belong to, oldest first.
    async fn runs_since(
        &self,
        unit: &mut UnitOfWork,
        since: Option<Timestamp>,
    ) -> Result<Vec<TestRun>, Refusal> {
        const HOUR_US: i64 = 3_600_000_000;
        let now = unit.now();
        let soon = now.moved(HOUR_US).unwrap_or(now);
        let runs = test_run::standing_before_within(unit, self.id, soon, None).await?;
        let after = |run: &TestRun| since.is_none_or(|since| run.taken_at > since);
        Ok(runs.into_iter().rev().map(|stored| stored.run).filter(after).collect())
    }
}
