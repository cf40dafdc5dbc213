//! Replays a history against the moves that the domain allows, as the loader will through use cases.

use std::collections::{BTreeMap, BTreeSet};

use domain::equipment::{Model, demo_combi, demo_warewasher};
use domain::evidence::TestRun;
use domain::id::{ApplianceId, CallId, PartLineId, TestRunId, VisitId, WorkOrderId};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Action;
use domain::work::{
    ApplianceState, LineStanding, OrderKind, OrderMove, OrderState, Outcome, PartLineAction, PartLineState,
    Proof, Situation, VisitAction, VisitResult, VisitTimes, Waived, check, part_line_after, visit_after,
};

use crate::history::{Code, Dated, Entry, VisitMove};
use crate::limits::Limits;

fn parsed<T: std::str::FromStr<Err: std::fmt::Debug>>(code: Code) -> T {
    code.parse().unwrap_or_else(|error| panic!("{code}: {error:?}"))
}

struct Order {
    kind: OrderKind,
    state: OrderState,
    appliance: Option<ApplianceId>,
    symptoms: usize,
    visits: Vec<(VisitId, VisitTimes)>,
    lines: BTreeMap<PartLineId, PartLineState>,
    fitted_without_action: BTreeSet<PartLineId>,
    runs: Vec<TestRun>,
    epoch: u32,
    waived: BTreeSet<Waived>,
    /// When each that is open ends.
    defeats: Vec<Timestamp>,
}

impl Order {
    fn situation(&self, model: &'static Model, state: Option<ApplianceState>, restored: bool) -> Situation {
        Situation {
            kind: self.kind,
            state: self.state,
            appliance: self.appliance.and(state.or(Some(ApplianceState::Up))),
            symptoms: self.symptoms,
            visits: self.visits.iter().map(|(_, times)| *times).collect(),
            has_restoration_time: restored,
            machine_changed: self.epoch > 0,
            stopgaps: Vec::new(),
            part_lines: self.lines.iter().map(|(id, state)| self.line(*id, *state)).collect(),
            open_interlock_defeats: self.defeats.clone(),
            proof: self.proof(model),
            waived: self.waived.clone(),
        }
    }

    fn line(&self, id: PartLineId, state: PartLineState) -> LineStanding {
        LineStanding { part: id.to_string(), state, lacks_action: self.fitted_without_action.contains(&id) }
    }

    fn proof(&self, model: &'static Model) -> Proof {
        let limits = Limits::of(model);
        let superseded: BTreeSet<TestRunId> = self.runs.iter().filter_map(|run| run.supersedes).collect();
        let mut proof = Proof::default();
        for run in self.runs.iter().filter(|run| !superseded.contains(&run.id)) {
            let key: Key = run.procedure.key.clone();
            let failed = limits.fail(key.as_str(), &run.readings);
            if run.epoch < self.epoch {
                if failed {
                    proof.failed_before.insert(key);
                }
                continue;
            }
            if key.as_str() == "full_cycle" {
                proof.full_cycle_passed = !failed;
            }
            // the last run counts
            if failed {
                proof.failing_after.insert(key.clone());
            } else {
                proof.failing_after.remove(&key);
            }
            proof.taken_after.insert(key);
        }
        proof
    }
}

#[derive(Default)]
struct Replay {
    calls: BTreeSet<CallId>,
    models: BTreeMap<ApplianceId, Code>,
    states: BTreeMap<ApplianceId, ApplianceState>,
    orders: BTreeMap<WorkOrderId, Order>,
    closed: BTreeMap<Outcome, u32>,
    on_site: BTreeSet<domain::id::PersonId>,
}

impl Replay {
    fn order(&mut self, id: WorkOrderId) -> &mut Order {
        self.orders.get_mut(&id).unwrap()
    }

    fn step(&mut self, dated: &Dated) {
        match &dated.entry {
            Entry::Call(call) => assert!(self.calls.insert(call.id)),
            Entry::Appliance(appliance) => {
                self.models.insert(appliance.id, appliance.model);
            }
            Entry::ApplianceState(state) => {
                self.states.insert(state.appliance, parsed(state.state));
            }
            Entry::WorkOrder(order) => {
                assert!(order.call.is_none_or(|call| self.calls.contains(&call)));
                let new = Order {
                    kind: parsed(order.work),
                    state: OrderState::Received,
                    appliance: order.appliance,
                    symptoms: order.symptoms.len(),
                    visits: Vec::new(),
                    lines: BTreeMap::new(),
                    fitted_without_action: BTreeSet::new(),
                    runs: Vec::new(),
                    epoch: 0,
                    waived: BTreeSet::new(),
                    defeats: Vec::new(),
                };
                self.orders.insert(order.id, new);
            }
            Entry::ApplianceConfirmed(confirmed) => {
                self.order(confirmed.work_order).appliance = Some(confirmed.appliance);
            }
            Entry::WorkOrderMoved(moved) => {
                let order_move = match moved.to {
                    "assessed" => OrderMove::Assess,
                    "planned" => OrderMove::Plan,
                    "under_repair" => OrderMove::StartRepair,
                    "repaired_unproven" => OrderMove::ReportRepaired,
                    "proven" => OrderMove::Prove,
                    other => panic!("{other}"),
                };
                self.move_order(moved.work_order, order_move, false, dated);
            }
            Entry::Closed(closed) => {
                let outcome: Outcome = parsed(closed.outcome);
                let leaves: Option<ApplianceState> = closed.leaves.map(parsed);
                // Before such an end the management releases a machine that is unsafe; the history has no entry for it.
                let appliance = self.order(closed.work_order).appliance;
                let state = appliance.and_then(|appliance| self.states.get_mut(&appliance));
                if let Some(state) = state
                    && *state == ApplianceState::UnsafeDoNotUse
                    && outcome.leaves_it_in_use()
                {
                    *state = leaves.unwrap_or(ApplianceState::Up);
                }
                let order_move = if outcome == Outcome::Cancelled {
                    OrderMove::Cancel
                } else {
                    OrderMove::Close { outcome, leaves }
                };
                self.move_order(closed.work_order, order_move, closed.restored_at.is_some(), dated);
                *self.closed.entry(outcome).or_default() += 1;
                let order = self.orders.remove(&closed.work_order).unwrap();
                if let (Some(appliance), Some(leaves)) = (order.appliance, leaves) {
                    self.states.insert(appliance, leaves);
                }
            }
            entry => self.below_an_order(entry, dated),
        }
    }

    /// Until a machine is confirmed nothing was read that a limit could judge.
    fn model_of(&mut self, id: WorkOrderId) -> &'static Model {
        let appliance = self.order(id).appliance;
        match appliance.and_then(|appliance| self.models.get(&appliance)) {
            Some(&"large_combi") => super::large_combi(),
            Some(&"demo_warewasher") => demo_warewasher(),
            _ => demo_combi(),
        }
    }

    fn move_order(&mut self, id: WorkOrderId, order_move: OrderMove, restored: bool, dated: &Dated) {
        let state = self.order(id).appliance.and_then(|appliance| self.states.get(&appliance)).copied();
        let model = self.model_of(id);
        let order = self.order(id);
        let situation = order.situation(model, state, restored);
        assert_eq!(check(&situation, order_move), [], "{order_move:?} {dated:?} {situation:?}");
        order.state = domain::work::after(order_move.action());
    }

    fn below_an_order(&mut self, entry: &Entry, dated: &Dated) {
        match entry {
            Entry::VisitPlanned(visit) => {
                let order = self.order(visit.work_order);
                assert_eq!(order.situation(demo_combi(), None, false).missing_for_visit(), [], "{dated:?}");
                order.visits.push((visit.id, VisitTimes::planned(visit.planned_at)));
            }
            Entry::VisitMoved(moved) => {
                let (action, result) = match moved.to {
                    VisitMove::SetOut => (VisitAction::SetOut, None),
                    VisitMove::Arrived => (VisitAction::Arrive, None),
                    VisitMove::Missed => (VisitAction::Miss, None),
                    VisitMove::Left { result, .. } => {
                        (VisitAction::Leave, Some(parsed::<VisitResult>(result)))
                    }
                };
                let person = dated.by.unwrap();
                match moved.to {
                    VisitMove::Arrived => assert!(self.on_site.insert(person), "in two places: {dated:?}"),
                    VisitMove::Left { .. } => assert!(self.on_site.remove(&person)),
                    _ => {}
                }
                let visits = &mut self.order(moved.work_order).visits;
                let (_, times) = visits.iter_mut().find(|(id, _)| *id == moved.visit).unwrap();
                *times = visit_after(times, action, dated.at, result).unwrap();
            }
            Entry::PartLine(line) => {
                self.order(line.work_order).lines.insert(line.id, PartLineState::Identified);
            }
            Entry::PartLineMoved(moved) => {
                let action = match moved.to {
                    "quoted" => PartLineAction::Quote,
                    "approved" => PartLineAction::Approve,
                    "ordered" => PartLineAction::Order,
                    "promised" => PartLineAction::Promise,
                    "received" => PartLineAction::Receive,
                    "set_aside" => PartLineAction::SetAside,
                    "fitted" => PartLineAction::Fit,
                    "withdrawn" => PartLineAction::Withdraw,
                    other => panic!("{other}"),
                };
                let order = self.order(moved.work_order);
                let line = order.lines.get_mut(&moved.part_line).unwrap();
                *line = part_line_after(*line, action).unwrap_or_else(|| panic!("{line} {action} {dated:?}"));
                if action == PartLineAction::Fit {
                    order.fitted_without_action.insert(moved.part_line);
                }
            }
            Entry::Action(action) => {
                let changes = parsed::<Action>(action.action).changes_the_machine();
                let order = self.order(action.work_order);
                order.epoch += u32::from(changes);
                if let Some(line) = action.part_line {
                    assert!(order.fitted_without_action.remove(&line));
                }
            }
            Entry::TestRun(run) => {
                let order = self.order(run.work_order.unwrap());
                assert_eq!(run.epoch, order.epoch, "{dated:?}");
                order.runs.push((**run).clone());
            }
            Entry::Waiver(waiver) => {
                self.order(waiver.work_order).waived.insert(parsed(waiver.what));
            }
            Entry::InterlockDefeat(defeat) => self.order(defeat.work_order).defeats.push(defeat.expires_at),
            Entry::InterlockRestored(restored) => {
                assert!(self.order(restored.work_order).defeats.pop().is_some());
            }
            _ => {}
        }
    }
}

#[test]
fn every_move_is_one_that_the_domain_allows() {
    let settings = super::Settings { kitchens: 150, days: 731, ..super::Settings::demo(25) };
    let mut replay = Replay::default();
    for dated in super::Company::new(settings).unwrap().history(|_| ()) {
        replay.step(&dated);
    }
    for outcome in Outcome::ALL {
        assert!(replay.closed.contains_key(outcome), "{outcome} never came about: {:?}", replay.closed);
    }
}
