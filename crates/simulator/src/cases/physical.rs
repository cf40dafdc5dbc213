//! Tier B: calls of a simulated company, with the whole checklist as one technician would have taken
//! it then, labelled with what was truly wrong.

use std::collections::BTreeSet;

use domain::evidence::{Phase, TestRun};
use domain::id::{ApplianceId, WorkOrderId};
use domain::procedure::ProcedureVersion;
use domain::text::{Key, Text};
use serde::Serialize;

use crate::bench::{Taken, key};
use crate::clock::{MINUTE, Moment, moment, timestamp};
use crate::company::{Branch, Company, InvalidSettings, Settings};
use crate::history::Code;
use crate::random::Random;
use crate::truth::{CallTruth, Kitchen};

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhysicalCase {
    pub model: Code,
    /// The first symptom that the dispatcher noted.
    pub complaint: Code,
    /// Questions of the intake that were asked, with the answers.
    pub intake: Vec<(Code, Code)>,
    pub runs: Vec<TestRun>,
    /// Faults of the catalogue that a technician who looked everywhere would name.
    pub truth: Vec<Label>,
    #[serde(skip)]
    pub behind: Option<Behind>,
}

/// What is behind a call, to be read again after a repair.
#[derive(Debug, Clone, PartialEq)]
pub struct Behind {
    kitchen: Kitchen,
    order: WorkOrderId,
    appliance: ApplianceId,
    at: Moment,
}

impl Behind {
    /// The whole checklist once these faults are mended; the `time`th time.
    pub fn again(&self, mended: &BTreeSet<Key>, time: u64) -> Vec<TestRun> {
        let mut random = Random::new(self.order.uuid().as_u64_pair().1, time);
        let is_mended = |code: Code| mended.iter().any(|key| key.as_str() == code);
        let checklist = self.kitchen.checklist(is_mended, &mut random);
        runs(&mut random, self.at, checklist, self.order, self.appliance)
    }
}

fn runs(
    random: &mut Random,
    mut at: Moment,
    checklist: Vec<Taken>,
    order: WorkOrderId,
    appliance: ApplianceId,
) -> Vec<TestRun> {
    let run = |(sequence, taken): (usize, Taken)| {
        at += taken.test.minutes() * MINUTE;
        run(random, at, sequence, taken, order, appliance)
    };
    checklist.into_iter().enumerate().map(run).collect()
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Label {
    pub fault: Code,
    /// 0 sound … 1 entirely failed.
    pub severity: f64,
}

/// Endless cases of the machines of one model, branch after branch of a company of that seed.
pub struct PhysicalCases {
    company: Company,
    model: Code,
    next_branch: usize,
    branch: Option<Branch>,
    ready: std::collections::VecDeque<PhysicalCase>,
}

impl PhysicalCases {
    /// `model` is `demo_combi`, `large_combi` or `demo_warewasher`.
    pub fn new(seed: u64, model: Code) -> Result<Self, InvalidSettings> {
        let company = Company::new(Settings {
            // as many branches as anybody will ever draw from; only one lives at a time
            kitchens: usize::MAX / 2,
            kitchens_of_a_branch: 40,
            original_parts: false,
            stories: false,
            cases: true,
            ..Settings::demo(seed)
        })?;
        Ok(Self { company, model, next_branch: 0, branch: None, ready: std::collections::VecDeque::new() })
    }
}

impl Iterator for PhysicalCases {
    type Item = PhysicalCase;

    fn next(&mut self) -> Option<PhysicalCase> {
        loop {
            if let Some(case) = self.ready.pop_front() {
                return Some(case);
            }
            let branch = self.branch.get_or_insert_with(|| {
                self.next_branch += 1;
                self.company.branch(self.next_branch - 1)
            });
            if branch.next_day().is_none() {
                self.branch = None;
                continue;
            }
            let of_model = branch.take_truths().into_iter().filter(|truth| truth.model == self.model);
            self.ready.extend(of_model.map(case));
        }
    }
}

fn case(truth: CallTruth) -> PhysicalCase {
    let at = moment(truth.at);
    let (order, appliance) = (truth.work_order, truth.appliance);
    let mut random = Random::new(order.uuid().as_u64_pair().1, 0);
    let labels = truth.faults().into_iter().map(|(fault, severity)| Label { fault, severity }).collect();
    let runs = runs(&mut random, at, truth.checklist, order, appliance);
    PhysicalCase {
        model: truth.model,
        complaint: truth.symptoms.first().copied().unwrap_or("other"),
        intake: truth.intake,
        runs,
        truth: labels,
        behind: truth.kitchen.map(|kitchen| Behind { kitchen, order, appliance, at }),
    }
}

#[expect(clippy::expect_used, reason = "a short text, and sentences of the bench")]
fn run(
    random: &mut Random,
    at: Moment,
    sequence: usize,
    taken: Taken,
    work_order: WorkOrderId,
    appliance: ApplianceId,
) -> TestRun {
    let reason = |(step, reason)| (key(step), Text::new(reason).expect("a sentence"));
    TestRun {
        id: random.id(timestamp(at)),
        appliance,
        work_order: Some(work_order),
        visit: None,
        procedure: ProcedureVersion { key: key(taken.test.key()), version: 1 },
        phase: Phase::BeforeRepair,
        epoch: 0,
        device_id: Text::new("checklist").expect("a short text"),
        sequence: sequence as u64,
        taken_at: timestamp(at),
        conditions: taken.conditions,
        readings: taken.readings,
        not_tested: taken.not_tested.into_iter().map(reason).collect(),
        interlock_defeat: None,
        supersedes: None,
        retraction_reason: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::procedure::built_in_procedures;

    #[test]
    fn cases_are_whole_checklists_and_often_have_several_faults() {
        let drawn = || PhysicalCases::new(3, "demo_combi").unwrap();
        let several = drawn().take(400).filter(|case| case.truth.len() > 1).count();
        assert!((75..145).contains(&several), "{several} of 400");
        let cases: Vec<_> = drawn().take(150).collect();
        let procedures = built_in_procedures();
        for case in &cases {
            assert!(case.runs.len() > 12);
            for run in &case.runs {
                let procedure = procedures.iter().find(|procedure| procedure.id() == run.procedure).unwrap();
                assert_eq!(run.validate(procedure, domain::equipment::demo_combi()), Ok(()), "{run:?}");
            }
        }
        let again: Vec<_> = drawn().take(150).collect();
        assert_eq!(serde_json::to_string(&cases).unwrap(), serde_json::to_string(&again).unwrap());
    }

    #[test]
    fn once_all_is_mended_the_machine_washes() {
        let said = |runs: &[TestRun], step: &str| {
            let cycle = runs.iter().find(|run| run.procedure.key.as_str() == "full_cycle").unwrap();
            let reading = cycle.readings.iter().find(|of| of.step.as_str() == step).unwrap();
            reading.choice.clone().unwrap().to_string()
        };
        let (mut before, mut after, mut n) = (0, 0, 0);
        for case in PhysicalCases::new(3, "demo_combi").unwrap().take(150) {
            let mended = case.truth.iter().map(|label| key(label.fault)).collect();
            let again = case.behind.unwrap().again(&mended, 1);
            n += 1;
            before += usize::from(said(&case.runs, "cleanliness") == "clean");
            after += usize::from(said(&again, "cleanliness") == "clean");
        }
        assert!(before * 2 < n && after * 10 > n * 9, "{before}, {after} of {n}");
    }

    #[test]
    fn only_a_cycle_that_ends_shows_its_heating_and_its_last_water() {
        let mut seen = [0; 2];
        for case in PhysicalCases::new(3, "demo_combi").unwrap().take(100) {
            let cycles = case.runs.iter().filter(|run| run.procedure.key.as_str() == "full_cycle");
            for cycle in cycles {
                let find = |step: &str| cycle.readings.iter().find(|of| of.step.as_str() == step);
                let outcome = find("outcome").and_then(|of| of.choice.as_ref()).unwrap();
                let stopped = outcome.as_str() == "stopped";
                for step in ["start_temperature", "time_to_first_stage", "ph"] {
                    assert_eq!(find(step).is_none(), stopped, "{step}");
                }
                seen[usize::from(stopped)] += 1;
            }
        }
        assert!(seen.iter().all(|count| *count > 10), "{seen:?}");
    }

    #[test]
    fn labels_are_faults_of_the_catalogue() {
        for (model, catalogue) in [
            ("demo_warewasher", domain::equipment::demo_warewasher_faults()),
            ("demo_combi", domain::equipment::demo_combi_faults()),
        ] {
            for case in PhysicalCases::new(4, model).unwrap().take(100) {
                for label in case.truth {
                    assert!(catalogue.fault(label.fault).is_some(), "{model}: {}", label.fault);
                }
            }
        }
    }
}
