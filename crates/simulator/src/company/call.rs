//! Somebody calls; the dispatcher listens, asks, solves it on the telephone or plans a visit.

use domain::vocabulary::Symptom;

use super::branch::Branch;
use super::job::{Job, Progress, Task};
use crate::cases::intake;
use crate::clock::{DAY, HOUR, MINUTE, Moment, timestamp};
use crate::defect::Defect;
use crate::history::{
    ApplianceState, Call, Closed, Code, Entry, InterlockRestored, VisitPlanned, WorkOrder, WorkOrderMoved,
};
use crate::people::{Habits, cook};
use crate::truth::{CallTruth, Kitchen};

impl Branch {
    pub(super) fn call(&mut self, at: Moment, unit: usize) {
        if self.units[unit].open_job.is_some() || self.units[unit].complaints.is_empty() {
            return;
        }
        let symptoms = self.symptoms(unit);
        let site = self.units[unit].site;
        let (contact, contact_name) = self.random.pick(&self.sites[site].contacts).clone();
        let (call, order) = (self.new_id(at), self.new_id(at));
        let dangers: Vec<Code> = match symptoms[0] {
            Symptom::TripsSupply => vec!["electric"],
            Symptom::LeaksFront if self.random.chance(0.05) => vec!["caustic"],
            _ => vec![],
        };
        let urgency = self.urgency(symptoms[0], !dangers.is_empty(), site);
        let dispatcher = self.dispatcher;
        let entry = Call {
            id: call,
            site: self.sites[site].id,
            contact,
            words: cook::words(symptoms[0], &mut self.random),
            received_at: timestamp(at),
            urgency,
            stop_use: !dangers.is_empty(),
            dangers,
        };
        self.emit(at, dispatcher, Entry::Call(entry));
        let appliance_known = self.random.chance(0.9);
        let follows = self.units[unit]
            .last_closed
            .filter(|(closed, _)| *closed < at && at - closed < 30 * DAY)
            .map(|(_, order)| order)
            .filter(|_| self.random.chance(0.6));
        let entry = WorkOrder {
            id: order,
            site: self.sites[site].id,
            call: Some(call),
            appliance: appliance_known.then_some(self.units[unit].id),
            work: "corrective",
            urgency,
            symptoms: symptoms.iter().map(|symptom| symptom.key()).collect(),
            spending_limit_hundredths: super::repair::SPENDING_LIMIT,
            follows,
        };
        self.emit(at + 2 * MINUTE, dispatcher, Entry::WorkOrder(entry));
        self.tell_truth(at, unit, order, &symptoms);
        let preferred = site % self.technicians.len();
        let mut job = Job::new(order, unit, (contact, contact_name), preferred);
        (job.appliance_known, job.symptoms, job.urgent) = (appliance_known, symptoms, urgency != "degraded");
        let index = self.jobs.len();
        self.jobs.push(job);
        self.units[unit].open_job = Some(index);
        if appliance_known {
            let state = match urgency {
                "danger" => "unsafe_do_not_use",
                "key_unit_down" => "down",
                _ => "degraded",
            };
            self.set_state(at + 3 * MINUTE, index, state);
        }
        if !self.solved_by_phone(at + 15 * MINUTE, index) {
            self.move_order(at + 15 * MINUTE, index, "assessed");
            let wait = match urgency {
                "danger" => HOUR,
                "key_unit_down" => 3 * HOUR,
                _ => 20 * HOUR + self.random.whole(30) * HOUR,
            };
            self.plan_visit(at + 20 * MINUTE, index, at + wait);
        }
    }

    fn symptoms(&mut self, unit: usize) -> Vec<Symptom> {
        let complaints = self.units[unit].complaints.clone();
        let weights: Vec<_> = complaints.iter().map(|(_, chance)| *chance).collect();
        let first = complaints[self.random.weighted(&weights)].0;
        let mut symptoms = vec![cook::described(first, &mut self.random)];
        if self.random.chance(0.3) {
            let second = complaints[self.random.weighted(&weights)].0;
            if !symptoms.contains(&second) {
                symptoms.push(second);
            }
        }
        symptoms
    }

    fn urgency(&mut self, symptom: Symptom, danger: bool, site: usize) -> Code {
        let down =
            matches!(symptom, Symptom::NoStart | Symptom::NoHeat | Symptom::NoSteam | Symptom::BacksUp);
        let only_one = self.sites[site].units.len() < 3;
        match () {
            () if danger => "danger",
            () if down && (only_one || self.random.chance(0.3)) => "key_unit_down",
            () => "degraded",
        }
    }

    fn tell_truth(&mut self, at: Moment, unit: usize, order: domain::id::WorkOrderId, symptoms: &[Symptom]) {
        let mut truth = CallTruth {
            work_order: order,
            appliance: self.units[unit].id,
            at: timestamp(at),
            model: self.units[unit].machine.design.key,
            symptoms: symptoms.iter().map(|symptom| symptom.key()).collect(),
            design: self.units[unit].machine.design.clone(),
            severities: self.units[unit].severities.clone(),
            intake: Vec::new(),
            checklist: Vec::new(),
            kitchen: None,
        };
        if self.settings.cases {
            let habits = Habits { diligence: 1.0, ..Habits::drawn(&mut self.random) };
            let hour = 8.0 + self.random.between(0.0, 8.0);
            let kitchen = &self.sites[self.units[unit].site].kitchen;
            let surroundings = kitchen.surroundings(self.day(), hour, &mut self.random);
            let of = &self.units[unit];
            truth.intake =
                intake::answers(&of.machine, &of.severities.felt(), &surroundings, &mut self.random);
            let kitchen = Kitchen {
                machine: of.machine.clone(),
                severities: of.severities.clone(),
                surroundings,
                habits,
            };
            truth.checklist = kitchen.checklist(|_| false, &mut self.random);
            truth.kitchen = Some(kitchen);
        }
        self.truths.push(truth);
    }

    /// What can be told on the telephone: how to use it, what somebody else must mend, never mind.
    fn solved_by_phone(&mut self, at: Moment, job: usize) -> bool {
        let unit = self.jobs[job].unit;
        let site = self.units[unit].site;
        let now = self.units[unit].severities.clone();
        let by_use = now[Defect::ChemicalWrong].max(now[Defect::Misuse]) > 0.3;
        if by_use && self.random.chance(0.35) {
            self.units[unit].severities.set(Defect::ChemicalWrong, 0.0);
            self.units[unit].severities.set(Defect::Misuse, 0.0);
            self.close(at, job, "solved_by_phone", Some(at));
            return true;
        }
        let building = [Defect::BuildingDrainBlocked, Defect::SupplyPressureLow, Defect::SupplyValvePartShut];
        if let Some(defect) = building.into_iter().find(|defect| now[*defect] > 0.5)
            && self.random.chance(0.15)
        {
            self.refer(at, site, defect);
            self.close(at, job, "referred", None);
            return true;
        }
        if now.noticeable().next().is_none() && self.random.chance(0.12) {
            self.close(at, job, "solved_by_phone", Some(at));
            return true;
        }
        if self.random.chance(0.012) {
            self.close(at, job, "cancelled", None);
            return true;
        }
        false
    }

    pub(super) fn refer(&mut self, at: Moment, site: usize, defect: Defect) {
        if !self.sites[site].referred {
            self.sites[site].referred = true;
            let days = 2 + self.random.whole(12);
            self.schedule(at + days * DAY, Task::Restore { site, defect });
        }
    }

    pub(super) fn plan_visit(&mut self, at: Moment, job: usize, not_before: Moment) {
        let preferred = self.jobs[job].technician;
        let (planned, technician) = self.book(not_before, preferred, self.jobs[job].urgent);
        self.jobs[job].technician = technician;
        let visit = VisitPlanned {
            id: self.new_id(at),
            work_order: self.jobs[job].id,
            planned_at: timestamp(planned),
            people: vec![self.technicians[technician].id],
        };
        self.jobs[job].visits += 1;
        self.jobs[job].planned_visit = Some(visit.id);
        let dispatcher = self.dispatcher;
        self.emit(at, dispatcher, Entry::VisitPlanned(visit));
        if self.jobs[job].visits == 1 {
            self.move_order(at, job, "planned");
        }
        self.schedule(planned, Task::Visit { job });
    }

    pub(super) fn move_order(&mut self, at: Moment, job: usize, to: Code) {
        let by = self.actor(job);
        self.emit(at, by, Entry::WorkOrderMoved(WorkOrderMoved { work_order: self.jobs[job].id, to }));
    }

    pub(super) fn set_state(&mut self, at: Moment, job: usize, state: Code) {
        self.jobs[job].state = state;
        let entry = ApplianceState {
            appliance: self.units[self.jobs[job].unit].id,
            work_order: Some(self.jobs[job].id),
            state,
        };
        let by = self.actor(job);
        self.emit(at, by, Entry::ApplianceState(entry));
    }

    /// Who enters it: the technician once he is there, before that the dispatcher.
    pub(super) fn actor(&self, job: usize) -> domain::id::PersonId {
        match self.jobs[job].progress {
            Progress::Open => self.dispatcher,
            Progress::UnderRepair | Progress::Closed => self.technicians[self.jobs[job].technician].id,
        }
    }

    pub(super) fn close(&mut self, at: Moment, job: usize, outcome: Code, restored: Option<Moment>) {
        let unit = self.jobs[job].unit;
        let leaves = left_by(outcome);
        let signed = self.jobs[job].progress != Progress::Open && self.random.chance(0.85);
        let closed = Closed {
            work_order: self.jobs[job].id,
            outcome,
            restored_at: restored.map(timestamp),
            leaves: leaves.filter(|_| self.jobs[job].appliance_known),
            signed_off_by: signed.then_some(self.jobs[job].contact),
        };
        let by = self.actor(job);
        if let Some(id) = self.jobs[job].defeat.take() {
            let work_order = self.jobs[job].id;
            self.emit(at, by, Entry::InterlockRestored(InterlockRestored { id, work_order }));
        }
        self.emit(at, by, Entry::Closed(closed));
        self.jobs[job].progress = Progress::Closed;
        self.jobs[job].faults = Vec::new();
        self.units[unit].last_closed = Some((at, self.jobs[job].id));
        if !self.jobs[job].planned_work {
            self.units[unit].open_job = None;
            self.units[unit].patience = self.random.exponential();
        }
        self.look(unit);
    }
}

/// The state in which an order of that outcome leaves the appliance.
pub(super) fn left_by(outcome: Code) -> Option<Code> {
    match outcome {
        "repaired" | "explained_use" | "solved_by_phone" | "no_fault_found" => Some("up"),
        "temporary_fix" | "referred" | "declined" => Some("degraded"),
        _ => None,
    }
}
