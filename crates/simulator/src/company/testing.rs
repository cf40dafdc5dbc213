//! Tests on site: which are taken, and what is written down of them.

use domain::evidence::{Conditions, Phase, TestRun};
use domain::id::{InterlockDefeatId, TestRunId};
use domain::procedure::ProcedureVersion;
use domain::text::Text;

use super::branch::Branch;
use crate::bench::{Bench, Taken, Test, key};
use crate::clock::{DAY, HOUR, MINUTE, Moment, day_of, timestamp};
use crate::defect::Defect;
use crate::history::{Entry, InterlockDefeat, InterlockRestored};
use crate::judgement;

impl Branch {
    pub(super) fn baseline(&mut self, job: usize) -> Vec<Test> {
        use domain::vocabulary::Symptom::{NoHeat, NoSteam, SlowHeat, WrongTemperature};
        let heat = |symptom: &_| matches!(symptom, NoHeat | NoSteam | SlowHeat | WrongTemperature);
        let about_heat = self.jobs[job].symptoms.iter().any(heat);
        let diligence =
            self.technicians[self.jobs[job].technician].habits.diligence * self.settings.thoroughness;
        let machine = &self.units[self.jobs[job].unit].machine;
        let usual = |test| match test {
            Test::InletPressure | Test::FillTime | Test::WashFlowHold => 1.0,
            Test::StrainerLook | Test::ChemicalDelivery => 0.95,
            Test::DrainTime | Test::SealAndBufferLook | Test::DoorSwitch => 0.9,
            Test::SumpHolds => 0.7,
            Test::ValveShutsTight => 0.6,
            Test::StartUpCatch => 0.4,
            Test::WaterQuality | Test::RinseClear => 0.3,
            Test::Steam | Test::StagedHeating | Test::ProbeCheck if about_heat => 1.0,
            Test::Steam => 0.25,
            Test::StagedHeating => 0.12,
            Test::ProbeCheck => 0.06,
            Test::UseReview => 0.5,
            Test::CommandedVolts | Test::DeadElectrical | Test::WiringLook | Test::FullCycle => 0.0,
        };
        let mut tests = Vec::new();
        for test in Test::ALL.into_iter().filter(|test| test.applies_to(machine)) {
            let certain = about_heat && matches!(test, Test::Steam | Test::StagedHeating | Test::ProbeCheck);
            if certain || self.random.chance(usual(test) * diligence) {
                tests.push(test);
            }
        }
        tests
    }

    /// Takes one test and records it.
    pub(super) fn test(&mut self, now: &mut Moment, job: usize, test: Test, phase: Phase) {
        if !test.applies_to(&self.units[self.jobs[job].unit].machine) {
            return;
        }
        let Some(first) = self.take_and_record(now, job, test, phase, None) else { return };
        // now and then it is noticed at once that something was mistyped
        if self.random.chance(0.004) {
            self.take_and_record(now, job, test, phase, Some(first));
        } else if phase != Phase::AfterRepair && self.random.chance(0.001) {
            *now += MINUTE;
            let nothing = Taken {
                test,
                conditions: Conditions::default(),
                readings: Vec::new(),
                not_tested: Vec::new(),
                defeated_interlock: false,
            };
            self.record(*now, job, nothing, phase, Some(first), None);
            self.jobs[job].runs.remove(&test);
        }
    }

    fn take_and_record(
        &mut self,
        now: &mut Moment,
        job: usize,
        test: Test,
        phase: Phase,
        supersedes: Option<TestRunId>,
    ) -> Option<TestRunId> {
        let unit = &self.units[self.jobs[job].unit];
        let hour = (*now - day_of(*now) * DAY) as f64 / HOUR as f64;
        let surroundings = self.sites[unit.site].kitchen.surroundings(day_of(*now), hour, &mut self.random);
        let mut bench = Bench {
            flow_meter: self.random.chance(0.05),
            second_person: self.random.chance(0.5),
            machine: &unit.machine,
            severities: &unit.severities.felt(),
            surroundings,
            habits: &self.technicians[self.jobs[job].technician].habits,
            random: &mut self.random,
            seen: &mut self.jobs[job].seen,
        };
        let taken = bench.take(test);
        *now += test.minutes() * MINUTE;
        let defeat = taken.defeated_interlock.then(|| self.bridge(*now - MINUTE, job));
        let failed = self.note(job, &taken);
        let proof = phase == Phase::AfterRepair || supersedes.is_some() || defeat.is_some();
        let written = failed || proof || self.random.chance(self.settings.written_down);
        written.then(|| self.record(*now, job, taken, phase, supersedes, defeat))
    }

    /// Keeps in mind what failed, because it must be shown to work afterwards; says whether it did.
    fn note(&mut self, job: usize, taken: &Taken) -> bool {
        let limits = &self.units[self.jobs[job].unit].machine.design.limits;
        let failed = limits.fail(taken.test.key(), &taken.readings);
        let job = &mut self.jobs[job];
        job.stands.insert(taken.test, (job.epoch, failed));
        if failed {
            job.failed_in.entry(taken.test).or_insert(job.epoch);
        }
        failed
    }

    fn record(
        &mut self,
        at: Moment,
        job: usize,
        taken: Taken,
        phase: Phase,
        supersedes: Option<TestRunId>,
        defeat: Option<InterlockDefeatId>,
    ) -> TestRunId {
        let id = self.new_id(at);
        let technician = &mut self.technicians[self.jobs[job].technician];
        technician.sequence += 1;
        let retracted = taken.readings.is_empty() && supersedes.is_some();
        let run = TestRun {
            id,
            appliance: self.units[self.jobs[job].unit].id,
            work_order: Some(self.jobs[job].id),
            visit: self.jobs[job].visit,
            procedure: ProcedureVersion { key: key(taken.test.key()), version: 1 },
            phase: if self.jobs[job].planned_work && phase == Phase::BeforeRepair {
                Phase::Baseline
            } else {
                phase
            },
            epoch: self.jobs[job].epoch,
            device_id: technician.device.clone(),
            sequence: technician.sequence,
            taken_at: timestamp(at),
            conditions: taken.conditions,
            readings: taken.readings,
            not_tested: taken
                .not_tested
                .into_iter()
                .map(|(step, reason)| (key(step), words(reason)))
                .collect(),
            interlock_defeat: defeat,
            supersedes,
            retraction_reason: retracted.then(|| words("Taken on the wrong machine.")),
        };
        let by = technician.id;
        self.jobs[job].runs.insert(taken.test, id);
        self.emit(at, by, Entry::TestRun(Box::new(run)));
        id
    }

    fn bridge(&mut self, at: Moment, job: usize) -> InterlockDefeatId {
        if let Some(open) = self.jobs[job].defeat {
            return open;
        }
        let id = self.new_id(at);
        let technician = self.technicians[self.jobs[job].technician].id;
        let work_order = self.jobs[job].id;
        let defeat = InterlockDefeat {
            id,
            work_order,
            opened_by: technician,
            second_person: self.jobs[job].contact_name.clone(),
            expires_at: timestamp(at + 10 * MINUTE),
        };
        self.emit(at, technician, Entry::InterlockDefeat(defeat));
        // the magnet is forgotten now and then, and found when the order is to be closed
        if self.random.chance(0.1) {
            self.jobs[job].defeat = Some(id);
        } else {
            let restored = InterlockRestored { id, work_order };
            self.emit(at + MINUTE, technician, Entry::InterlockRestored(restored));
        }
        id
    }

    pub(super) fn still_failing(&self, job: usize) -> Vec<Test> {
        let job = &self.jobs[job];
        let fails = |(_, (epoch, failed)): &(&Test, &(u32, bool))| *epoch == job.epoch && *failed;
        job.stands.iter().filter(fails).map(|(test, _)| *test).collect()
    }

    /// Takes a test again in place of its last run.
    pub(super) fn retake(&mut self, now: &mut Moment, job: usize, test: Test) {
        let Some(last) = self.jobs[job].runs.get(&test).copied() else { return };
        self.take_and_record(now, job, test, Phase::AfterRepair, Some(last));
    }
}

#[expect(clippy::expect_used, reason = "callers pass sentences of this file and of the bench")]
fn words(sentence: &'static str) -> domain::text::Words {
    Text::new(sentence).expect("a sentence")
}

/// The tests that bear on these defects, each once, in the usual order.
pub(super) fn tests_for(defects: &[Defect]) -> Vec<Test> {
    let mut tests: Vec<_> = defects.iter().flat_map(|defect| judgement::proofs(*defect)).copied().collect();
    tests.sort_unstable();
    tests.dedup();
    tests
}
