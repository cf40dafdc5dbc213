//! Holds a batch of runs against what is stored: one look-up a table for the whole batch.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use domain::danger::{self, Danger};
use domain::equipment::{FunctionalLimit, Model};
use domain::evidence::{Doubt, TestRun};
use domain::id::{ApplianceId, InterlockDefeatId, PersonId, SiteId, TestRunId, VisitId, WorkOrderId};
use domain::procedure::Procedure;
use domain::quantity::QuantityKind;
use domain::role::Role;
use domain::time::Timestamp;
use domain::violation::Violation;
use store::UnitOfWork;
use store::test_run::{self, ApplianceContext, Corrected, OrderContext};

use crate::stop::with_own_limits;
use crate::versions::Versions;
use crate::work_order::{is_not_ahead, no_more_on_it};
use crate::{Caller, Fault, Listed, Refusal};

/// What the runs of a batch point at.
pub struct Surroundings {
    versions: Arc<Versions>,
    appliances: HashMap<ApplianceId, ApplianceContext>,
    orders: HashMap<WorkOrderId, OrderContext>,
    visits: HashMap<VisitId, WorkOrderId>,
    defeats: HashMap<InterlockDefeatId, WorkOrderId>,
    corrected: HashMap<TestRunId, Corrected>,
    /// Which run corrects another: stored, or earlier in this batch.
    superseders: HashMap<TestRunId, TestRunId>,
    /// The appliances that the sender may see.
    visible: HashSet<ApplianceId>,
    clock: DeviceClock,
    sender: PersonId,
    is_office: bool,
}

/// What is known of the sending device's clock.
#[derive(Debug, Clone, Copy)]
pub struct DeviceClock {
    pub now: Timestamp,
    /// What the clock lacks; added to what it said.
    pub correction_microseconds: i64,
}

/// A run that may be stored.
pub struct Checked {
    pub site: SiteId,
    pub late: bool,
    pub quantities: Vec<Option<QuantityKind>>,
    pub doubts: Vec<Doubt>,
    /// Of what dangers it tells: its machine is then unsafe.
    pub dangers: Vec<Danger>,
    /// When it was taken, by our clock.
    pub taken_at: Timestamp,
}

/// Why a run may not be stored.
pub enum Unfit {
    Faulty(Vec<Fault>),
    /// The device's clock is wrong: kept by the phone and sent again, it is taken.
    ClockToSet(String),
}

impl Surroundings {
    /// Reads them, and locks the orders.
    pub async fn of(
        unit: &mut UnitOfWork,
        caller: &Caller,
        versions: Arc<Versions>,
        runs: &[TestRun],
        correction_microseconds: i64,
    ) -> Result<Self, Refusal> {
        let scope = &caller.read_scope();
        let clock = DeviceClock { now: unit.now(), correction_microseconds };
        let orders = distinct(runs.iter().filter_map(|run| run.work_order));
        let orders = test_run::lock_orders(unit, scope, &orders).await?;
        let right = orders.values().filter_map(|order| order.appliance);
        let appliances = distinct(runs.iter().map(|run| run.appliance).chain(right));
        let visible = test_run::visible_appliances(unit, scope, &appliances).await?;
        let appliances = test_run::appliances(unit, &appliances).await?;
        let visits = distinct(runs.iter().filter_map(|run| run.visit));
        let visits = test_run::visits(unit, &visits).await?;
        let defeats = distinct(runs.iter().filter_map(|run| run.interlock_defeat));
        let defeats = test_run::interlock_defeats(unit, &defeats).await?;
        let corrected = distinct(runs.iter().filter_map(|run| run.supersedes));
        let mut superseders = test_run::superseders(unit, &corrected).await?;
        // A run that a wrong unit put right has moved is corrected by what corrects its copy.
        let by: Vec<TestRunId> = superseders.values().copied().collect();
        superseders.extend(test_run::superseders(unit, &by).await?);
        let corrected = distinct(corrected.into_iter().chain(by));
        let corrected = test_run::corrected(unit, &corrected).await?;
        let (sender, is_office) = (caller.principal.person, caller.principal.role != Role::Technician);
        Ok(Self {
            versions,
            appliances,
            orders,
            visits,
            defeats,
            corrected,
            superseders,
            visible,
            clock,
            sender,
            is_office,
        })
    }

    /// The run as it is to be stored: one that names the machine from which its order was moved, as a wrong unit put right, is
    /// of the right machine, and corrects the moved copy of what it corrects.
    pub fn redirected(&self, mut run: TestRun) -> TestRun {
        let Some(order) = run.work_order.and_then(|id| self.orders.get(&id)) else { return run };
        if let Some(right) = order.appliance.filter(|_| order.moved_from.contains(&run.appliance)) {
            run.appliance = right;
        }
        let copy_of = |id: TestRunId| {
            let by = self.superseders.get(&id)?;
            self.corrected.get(by).filter(|copy| copy.was_moved).map(|_| *by)
        };
        if let Some(copy) = run.supersedes.and_then(copy_of) {
            run.supersedes = Some(copy);
        }
        run
    }

    /// Every fault of a run, or what is known of it.
    pub async fn check(&mut self, run: &TestRun) -> Result<Result<Checked, Unfit>, Refusal> {
        let taken_at = match self.clock.taken_at(run) {
            Ok(taken_at) => taken_at,
            Err(detail) => return Ok(Err(Unfit::ClockToSet(detail))),
        };
        let mut faults = Vec::new();
        let appliance = self.appliances.get(&run.appliance);
        let late = self.check_order(run, taken_at, &mut faults);
        self.check_correction(run, &mut faults);
        let (mut quantities, mut doubts, mut dangers) = (Vec::new(), Vec::new(), Vec::new());
        if let Some(appliance) = appliance {
            let procedure = &run.procedure;
            match self.versions.procedure(procedure.key.as_str(), procedure.version).await? {
                None => faults.push(Fault::not_listed(
                    "/procedure",
                    format!("there is no {procedure}"),
                    Listed::Procedures,
                )),
                Some(procedure) => {
                    let model = self.versions.model(&appliance.model_key, appliance.model_version).await?;
                    let model = model
                        .ok_or_else(|| Refusal::Internal("an appliance without its model".to_owned()))?;
                    if let Err(violations) = run.validate(&procedure, &model) {
                        faults.extend(violations.into_iter().map(fault));
                    }
                    quantities = quantities_of(run, &procedure);
                    doubts = run.doubts(&procedure);
                    dangers = dangers_in(run, &procedure, &model, &appliance.limits);
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
                Ok(Ok(Checked { site: appliance.site, late, quantities, doubts, dangers, taken_at }))
            }
            _ => Ok(Err(Unfit::Faulty(faults))),
        }
    }

    /// What is doubtful in a run that is stored already: told again to whoever lost the first answer.
    pub async fn doubts(&self, run: &TestRun) -> Result<Vec<Doubt>, Refusal> {
        let procedure = self.versions.procedure(run.procedure.key.as_str(), run.procedure.version).await?;
        Ok(procedure.map(|procedure| run.doubts(&procedure)).unwrap_or_default())
    }

    fn check_order(&self, run: &TestRun, taken_at: Timestamp, faults: &mut Vec<Fault>) -> bool {
        let Some(id) = run.work_order else {
            if self.appliances.contains_key(&run.appliance) && !self.visible.contains(&run.appliance) {
                faults.push(Fault::at(
                    "/appliance_id",
                    "is not in a kitchen that you are sent to: name the work_order_id under which you read it",
                ));
            }
            if run.visit.is_some() {
                faults.push(Fault::at(
                    "/visit_id",
                    "a visit belongs to an order: name its work_order_id, or leave it out",
                ));
            }
            if run.interlock_defeat.is_some() {
                faults.push(Fault::at(
                    "/interlock_defeat_id",
                    "a defeat belongs to an order: name its work_order_id, and record the defeat there first",
                ));
            }
            return false;
        };
        let Some(order) = self.orders.get(&id) else {
            faults.push(Fault::at("/work_order_id", "there is no such work order"));
            return false;
        };
        if let Some(detail) = no_more_on_it(order, taken_at) {
            faults.push(Fault::at("/work_order_id", detail));
        }
        let site = self.appliances.get(&run.appliance).map(|appliance| appliance.site);
        if order.appliance.is_none() && site.is_some_and(|site| site != order.site) {
            let detail = "stands in another kitchen than the order; send the run without an order, or to that kitchen's order";
            faults.push(Fault::at("/appliance_id", detail));
        }
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
        let Some(known) = self.corrected.get(&corrected) else { return };
        if (known.appliance, known.work_order) != (run.appliance, run.work_order) {
            faults.push(Fault::at(
                "/supersedes_id",
                "a run is superseded by one of the same appliance and order",
            ));
        }
        // On an order's visit people work together; of what one read alone, only he and the office may take something back.
        let is_on_it =
            run.work_order.and_then(|id| self.orders.get(&id)).is_some_and(|order| order.is_visible);
        if known.taken_by != self.sender && !self.is_office && !is_on_it {
            faults.push(Fault::at(
                "/supersedes_id",
                "was taken by somebody else: he corrects it, or the office, or whoever is on the order's visit",
            ));
        }
    }
}

impl DeviceClock {
    /// When a run was taken by our clock, or what the phone has to say about its own.
    fn taken_at(self, run: &TestRun) -> Result<Timestamp, String> {
        let clock_said = run.taken_at;
        let now = self.now;
        match clock_said.moved(self.correction_microseconds) {
            Ok(taken_at) if is_not_ahead(taken_at, now) => Ok(taken_at),
            Ok(taken_at) => Err(format!(
                "taken at {taken_at} and it is {now} now: the device's clock is wrong, or was set since. Keep the run, set the \
                 clock, and send it again with sent_at, the clock's time at the moment of sending"
            )),
            Err(_) => Err(format!(
                "taken at {clock_said} by a clock that lacks {} s, which is no time at all. Keep the run, set the clock, and \
                 send it again with sent_at, the clock's time at the moment of sending",
                self.correction_microseconds / 1_000_000
            )),
        }
    }
}

/// Of which dangers a run tells.
fn dangers_in(
    run: &TestRun,
    procedure: &Procedure,
    model: &Model,
    own_limits: &[FunctionalLimit],
) -> Vec<Danger> {
    if run.retraction_reason.is_some() {
        return Vec::new();
    }
    let model = with_own_limits(model, own_limits);
    let told: BTreeSet<Danger> =
        danger::signs(run, procedure, &model).into_iter().map(|sign| sign.danger).collect();
    told.into_iter().collect()
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
