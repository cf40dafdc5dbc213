//! Holds a batch of runs against what is stored: one look-up a table for the whole batch.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use domain::evidence::TestRun;
use domain::id::{ApplianceId, InterlockDefeatId, SiteId, TestRunId, VisitId, WorkOrderId};
use domain::procedure::Procedure;
use domain::quantity::QuantityKind;
use domain::violation::Violation;
use store::test_run::{self, ApplianceContext, OrderContext};
use store::{ReadScope, UnitOfWork};

use crate::versions::Versions;
use crate::{Fault, Refusal};

/// What the runs of a batch point at.
pub struct Surroundings {
    versions: Arc<Versions>,
    appliances: HashMap<ApplianceId, ApplianceContext>,
    orders: HashMap<WorkOrderId, OrderContext>,
    visits: HashMap<VisitId, WorkOrderId>,
    defeats: HashMap<InterlockDefeatId, WorkOrderId>,
    corrected: HashMap<TestRunId, (ApplianceId, Option<WorkOrderId>)>,
    /// Which run corrects another: stored, or earlier in this batch.
    superseders: HashMap<TestRunId, TestRunId>,
}

/// A run that may be stored.
pub struct Checked {
    pub site: SiteId,
    pub late: bool,
    pub quantities: Vec<Option<QuantityKind>>,
}

impl Surroundings {
    /// Reads them, and locks the orders.
    pub async fn of(
        unit: &mut UnitOfWork,
        scope: &ReadScope,
        versions: Arc<Versions>,
        runs: &[TestRun],
    ) -> Result<Self, Refusal> {
        let orders = distinct(runs.iter().filter_map(|run| run.work_order));
        let orders = test_run::lock_orders(unit, scope, &orders).await?;
        let appliances = distinct(runs.iter().map(|run| run.appliance));
        let appliances = test_run::appliances(unit, &appliances).await?;
        let visits = distinct(runs.iter().filter_map(|run| run.visit));
        let visits = test_run::visits(unit, &visits).await?;
        let defeats = distinct(runs.iter().filter_map(|run| run.interlock_defeat));
        let defeats = test_run::interlock_defeats(unit, &defeats).await?;
        let corrected = distinct(runs.iter().filter_map(|run| run.supersedes));
        let superseders = test_run::superseders(unit, &corrected).await?;
        let corrected = test_run::places(unit, &corrected).await?;
        Ok(Self { versions, appliances, orders, visits, defeats, corrected, superseders })
    }

    /// Every fault of a run, or what is known of it.
    pub async fn check(&mut self, run: &TestRun) -> Result<Result<Checked, Vec<Fault>>, Refusal> {
        let mut faults = Vec::new();
        let appliance = self.appliances.get(&run.appliance);
        let late = self.check_order(run, &mut faults);
        self.check_correction(run, &mut faults);
        let mut quantities = Vec::new();
        if let Some(appliance) = appliance {
            let procedure = &run.procedure;
            match self.versions.procedure(procedure.key.as_str(), procedure.version).await? {
                None => faults.push(Fault::at(
                    "/procedure",
                    format!("there is no {procedure}; GET /v1/procedures lists those there are"),
                )),
                Some(procedure) => {
                    let model = self.versions.model(&appliance.model_key, appliance.model_version).await?;
                    let model = model
                        .ok_or_else(|| Refusal::Internal("an appliance without its model".to_owned()))?;
                    if let Err(violations) = run.validate(&procedure, &model) {
                        faults.extend(violations.into_iter().map(fault));
                    }
                    quantities = quantities_of(run, &procedure);
                }
            }
        } else {
            faults.push(Fault::at("/appliance_id", "there is no such appliance"));
        }
        match appliance {
            Some(appliance) if faults.is_empty() => {
                if let Some(corrected) = run.supersedes {
                    self.superseders.insert(corrected, run.id);
                }
                Ok(Ok(Checked { site: appliance.site, late, quantities }))
            }
            _ => Ok(Err(faults)),
        }
    }

    fn check_order(&self, run: &TestRun, faults: &mut Vec<Fault>) -> bool {
        let Some(id) = run.work_order else {
            if run.visit.is_some() {
                faults.push(Fault::at(
                    "/visit_id",
                    "a visit belongs to an order: name its work_order_id, or leave it out",
                ));
            }
            return false;
        };
        let Some(order) = self.orders.get(&id) else {
            faults.push(Fault::at("/work_order_id", "there is no such work order"));
            return false;
        };
        if order.appliance.is_some_and(|appliance| appliance != run.appliance) {
            let detail = "the order is about another appliance; send the run without an order, or to that appliance's order";
            faults.push(Fault::at("/appliance_id", detail));
        }
        if run.visit.is_some_and(|visit| self.visits.get(&visit) != Some(&id)) {
            faults.push(Fault::at("/visit_id", "the order has no such visit"));
        }
        if run.interlock_defeat.is_some_and(|defeat| self.defeats.get(&defeat) != Some(&id)) {
            faults.push(Fault::at(
                "/interlock_defeat_id",
                "the order has no such interlock defeat; record it first",
            ));
        }
        order.has_ended
    }

    fn check_correction(&self, run: &TestRun, faults: &mut Vec<Fault>) {
        let Some(corrected) = run.supersedes else { return };
        if let Some(by) = self.superseders.get(&corrected).filter(|by| **by != run.id) {
            let detail = format!("that run is superseded by {by} already; supersede that one");
            faults.push(Fault::at("/supersedes_id", detail));
        }
        if self.corrected.get(&corrected).is_some_and(|place| *place != (run.appliance, run.work_order)) {
            faults.push(Fault::at(
                "/supersedes_id",
                "a run is superseded by one of the same appliance and order",
            ));
        }
    }
}

/// The wire names identifiers as such, and a standard uncertainty shorter.
fn fault(violation: Violation) -> Fault {
    let pointer = match violation.pointer.as_str() {
        "/supersedes" => "/supersedes_id".to_owned(),
        "/interlock_defeat" => "/interlock_defeat_id".to_owned(),
        other => match other.strip_suffix("/standard_uncertainty") {
            Some(value) => format!("{value}/uncertainty"),
            None => violation.pointer,
        },
    };
    Fault::at(pointer, violation.detail)
}

fn quantities_of(run: &TestRun, procedure: &Procedure) -> Vec<Option<QuantityKind>> {
    let quantity = |step| procedure.step(step).and_then(domain::procedure::Step::quantity);
    run.readings.iter().map(|reading| quantity(&reading.step)).collect()
}

fn distinct<T: Eq + std::hash::Hash>(ids: impl Iterator<Item = T>) -> Vec<T> {
    ids.collect::<HashSet<_>>().into_iter().collect()
}
