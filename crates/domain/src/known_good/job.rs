//! What one job (an order's epoch) says of each of its readings: the value, and whether the rest of the
//! job shows a good machine.

use std::collections::BTreeMap;

use super::selection::Outcome;
use crate::equipment::Measurement;
use crate::grading::{Assessment, Conformity, Reason, Verdict};
use crate::id::TestRunId;
use crate::quantity::QuantityKind;
use crate::text::Key;
use crate::vocabulary::{Condition, Position};

/// The procedure that proves the whole machine, and its step that says how it ended.
const FULL_CYCLE: (&str, &str) = ("full_cycle", "outcome");

/// A number that was read of a position, and what the other readings of its job show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JobReading<'a> {
    pub verdict: &'a Verdict,
    pub position: Position,
    pub quantity: QuantityKind,
    /// At reference conditions; none if it could not be corrected, or only a bound is known.
    pub value: Option<f64>,
    pub other_tests: Outcome,
    /// The last full cycle taken with the reading or after it.
    pub full_cycle: Outcome,
}

/// The numbers of a job, in the order in which they were taken.
///
/// Another test has passed if it surely keeps the model's functional limit (*pass*, not *conditional
/// pass*) or its choice stands for a healthy part; of one taken twice the last counts. A test without a
/// limit neither passes nor fails. What the building supplies is no test of the machine, because readings
/// are corrected for it. Learned references play no part, so that they cannot narrow themselves.
pub fn readings_of(assessment: &Assessment) -> Vec<JobReading<'_>> {
    let verdicts = &assessment.verdicts;
    let mut begins = BTreeMap::new();
    let mut latest: BTreeMap<&Measurement, usize> = BTreeMap::new();
    for (index, verdict) in verdicts.iter().enumerate() {
        begins.entry(verdict.test_run).or_insert(index);
        latest.insert(&verdict.of, index);
    }
    let standing: Vec<&Verdict> = latest.into_values().map(|index| &verdicts[index]).collect();
    let reading = |verdict| job_reading(verdict, &standing, &begins);
    verdicts.iter().filter_map(reading).collect()
}

/// `standing` are the last verdicts of each measurement, `begins` where each run begins.
fn job_reading<'a>(
    verdict: &'a Verdict,
    standing: &[&Verdict],
    begins: &BTreeMap<TestRunId, usize>,
) -> Option<JobReading<'a>> {
    let (position, quantity) = (verdict.position?, verdict.quantity?);
    let others = standing.iter().copied().filter(|other| step(other) != step(verdict));
    let (cycle, tests): (Vec<&Verdict>, Vec<&Verdict>) =
        others.partition(|other| other.of.procedure.as_str() == FULL_CYCLE.0);
    let is_after = |other: &&Verdict| begins.get(&other.test_run) >= begins.get(&verdict.test_run);
    let cycle: Vec<&Verdict> = cycle.into_iter().filter(is_after).collect();
    let has_ended = cycle.iter().any(|step| step.of.step.as_str() == FULL_CYCLE.1);
    let full_cycle = if has_ended { outcome(&cycle) } else { Outcome::NotRun };
    let (value, other_tests) = (known_value(verdict), outcome(&tests));
    Some(JobReading { verdict, position, quantity, value, other_tests, full_cycle })
}

fn step(verdict: &Verdict) -> (&Key, &Key) {
    (&verdict.of.procedure, &verdict.of.step)
}

fn known_value(verdict: &Verdict) -> Option<f64> {
    let grading = &verdict.at_reference;
    let is_known = verdict.censored.is_none() && matches!(grading.reason, None | Some(Reason::NoLimit));
    grading.value.filter(|_| is_known)
}

fn outcome(tests: &[&Verdict]) -> Outcome {
    let mut outcome = Outcome::NotRun;
    for test in tests {
        match passed(test) {
            Some(true) => outcome = Outcome::Passed,
            Some(false) => return Outcome::NotPassed,
            None => {}
        }
    }
    outcome
}

/// None for what can neither pass nor fail.
fn passed(verdict: &Verdict) -> Option<bool> {
    if verdict.position.is_some_and(Position::is_external) {
        None
    } else if verdict.choice.is_some() {
        Some(verdict.condition == Condition::Ok)
    } else if verdict.at_reference.reason == Some(Reason::NoLimit) {
        None
    } else {
        Some(verdict.at_reference.conformity == Conformity::Pass)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grading::Grading;

    /// A number of the fill valve, or a choice of no position, that came out as told.
    fn verdict(run: u32, procedure: &'static str, step: &'static str, conformity: Conformity) -> Verdict {
        let is_number = procedure != "full_cycle";
        let grading = Grading {
            conformity,
            value: is_number.then_some(12.0),
            standard_uncertainty: None,
            probability: None,
            reason: None,
        };
        let passed = conformity == Conformity::Pass;
        Verdict {
            test_run: format!("01890a5d-ac96-774b-bcce-{run:012x}").parse().unwrap(),
            procedure_version: 1,
            of: Measurement::value(procedure, step),
            position: is_number.then_some(Position::FillValve),
            quantity: is_number.then_some(QuantityKind::Duration),
            choice: (!is_number).then(|| Key::new("completed").unwrap()),
            censored: None,
            as_found: grading.clone(),
            at_reference: grading,
            limit: None,
            comparison: None,
            condition: if passed { Condition::Ok } else { Condition::Failed },
            failure_mode: None,
            said: crate::grading::Said::default(),
            sentence: String::new(),
        }
    }

    /// Other tests and full cycle as the first verdict sees them.
    fn seen_by_first(verdicts: Vec<Verdict>) -> (Outcome, Outcome) {
        let assessment = Assessment { verdicts, not_tested: Vec::new(), conditions: Vec::new() };
        let first = readings_of(&assessment)[0];
        (first.other_tests, first.full_cycle)
    }

    #[test]
    fn its_own_verdict_is_no_part_of_it_and_the_others_are() {
        use Conformity::{ConditionalPass, Fail, Inconclusive, Pass};
        let cycle = |run| verdict(run, "full_cycle", "outcome", Pass);
        let fill = |conformity| verdict(1, "fill_time", "fill_time", conformity);
        let drain = |conformity| verdict(2, "drain_time", "drain_time", conformity);
        for own in [Pass, Fail, Inconclusive] {
            assert_eq!(
                seen_by_first(vec![fill(own), drain(Pass), cycle(3)]),
                (Outcome::Passed, Outcome::Passed)
            );
        }
        for other in [ConditionalPass, Fail, Inconclusive] {
            assert_eq!(seen_by_first(vec![fill(Pass), drain(other), cycle(3)]).0, Outcome::NotPassed);
        }
        assert_eq!(seen_by_first(vec![fill(Pass), cycle(3)]), (Outcome::NotRun, Outcome::Passed));
        // Read twice: the second reading of another test counts.
        let again = verdict(4, "drain_time", "drain_time", Pass);
        assert_eq!(seen_by_first(vec![fill(Pass), drain(Fail), again]).0, Outcome::Passed);
    }

    #[test]
    fn the_full_cycle_must_follow_end_and_pass_in_every_step() {
        use Conformity::{Fail, Pass};
        let cycle = |run, step, conformity| verdict(run, "full_cycle", step, conformity);
        let fill = verdict(2, "fill_time", "fill_time", Pass);
        let seen = |before: Vec<Verdict>, after: Vec<Verdict>| {
            let verdicts = [before, vec![fill.clone()], after].concat();
            let assessment = Assessment { verdicts, not_tested: Vec::new(), conditions: Vec::new() };
            readings_of(&assessment)[0].full_cycle
        };
        assert_eq!(seen(vec![cycle(1, "outcome", Pass)], vec![]), Outcome::NotRun);
        assert_eq!(seen(vec![], vec![cycle(3, "leaks", Pass)]), Outcome::NotRun);
        assert_eq!(
            seen(vec![], vec![cycle(3, "leaks", Fail), cycle(3, "outcome", Pass)]),
            Outcome::NotPassed
        );
        assert_eq!(seen(vec![], vec![cycle(3, "outcome", Fail), cycle(4, "outcome", Pass)]), Outcome::Passed);
    }

    #[test]
    fn what_can_neither_pass_nor_fail_is_no_test_and_a_bound_is_no_value() {
        let mut fill = verdict(1, "fill_time", "fill_time", Conformity::Pass);
        let mut pressure = verdict(2, "inlet_pressure", "dynamic_pressure", Conformity::Fail);
        pressure.position = Some(Position::SitePressure);
        let mut unlimited = verdict(3, "drain_time", "drain_time", Conformity::Inconclusive);
        unlimited.at_reference.reason = Some(Reason::NoLimit);
        assert_eq!(seen_by_first(vec![fill.clone(), pressure, unlimited.clone()]).0, Outcome::NotRun);
        fill.censored = Some(crate::evidence::Censored::AtLeast);
        let assessment =
            Assessment { verdicts: vec![fill, unlimited], not_tested: Vec::new(), conditions: Vec::new() };
        let values: Vec<_> = readings_of(&assessment).iter().map(|reading| reading.value).collect();
        assert_eq!(values, [None, Some(12.0)]);
    }
}
