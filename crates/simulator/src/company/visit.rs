//! A technician in the kitchen.

use domain::evidence::Phase;

use super::branch::Branch;
use super::call::left_by;
use super::job::{Fault, Progress, Stage, Task};
use super::testing::tests_for;
use crate::bench::Test;
use crate::clock::{DAY, HOUR, MINUTE, Moment, day_of};
use crate::defect::Defect;
use crate::history::{
    ApplianceConfirmed, Code, Entry, Finding, VisitMove, VisitMoved, WaitingBegan, WaitingEnded, Waiver,
};
use crate::judgement;
use crate::remedy::Remedy;

/// Severity, as judged with the part in hand, from which it is called a fault.
const CALLED_A_FAULT: f64 = 0.38;

impl Branch {
    pub(super) fn visit(&mut self, at: Moment, job: usize) {
        // the job before took longer, or somebody is at this machine: he comes later that day
        let unit = self.jobs[job].unit;
        let free = self.technicians[self.jobs[job].technician].busy_until.max(self.units[unit].busy_until);
        if free > at && free < day_of(at) * DAY + 17 * HOUR {
            self.schedule(free, Task::Visit { job });
            return;
        }
        let too_late = free > at;
        let Some(visit) =
            self.jobs[job].planned_visit.take().filter(|_| self.jobs[job].progress != Progress::Closed)
        else {
            return;
        };
        self.jobs[job].visit = Some(visit);
        let technician = self.technicians[self.jobs[job].technician].id;
        let work_order = self.jobs[job].id;
        let moved = |to| Entry::VisitMoved(VisitMoved { visit, work_order, to });
        if too_late || self.random.chance(0.012) {
            let dispatcher = self.dispatcher;
            self.emit(at + 30 * MINUTE, dispatcher, moved(VisitMove::Missed));
            self.plan_visit(at + HOUR, job, at + 20 * HOUR);
            return;
        }
        self.emit(at - 25 * MINUTE, technician, moved(VisitMove::SetOut));
        self.emit(at, technician, moved(VisitMove::Arrived));
        if let Some(id) = self.jobs[job].waiting.take() {
            self.emit(at, technician, Entry::WaitingEnded(WaitingEnded { id, work_order }));
        }
        if self.random.chance(0.015) {
            self.left(at + 15 * MINUTE, job, "no_access", None);
            self.begin_waiting(at + 15 * MINUTE, job, "access");
            let later = DAY + self.random.whole(48) * HOUR;
            self.plan_visit(at + HOUR, job, at + later);
            return;
        }
        if self.jobs[job].progress == Progress::Open {
            self.jobs[job].progress = Progress::UnderRepair;
            if !self.jobs[job].appliance_known {
                self.jobs[job].appliance_known = true;
                let appliance = self.units[self.jobs[job].unit].id;
                let confirmed = ApplianceConfirmed { work_order, appliance };
                self.emit(at + MINUTE, technician, Entry::ApplianceConfirmed(confirmed));
            }
            self.move_order(at + 2 * MINUTE, job, "under_repair");
        }
        let mut now = at + 5 * MINUTE;
        if self.jobs[job].planned_work {
            self.service(&mut now, job);
        } else {
            self.examine(&mut now, job);
        }
        self.work_through(&mut now, job);
        self.leave(now, job);
    }

    pub(super) fn begin_waiting(&mut self, at: Moment, job: usize, reason: &'static str) {
        if self.jobs[job].waiting.is_none() {
            let id = self.new_id(at);
            self.jobs[job].waiting = Some(id);
            let work_order = self.jobs[job].id;
            let entry = WaitingBegan { id, work_order, reason, pauses_clock: reason != "part" };
            let by = self.actor(job);
            self.emit(at, by, Entry::WaitingBegan(entry));
        }
    }

    /// The baseline of the first visit, or the tests that bear on what is to be fitted on a later one.
    fn examine(&mut self, now: &mut Moment, job: usize) {
        if self.jobs[job].awaits(Stage::PartSetAside) {
            let pending: Vec<_> = self.jobs[job].faults.iter().map(|fault| fault.defect).collect();
            for test in tests_for(&pending) {
                self.test(now, job, test, Phase::BeforeRepair);
            }
            return;
        }
        for test in self.baseline(job) {
            self.test(now, job, test, Phase::BeforeRepair);
        }
        let seen = &self.jobs[job].seen;
        let dead = seen.fill.is_some_and(|fill| !fill.reached) || seen.strength == Some("none");
        let electric = self.jobs[job].symptoms.contains(&domain::vocabulary::Symptom::TripsSupply);
        if dead || electric {
            self.test(now, job, Test::DeadElectrical, Phase::BeforeRepair);
            self.test(now, job, Test::WiringLook, Phase::BeforeRepair);
            if !electric {
                self.test(now, job, Test::CommandedVolts, Phase::BeforeRepair);
            }
        }
    }

    /// Looks for faults, mends what can be mended, tests again; a few rounds, since one fault may have
    /// hidden another.
    fn work_through(&mut self, now: &mut Moment, job: usize) {
        for round in 0..4 {
            if round > 0 || !self.jobs[job].awaits(Stage::PartSetAside) {
                self.search(now, job);
            }
            let mended = self.mend(now, job);
            if mended.is_empty() {
                return;
            }
            let machine_changed = mended.iter().any(|defect| !defect.is_external());
            if machine_changed {
                let treated = mended.contains(&Defect::TreatmentExhausted);
                for test in tests_for(&mended) {
                    if test == Test::WaterQuality && !treated {
                        continue;
                    }
                    self.test(now, job, test, Phase::AfterRepair);
                }
            }
            if self.jobs[job].awaits(Stage::AwaitsPart) || self.jobs[job].awaits(Stage::AwaitsApproval) {
                return;
            }
        }
    }

    fn search(&mut self, now: &mut Moment, job: usize) {
        let design = self.units[self.jobs[job].unit].machine.design.clone();
        let habits = self.technicians[self.jobs[job].technician].habits.clone();
        let suspects = judgement::suspects(&self.jobs[job].seen, &self.jobs[job].symptoms, &design);
        let eye = habits.eye / f64::from(self.jobs[job].visits.max(1));
        let mut found = 0;
        for defect in suspects {
            let known = self.jobs[job].faults.iter().any(|fault| fault.defect == defect);
            if known || self.jobs[job].ruled_out.contains(&defect) {
                continue;
            }
            if found > 0 && self.random.chance(habits.content) {
                return;
            }
            let favourite = habits.favourite;
            let prejudiced = found == 0 && design.may_have(favourite) && self.random.chance(habits.prejudice);
            let defect = if prejudiced { favourite } else { defect };
            let severity = self.units[self.jobs[job].unit].severities[defect];
            let judged = severity + self.random.normal(0.0, eye);
            *now += 3 * MINUTE;
            if prejudiced || judged > CALLED_A_FAULT {
                self.find(*now, job, defect, judged.max(CALLED_A_FAULT));
                found += 1;
            } else {
                self.jobs[job].ruled_out.push(defect);
            }
        }
    }

    fn find(&mut self, at: Moment, job: usize, defect: Defect, judged: f64) {
        let id = self.new_id(at);
        let runs = &self.jobs[job].runs;
        let test_runs: Vec<_> =
            judgement::proofs(defect).iter().filter_map(|test| runs.get(test)).copied().collect();
        let design = &self.units[self.jobs[job].unit].machine.design;
        let position = design.place_of(defect);
        let measured =
            matches!(judgement::proofs(defect), [Test::FillTime | Test::WashFlowHold | Test::DrainTime, ..]);
        let entry = Finding {
            id,
            work_order: self.jobs[job].id,
            position: position.key(),
            fault: design.catalogued(defect),
            finding: if judged > 0.65 { "failed" } else { "degraded" },
            failure_mode: Some(defect.failure_mode().key()),
            mechanism: Some(defect.mechanism().key()),
            cause: Some(defect.cause().key()),
            evidence: match () {
                () if measured && !test_runs.is_empty() => "timed",
                () if test_runs.is_empty() => "seen",
                () => "measured",
            },
            supersedes: None,
            test_runs,
        };
        let by = self.actor(job);
        self.emit(at, by, Entry::Finding(entry));
        let remedy = Remedy::chosen(defect, &mut self.random);
        let fault = Fault { defect, finding: id, remedy, part_line: None, stage: Stage::Ready };
        self.jobs[job].faults.push(fault);
    }

    /// Ends the visit: proof and closing, or the next step.
    fn leave(&mut self, now: Moment, job: usize) {
        let mut now = now;
        let waits = [Stage::AwaitsApproval, Stage::AwaitsPart].map(|stage| self.jobs[job].awaits(stage));
        if waits[0] || waits[1] {
            let state = self.jobs[job].state;
            self.left(now + 5 * MINUTE, job, "parts_needed", Some(state));
            self.begin_waiting(now + 5 * MINUTE, job, if waits[1] { "part" } else { "approval" });
            return;
        }
        let done = |fault: &&Fault| fault.stage == Stage::Done;
        let mended = self.jobs[job].faults.iter().filter(done).any(|fault| !fault.defect.is_of_use());
        let explained = self.jobs[job].faults.iter().filter(done).any(|fault| fault.defect.is_of_use());
        let referred = self.jobs[job].awaits(Stage::Referred);
        let declined = self.jobs[job].awaits(Stage::Declined);
        let works = if mended {
            self.prove(&mut now, job)
        } else {
            if !referred && !declined {
                self.test(&mut now, job, Test::FullCycle, Phase::BeforeRepair);
            }
            self.jobs[job].seen.cycle_ok != Some(false)
        };
        let end = now + 5 * MINUTE;
        match () {
            () if !works && !referred && !declined && self.jobs[job].visits < 3 => {
                // another pair of eyes
                let state = self.jobs[job].state;
                self.left(end, job, "diagnosed", Some(state));
                self.jobs[job].technician = (self.jobs[job].technician + 1) % self.technicians.len();
                self.jobs[job].ruled_out.clear();
                self.jobs[job].faults.retain(|fault| fault.stage != Stage::Done);
                self.plan_visit(end + 10 * MINUTE, job, end + 20 * HOUR);
            }
            () if mended && works => {
                self.move_order(end, job, "repaired_unproven");
                self.move_order(end + MINUTE, job, "proven");
                self.end(end + 2 * MINUTE, job, "repaired", "repaired", Some(end));
            }
            () if referred => self.end(end, job, "referred", "referred", None),
            () if declined => self.end(end, job, "made_safe", "declined", None),
            () if mended => self.end(end, job, "made_safe", "temporary_fix", None),
            () if explained => self.end(end, job, "diagnosed", "explained_use", Some(end)),
            () => self.end(end, job, "diagnosed", "no_fault_found", None),
        }
    }

    /// Takes again what failed before, and the full cycle; says whether the machine works now.
    fn prove(&mut self, now: &mut Moment, job: usize) -> bool {
        let epoch = self.jobs[job].epoch;
        let earlier = self.jobs[job].failed_in.iter().filter(|(_, failed)| **failed < epoch);
        let failed: Vec<_> = earlier.map(|(test, _)| *test).collect();
        for test in failed.iter().copied().filter(|test| *test != Test::FullCycle) {
            let stands = self.jobs[job].stands.get(&test).is_some_and(|(taken_in, _)| *taken_in == epoch);
            match test {
                _ if stands => {}
                // the building's water is what it was
                Test::WaterQuality => self.waive(
                    *now,
                    job,
                    "after_readings",
                    "The building's water is as it was; treatment was recommended.",
                ),
                _ => self.test(now, job, test, Phase::AfterRepair),
            }
        }
        if !failed.contains(&Test::FullCycle) && self.random.chance(0.05) {
            self.waive(
                *now,
                job,
                "full_cycle",
                "The kitchen needs the machine now; they will report tomorrow.",
            );
        } else {
            self.test(now, job, Test::FullCycle, Phase::AfterRepair);
            if self.jobs[job].seen.cycle_ok == Some(false) {
                return false;
            }
        }
        // what still fails is taken once more, in case it was misread; nothing waives it
        for test in self.still_failing(job) {
            self.retake(now, job, test);
        }
        self.still_failing(job).is_empty()
    }

    fn waive(&mut self, at: Moment, job: usize, what: &'static str, reason: &str) {
        let id = self.new_id(at);
        let waiver = Waiver { id, work_order: self.jobs[job].id, what, reason: reason.to_owned() };
        let by = self.actor(job);
        self.emit(at, by, Entry::Waiver(waiver));
    }

    fn left(&mut self, at: Moment, job: usize, result: Code, leaves: Option<Code>) {
        let unit = self.jobs[job].unit;
        self.units[unit].busy_until = at + MINUTE;
        self.technicians[self.jobs[job].technician].busy_until = at + 26 * MINUTE;
        if let Some(visit) = self.jobs[job].visit.take() {
            let to = VisitMove::Left { result, leaves };
            let moved = VisitMoved { visit, work_order: self.jobs[job].id, to };
            let by = self.technicians[self.jobs[job].technician].id;
            self.emit(at, by, Entry::VisitMoved(moved));
        }
    }

    fn end(
        &mut self,
        at: Moment,
        job: usize,
        result: &'static str,
        outcome: &'static str,
        restored: Option<Moment>,
    ) {
        self.left(at, job, result, left_by(outcome));
        self.close(at + MINUTE, job, outcome, restored);
    }
}
