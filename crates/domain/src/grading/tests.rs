//! The demo combi's worked values, and what must hold whatever the evidence is.

use proptest::prelude::*;
use serde_json::{Value, json};

use super::*;
use crate::equipment::{Bounds, Measurement, demo_combi, demo_warewasher};
use crate::evidence::Instrument;
use crate::procedure::built_in_procedures;
use crate::quantity::QuantityKind;
use crate::vocabulary::{Condition, Position};

/// A run of version 1 of a procedure, taken in the minute of its number.
#[expect(clippy::needless_pass_by_value, reason = "tests read better without the borrow")]
fn run(number: u32, procedure: &str, readings: Value, conditions: Value) -> TestRun {
    let run = json!({
        "id": format!("01890a5d-ac96-774b-bcce-{number:012x}"),
        "appliance": "01890a5d-ac96-774b-bcce-b302099a8058",
        "procedure": {"key": procedure, "version": 1},
        "phase": "before_repair", "epoch": 0, "device_id": "phone", "sequence": number,
        "taken_at": format!("2026-03-02T10:{number:02}:00Z"),
        "readings": readings, "conditions": conditions,
    });
    serde_json::from_value(run).unwrap()
}

fn number(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"text": format!("{value:?}"), "value": value, "unit": unit}})
}

fn precise(step: &str, value: f64, unit: &str, u: f64) -> Value {
    let mut reading = number(step, value, unit);
    reading["value"]["standard_uncertainty"] = json!(u);
    reading
}

fn at_least(step: &str, value: f64, unit: &str) -> Value {
    let mut reading = number(step, value, unit);
    reading["value"]["censored"] = json!("at_least");
    reading
}

fn chosen(step: &str, choice: &str) -> Value {
    json!({"step": step, "choice": choice})
}

fn pressure(number_of_run: u32, static_bar: f64, dynamic_bar: f64) -> TestRun {
    let readings = json!([
        precise("static_pressure", static_bar, "bar", 0.02),
        precise("dynamic_pressure", dynamic_bar, "bar", 0.02)
    ]);
    run(number_of_run, "inlet_pressure", readings, json!({}))
}

fn strainers(number_of_run: u32, inlet: &str, valve: &str) -> TestRun {
    let readings = json!([chosen("inlet_strainer", inlet), chosen("valve_strainer", valve)]);
    run(number_of_run, "strainer_look", readings, json!({}))
}

fn fill(number_of_run: u32, seconds: f64, u: f64) -> TestRun {
    let readings = json!([precise("fill_time", seconds, "s", u)]);
    run(number_of_run, "fill_time", readings, json!({"confirmed": ["sump_empty"]}))
}

fn assess_runs(runs: &[TestRun]) -> Assessment {
    let input = GradingInput {
        model: demo_combi(),
        procedures: built_in_procedures(),
        runs,
        site_runs: &[],
        epoch: 0,
        appliance_limits: &[],
        references: &(),
    };
    for run in runs.iter().filter(|run| run.retraction_reason.is_none()) {
        let procedure =
            built_in_procedures().iter().find(|procedure| procedure.id() == run.procedure).unwrap();
        assert_eq!(run.validate(procedure, demo_combi()), Ok(()));
    }
    grade(&input).unwrap()
}

fn verdict<'a>(assessment: &'a Assessment, step: &str) -> &'a Verdict {
    assessment.verdicts.iter().find(|verdict| verdict.of.step.as_str() == step).unwrap()
}

fn condition_of(assessment: &Assessment, position: Position) -> Condition {
    assessment.conditions.iter().find(|proposal| proposal.position == position).unwrap().condition
}

fn words(verdict: &Verdict) -> (Conformity, Conformity) {
    (verdict.as_found.conformity, verdict.at_reference.conformity)
}

#[test]
fn fill_times_of_the_worked_table_against_a_limit_of_20_s() {
    for (seconds, dynamic, u, as_found, at_reference, condition) in [
        (12.71, 2.831, 0.3, Conformity::Pass, Conformity::Pass, Condition::Ok),
        (31.97, 2.973, 0.3, Conformity::Fail, Conformity::Fail, Condition::Failed),
        (55.17, 2.991, 0.3, Conformity::Fail, Conformity::Fail, Condition::Failed),
        (19.9, 2.831, 0.3, Conformity::ConditionalPass, Conformity::ConditionalPass, Condition::Degraded),
        (17.97, 1.416, 0.3, Conformity::Pass, Conformity::Pass, Condition::Ok),
    ] {
        let runs = [pressure(1, 3.0, dynamic), strainers(2, "clear", "clear"), fill(3, seconds, u)];
        let assessment = assess_runs(&runs);
        let verdict = verdict(&assessment, "fill_time");
        assert_eq!(words(verdict), (as_found, at_reference), "{seconds}: {:?}", verdict.as_found);
        assert_eq!(condition_of(&assessment, Position::FillValve), condition, "{seconds}");
    }
}

#[test]
fn a_healthy_valve_on_a_low_supply_fails_as_found_and_passes_at_reference() {
    let assessment =
        assess_runs(&[pressure(1, 1.0, 0.944), strainers(2, "clear", "clear"), fill(3, 22.01, 0.3)]);
    let verdict = verdict(&assessment, "fill_time");
    assert_eq!(words(verdict), (Conformity::Fail, Conformity::Pass));
    assert!((verdict.at_reference.value.unwrap() - 12.71).abs() < 0.005);
    assert!(
        verdict.as_found.probability.unwrap() < 1e-6 && verdict.at_reference.probability.unwrap() > 0.999
    );
    assert_eq!(condition_of(&assessment, Position::FillValve), Condition::Ok);
    assert_eq!(condition_of(&assessment, Position::SitePressure), Condition::Failed);
    assert!(verdict.said.is_corrected && verdict.comparison.unwrap().usual);
    assert_eq!(verdict.said.pressure, Some(PressureDuring { bar: 0.944, elsewhere: false }));
}

#[test]
fn a_high_supply_does_not_hide_a_weak_valve() {
    // 18 s at 4 bar are 21.4 s at reference.
    let assessment =
        assess_runs(&[pressure(1, 4.3, 4.0), strainers(2, "clear", "clear"), fill(3, 18.0, 0.3)]);
    let verdict = verdict(&assessment, "fill_time");
    assert_eq!(words(verdict), (Conformity::Pass, Conformity::Fail), "{:?}", verdict.as_found);
    assert_eq!(verdict.said.pressure, Some(PressureDuring { bar: 4.0, elsewhere: false }));
}

#[test]
fn a_fill_without_its_pressure_is_graded_as_found_alone() {
    let assessment = assess_runs(&[strainers(2, "clear", "clear"), fill(3, 12.71, 0.3)]);
    let verdict = verdict(&assessment, "fill_time");
    assert_eq!(words(verdict), (Conformity::Pass, Conformity::Inconclusive));
    assert!(
        matches!(&verdict.at_reference.reason, Some(Reason::NotRead { step, .. }) if step.as_str() == "dynamic_pressure")
    );
    assert_eq!(condition_of(&assessment, Position::FillValve), Condition::Inconclusive);
}

#[test]
fn the_pressure_read_during_the_very_run_goes_before_another() {
    let during = json!({"confirmed": ["sump_empty"],
        "dynamic_pressure": {"text": "0.944", "value": 0.944, "unit": "bar", "standard_uncertainty": 0.02}});
    let timed = run(3, "fill_time", json!([precise("fill_time", 22.01, "s", 0.3)]), during);
    let assessment = assess_runs(&[pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), timed]);
    assert!((verdict(&assessment, "fill_time").at_reference.value.unwrap() - 12.71).abs() < 0.005);
}

#[test]
fn a_clogged_strainer_makes_the_valve_inconclusive_never_failed() {
    let assessment =
        assess_runs(&[pressure(1, 3.0, 2.968), strainers(2, "clogged", "clear"), fill(3, 29.38, 0.3)]);
    assert_eq!(words(verdict(&assessment, "fill_time")), (Conformity::Fail, Conformity::Inconclusive));
    assert_eq!(condition_of(&assessment, Position::FillValve), Condition::Inconclusive);
    assert_eq!(condition_of(&assessment, Position::InletStrainer), Condition::Failed);
}

#[test]
fn an_unconfirmed_state_blocks_both_gradings() {
    let timed = run(3, "fill_time", json!([precise("fill_time", 31.97, "s", 0.3)]), json!({}));
    let assessment = assess_runs(&[pressure(1, 3.0, 2.973), strainers(2, "clear", "clear"), timed]);
    let verdict = verdict(&assessment, "fill_time");
    assert_eq!(words(verdict), (Conformity::Inconclusive, Conformity::Inconclusive));
    let reason = verdict.as_found.reason.as_ref();
    assert!(
        matches!(reason, Some(Reason::NotConfirmed { statement }) if statement.as_str().contains("sump was drained")),
        "{reason:?}"
    );
}

#[test]
fn a_catch_is_corrected_for_pressure_and_for_the_length_of_the_call() {
    let catch = |caught: f64, call: f64| {
        let readings = json!([
            number("bucket_volume", 8.0, "L"),
            precise("call_duration", call, "s", 0.05),
            precise("caught", caught, "L", 0.05),
        ]);
        run(3, "start_up_catch", readings, json!({}))
    };
    let low = assess_runs(&[pressure(1, 1.0, 0.944), strainers(2, "clear", "clear"), catch(1.542, 12.0)]);
    let caught = verdict(&low, "caught");
    assert_eq!(words(caught), (Conformity::Fail, Conformity::Pass), "{:?}", caught.as_found);
    assert!((caught.at_reference.value.unwrap() - 2.670).abs() < 0.003);
    // The healthy flow over 15 s instead of 12 s.
    let long = assess_runs(&[
        pressure(1, 3.0, 2.831),
        strainers(2, "clear", "clear"),
        catch(13.693 / 60.0 * 14.7, 15.0),
    ]);
    assert!((verdict(&long, "caught").at_reference.value.unwrap() - 2.670).abs() < 0.003);
}

#[test]
fn a_bucket_that_ran_over_is_a_bound() {
    let readings = json!([number("bucket_volume", 3.0, "L"), at_least("caught", 3.0, "L")]);
    let assessment = assess_runs(&[
        pressure(1, 3.0, 2.831),
        strainers(2, "clear", "clear"),
        run(3, "start_up_catch", readings, json!({})),
    ]);
    let caught = verdict(&assessment, "caught");
    assert_eq!(words(caught), (Conformity::Inconclusive, Conformity::Inconclusive));
    assert_eq!(caught.as_found.reason, Some(Reason::StoppedTooEarly));
    assert!(caught.comparison.is_none());
}

#[expect(clippy::needless_pass_by_value, reason = "tests read better without the borrow")]
fn wash(number_of_run: u32, level_l: f64, hold: Value) -> TestRun {
    let readings = json!([
        precise("level_before", level_l, "L", 0.05),
        chosen("strength", "strong"),
        hold,
        precise("motor_current", 3.2, "A", 0.05),
    ]);
    run(number_of_run, "wash_flow_hold", readings, json!({}))
}

fn wash_is_ready() -> [TestRun; 4] {
    [
        pressure(1, 3.0, 2.831),
        run(2, "valve_shuts_tight", json!([number("passed", 0.0, "mL")]), json!({})),
        run(3, "sump_holds", json!([precise("level_fall", 0.0, "mm", 0.3)]), json!({})),
        run(
            4,
            "door_switch",
            json!([
                chosen("shut_recognised", "at_once"),
                chosen("opening_recognised", "at_once"),
                chosen("pump_refuses", "refuses"),
            ]),
            json!({}),
        ),
    ]
}

#[test]
fn two_seconds_of_flow_are_a_weak_pump_only_from_a_full_sump() {
    let assessed = |level| {
        let mut runs = wash_is_ready().to_vec();
        runs.push(wash(5, level, precise("hold_time", 2.0, "s", 0.3)));
        assess_runs(&runs)
    };
    let full = assessed(2.9);
    assert_eq!(words(verdict(&full, "hold_time")), (Conformity::Fail, Conformity::Fail));
    assert_eq!(condition_of(&full, Position::WashPump), Condition::Failed);
    let under_filled = assessed(1.6);
    let hold = verdict(&under_filled, "hold_time");
    assert_eq!(words(hold), (Conformity::Inconclusive, Conformity::Inconclusive));
    assert_eq!(condition_of(&under_filled, Position::WashPump), Condition::Inconclusive);
    // V_starve + τ·Q* = 1.0 L + 2.5 s · 0.5 L/s.
    let reason = hold.as_found.reason.as_ref();
    assert!(
        matches!(reason, Some(Reason::SumpUnderFilled { level_l, needed_l })
            if (level_l - 1.6).abs() < 1e-9 && (needed_l - 2.25).abs() < 1e-9),
        "{reason:?}"
    );
}

#[test]
fn flow_that_held_to_the_end_passes_and_a_run_cut_short_says_nothing() {
    for (seconds, expected, condition) in
        [(60.0, Conformity::Pass, Condition::Ok), (30.0, Conformity::Inconclusive, Condition::Inconclusive)]
    {
        let mut runs = wash_is_ready().to_vec();
        runs.push(wash(5, 2.9, at_least("hold_time", seconds, "s")));
        let assessment = assess_runs(&runs);
        assert_eq!(words(verdict(&assessment, "hold_time")), (expected, expected), "{seconds}");
        assert_eq!(condition_of(&assessment, Position::WashPump), condition, "{seconds}");
    }
}

#[test]
fn a_wash_without_its_prerequisites_is_judged_as_found_alone() {
    let assessment = assess_runs(&[wash(5, 2.9, precise("hold_time", 2.0, "s", 0.3))]);
    let hold = verdict(&assessment, "hold_time");
    assert_eq!(words(hold), (Conformity::Fail, Conformity::Inconclusive));
    assert!(matches!(hold.at_reference.reason, Some(Reason::NotRead { .. })));
}

#[test]
fn a_recorded_flow_is_judged_by_its_statistics() {
    let times: Vec<f64> = (0..=120).map(|i| f64::from(i) / 2.0).collect();
    // Full for two seconds, then 55 % of it, as a head that fades to 0.35 leaves.
    let values: Vec<f64> = times.iter().map(|t| if *t <= 2.0 { 30.0 } else { 16.6 }).collect();
    let mut runs = wash_is_ready().to_vec();
    let mut faded = wash(5, 2.9, precise("hold_time", 2.0, "s", 0.3));
    let flow = json!({"step": "flow", "series": {"unit": "L/min", "values": values, "times_s": times}});
    faded.readings.push(serde_json::from_value(flow).unwrap());
    runs.push(faded);
    let assessment = assess_runs(&runs);
    let of_flow: Vec<_> =
        assessment.verdicts.iter().filter(|verdict| verdict.of.step.as_str() == "flow").collect();
    let conformities: Vec<_> = of_flow.iter().map(|verdict| verdict.as_found.conformity).collect();
    assert_eq!(conformities, [Conformity::Pass, Conformity::Fail, Conformity::Fail]);
    assert!((of_flow[2].as_found.value.unwrap() - 100.0 * 16.6 / 30.0).abs() < 0.01);
    assert_eq!(of_flow[2].quantity, Some(QuantityKind::Ratio));
}

#[test]
fn an_instrument_too_coarse_for_its_limits_is_inconclusive() {
    let coarse =
        json!([precise("static_pressure", 3.0, "bar", 0.1), precise("dynamic_pressure", 2.8, "bar", 1.2)]);
    let assessment = assess_runs(&[run(1, "inlet_pressure", coarse, json!({}))]);
    let verdict = verdict(&assessment, "dynamic_pressure");
    assert_eq!(verdict.as_found.conformity, Conformity::Inconclusive);
    let reason = verdict.as_found.reason.as_ref();
    assert!(matches!(reason, Some(Reason::InstrumentTooCoarse { .. })), "{reason:?}");
}

#[test]
fn an_instrument_long_out_of_calibration_decides_nothing() {
    let mut read = pressure(1, 3.0, 2.831);
    let instrument = json!({"kind": "dial_gauge", "calibrated_on": "2023-01-01"});
    read.readings[1].value.as_mut().unwrap().instrument =
        Some(serde_json::from_value::<Instrument>(instrument).unwrap());
    let assessment = assess_runs(&[read, strainers(2, "clear", "clear"), fill(3, 12.71, 0.3)]);
    assert_eq!(
        verdict(&assessment, "dynamic_pressure").as_found.reason,
        Some(Reason::CalibrationLongExpired)
    );
    assert_eq!(verdict(&assessment, "fill_time").at_reference.reason, Some(Reason::CalibrationLongExpired));
}

#[test]
fn heating_on_a_low_voltage_is_healthy_at_reference() {
    let volts = run(1, "commanded_volts", json!([precise("supply", 207.0, "V", 0.5)]), json!({}));
    let readings = json!([
        precise("start_temperature", 15.0, "Cel", 0.2),
        precise("time_to_first_stage", 340.9 * 35.0 / 77.0, "s", 1.0),
        precise("time_to_second_stage", 340.9 * 50.0 / 77.0, "s", 1.0),
        precise("time_to_third_stage", 340.9 * 70.0 / 77.0, "s", 1.0),
    ]);
    let assessment = assess_runs(&[volts, run(2, "staged_heating", readings, json!({}))]);
    let reached = verdict(&assessment, "time_to_third_stage");
    assert!(
        (reached.at_reference.value.unwrap() - 271.5 * 70.0 / 77.0).abs() < 0.1,
        "{:?}",
        reached.as_found
    );
    assert_eq!(condition_of(&assessment, Position::Heater), Condition::Ok);
}

#[test]
fn water_is_held_against_the_models_water_limits() {
    // 8 °dH are 1.4266 mmol/L, 142.8 mg/L as CaCO3; the model takes 68 mg/L.
    let mut hardness = number("hardness", 8.0, "1");
    hardness["value"]["hardness_scale"] = json!("german_degree");
    let readings = json!([hardness, number("chloride", 25.0, "mg/L")]);
    let assessment = assess_runs(&[run(1, "water_quality", readings, json!({}))]);
    let hard = verdict(&assessment, "hardness");
    assert_eq!(hard.as_found.conformity, Conformity::Fail, "{:?}", hard.as_found);
    assert!((hard.limit.unwrap().bounds.upper.unwrap() - 0.6794).abs() < 1e-3);
    assert_eq!(verdict(&assessment, "chloride").as_found.conformity, Conformity::Pass);
    assert_eq!(condition_of(&assessment, Position::Treatment), Condition::Failed);
}

#[test]
fn a_regulator_hides_the_pressure_and_so_forbids_the_correction() {
    let runs = [
        pressure(1, 3.0, 2.86),
        run(2, "strainer_look", json!([chosen("valve_strainer", "clear")]), json!({})),
        fill(3, 105.0, 0.5),
    ];
    let input = GradingInput {
        model: demo_warewasher(),
        procedures: built_in_procedures(),
        runs: &runs,
        site_runs: &[],
        epoch: 0,
        appliance_limits: &[],
        references: &(),
    };
    let assessment = grade(&input).unwrap();
    let verdict = verdict(&assessment, "fill_time");
    assert_eq!(words(verdict), (Conformity::Pass, Conformity::Inconclusive));
    let reason = verdict.at_reference.reason.as_ref();
    assert!(
        matches!(reason, Some(Reason::NotCorrectable { detail }) if detail.contains("regulator")),
        "{reason:?}"
    );
}

#[test]
fn an_appliances_own_limit_goes_before_the_models_and_learned_references_before_typical_values() {
    let of = Measurement::value("fill_time", "fill_time");
    let mut limit = demo_combi().functional_limit(&of).unwrap().clone();
    limit.upper = Some(12.0);
    let source = ReferenceSource::OwnReadings;
    let bounds = Bounds::between(9.0, 11.0);
    let own = HealthyReference { source, centre: None, bounds, n: Some(4), knowledge_version: Some(7) };
    let references = LearnedReferences { own: [(of, own)].into(), ..LearnedReferences::default() };
    let runs = [pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), fill(3, 11.6, 0.05)];
    let assess = |appliance_limits: &[FunctionalLimit]| {
        let input = GradingInput {
            model: demo_combi(),
            procedures: built_in_procedures(),
            runs: &runs,
            site_runs: &[],
            epoch: 0,
            appliance_limits,
            references: &references,
        };
        grade(&input).unwrap()
    };
    let assessment = assess(&[limit]);
    let tight = verdict(&assessment, "fill_time");
    assert_eq!(tight.limit.unwrap().source, LimitSource::Appliance);
    assert_eq!(words(tight).0, Conformity::Pass);
    assert_eq!(tight.condition, Condition::Degraded);
    let comparison = tight.comparison.unwrap();
    assert!(!comparison.usual && comparison.reference.source == ReferenceSource::OwnReadings);
    assert_eq!((comparison.reference.bounds, comparison.reference.n), (Bounds::between(9.0, 11.0), Some(4)));
}

#[test]
fn a_correction_replaces_its_run_and_a_retraction_removes_it() {
    let wrong = fill(3, 31.97, 0.3);
    let mut right = fill(4, 12.71, 0.3);
    right.supersedes = Some(wrong.id);
    let mut runs = vec![pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), wrong, right];
    let corrected = assess_runs(&runs);
    assert_eq!(verdict(&corrected, "fill_time").as_found.value, Some(12.71));
    let mut retraction = fill(5, 1.0, 0.3);
    retraction.supersedes = Some(runs[3].id);
    retraction.readings.clear();
    retraction.retraction_reason = Some(crate::text::Words::new("wrong machine").unwrap());
    runs.push(retraction);
    let retracted = assess_runs(&runs);
    assert!(retracted.verdicts.iter().all(|verdict| verdict.of.step.as_str() != "fill_time"));
    assert_eq!(condition_of(&retracted, Position::FillValve), Condition::NotTested);
}

#[test]
fn epochs_never_mix() {
    let mut after = fill(3, 12.71, 0.3);
    after.epoch = 1;
    let runs = [pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), after];
    let input = GradingInput {
        model: demo_combi(),
        procedures: built_in_procedures(),
        runs: &runs,
        site_runs: &[],
        epoch: 1,
        appliance_limits: &[],
        references: &(),
    };
    let assessment = grade(&input).unwrap();
    assert_eq!(assessment.verdicts.len(), 1);
    assert_eq!(words(&assessment.verdicts[0]), (Conformity::Pass, Conformity::Inconclusive));
}

#[test]
fn a_step_not_tested_says_why_and_blocks_what_needs_it() {
    let mut skipped = strainers(2, "clear", "clear");
    skipped.readings.remove(0);
    let reason = crate::text::Words::new("behind a wall").unwrap();
    skipped.not_tested.insert(Key::new("inlet_strainer").unwrap(), reason.clone());
    let assessment = assess_runs(&[pressure(1, 3.0, 2.831), skipped, fill(3, 12.71, 0.3)]);
    let inlet =
        assessment.conditions.iter().find(|proposal| proposal.position == Position::InletStrainer).unwrap();
    assert_eq!((inlet.condition, inlet.not_tested.as_ref()), (Condition::NotTested, Some(&reason)));
    assert_eq!(words(verdict(&assessment, "fill_time")).1, Conformity::Inconclusive);
}

#[test]
fn an_assessment_survives_its_own_json() {
    let assessment =
        assess_runs(&[pressure(1, 1.0, 0.944), strainers(2, "dirty", "clear"), fill(3, 22.01, 0.3)]);
    let json = serde_json::to_string(&assessment).unwrap();
    assert_eq!(serde_json::from_str::<Assessment>(&json).unwrap(), assessment);
}

/// Runs of every kind, two of each test, a correction and a retraction among them.
fn a_whole_visit() -> Vec<TestRun> {
    let mut runs = wash_is_ready().to_vec();
    runs.push(wash(5, 2.9, precise("hold_time", 2.0, "s", 0.3)));
    runs.push(strainers(6, "dirty", "clear"));
    runs.push(fill(7, 31.97, 0.3));
    runs.push(strainers(8, "clear", "clear"));
    runs.push(pressure(9, 1.0, 0.944));
    runs.push(fill(10, 22.01, 0.3));
    let mut correction = fill(11, 22.15, 0.3);
    correction.supersedes = Some(runs[9].id);
    runs.push(correction);
    let mut retraction = fill(12, 1.0, 0.3);
    retraction.supersedes = Some(runs[6].id);
    retraction.readings.clear();
    retraction.retraction_reason = Some(crate::text::Words::new("wrong machine").unwrap());
    runs.push(retraction);
    // A second phone, whose clock is level with the first.
    let mut other = strainers(8, "clogged", "clear");
    other.id = "01890a5d-ac96-774b-bcce-0000000000ff".parse().unwrap();
    other.device_id = crate::text::Text::new("tablet").unwrap();
    runs.push(other);
    runs
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn verdicts_do_not_depend_on_the_order_of_arrival(runs in Just(a_whole_visit()).prop_shuffle()) {
        prop_assert_eq!(assess_runs(&runs), assess_runs(&a_whole_visit()));
    }

    #[test]
    fn evidence_that_came_twice_counts_once(twice in 0usize..13) {
        let mut runs = a_whole_visit();
        runs.insert(0, runs[twice].clone());
        prop_assert_eq!(assess_runs(&runs), assess_runs(&a_whole_visit()));
    }

    #[test]
    fn no_fill_time_and_no_pressure_panics_or_yields_what_is_not_a_number(
        seconds in prop_oneof![Just(0.0), Just(f64::MIN_POSITIVE), 0.0..1e3, Just(3.2e9)],
        bar in prop_oneof![Just(0.0), Just(-1.0), -1.0..20.0, Just(1e4)],
        u in prop_oneof![Just(f64::MIN_POSITIVE), 1e-6..10.0, Just(3.2e9)],
    ) {
        let assessment = assess_runs(&[pressure(1, 3.0, bar), strainers(2, "clear", "clear"), fill(3, seconds, u)]);
        let verdict = verdict(&assessment, "fill_time");
        for grading in [&verdict.as_found, &verdict.at_reference] {
            prop_assert!(grading.value.is_none_or(f64::is_finite));
            prop_assert!(grading.standard_uncertainty.is_none_or(|u| u > 0.0 && u.is_finite()));
            prop_assert!(grading.probability.is_none_or(|p| (0.0..=1.0).contains(&p)));
            let explained = grading.conformity != Conformity::Inconclusive || grading.reason.is_some();
            prop_assert!(explained);
        }
    }

    #[test]
    fn a_slower_fill_is_never_judged_better(a in 5.0..60.0, b in 5.0..60.0) {
        let of = |seconds: f64| {
            let assessment = assess_runs(&[pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), fill(3, seconds, 0.3)]);
            let verdict = verdict(&assessment, "fill_time").clone();
            (verdict.as_found.conformity, verdict.at_reference.probability.unwrap())
        };
        let (fast, slow): (f64, f64) = if a < b { (a, b) } else { (b, a) };
        prop_assert!(of(fast).0 <= of(slow).0);
        prop_assert!(of(fast).1 >= of(slow).1);
    }
}

fn fill_at(number_of_run: u32, seconds: f64, dynamic_bar: f64) -> TestRun {
    let mut fill = fill(number_of_run, seconds, 0.3);
    fill.conditions.dynamic_pressure =
        serde_json::from_value(precise("", dynamic_bar, "bar", 0.02)["value"].take()).unwrap();
    fill
}

#[test]
fn a_pressure_stated_with_a_fill_is_itself_held_against_its_limit() {
    let stated = assess_runs(&[strainers(1, "clear", "clear"), fill_at(2, 22.01, 0.944)]);
    let pressure_verdict = verdict(&stated, "dynamic_pressure");
    assert_eq!(pressure_verdict.as_found.conformity, Conformity::Fail, "{:?}", pressure_verdict.as_found);
    assert_eq!(pressure_verdict.test_run, verdict(&stated, "fill_time").test_run);
    assert_eq!(condition_of(&stated, Position::SitePressure), Condition::Failed);
    assert_eq!(condition_of(&stated, Position::FillValve), Condition::Ok);

    let latest = assess_runs(&[fill_at(1, 22.01, 0.944), fill_at(2, 12.71, 2.831)]);
    let of_pressure = latest.verdicts.iter().filter(|verdict| verdict.of.step.as_str() == "dynamic_pressure");
    assert_eq!(of_pressure.count(), 1);
    assert_eq!(condition_of(&latest, Position::SitePressure), Condition::Ok);

    let read =
        assess_runs(&[pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), fill_at(3, 22.01, 0.944)]);
    assert_eq!(condition_of(&read, Position::SitePressure), Condition::Ok, "what its own step read stands");
}

#[test]
fn a_pressure_read_at_another_machine_of_the_kitchen_counts_with_a_wider_uncertainty() {
    let mut neighbour = pressure(1, 1.0, 0.944);
    neighbour.appliance = "01890a5d-ac96-774b-bcce-b302099a8059".parse().unwrap();
    let with = |runs: &[TestRun], site_runs: &[TestRun]| {
        let input = GradingInput {
            model: demo_combi(),
            procedures: built_in_procedures(),
            runs,
            site_runs,
            epoch: 0,
            appliance_limits: &[],
            references: &(),
        };
        grade(&input).unwrap()
    };
    let runs = [strainers(2, "clear", "clear"), fill(3, 22.01, 0.3)];
    let alone = with(&runs, &[]);
    assert_eq!(words(verdict(&alone, "fill_time")), (Conformity::Fail, Conformity::Inconclusive));

    let helped = with(&runs, std::slice::from_ref(&neighbour));
    let by_neighbour = verdict(&helped, "fill_time");
    assert_eq!(words(by_neighbour), (Conformity::Fail, Conformity::Pass), "{:?}", by_neighbour.as_found);
    assert!(by_neighbour.said.pressure.is_some_and(|pressure| pressure.elsewhere));
    assert_eq!(helped.verdicts.len(), runs.iter().map(|run| run.readings.len()).sum::<usize>());

    let own = with(&[pressure(1, 1.0, 0.944), runs[0].clone(), runs[1].clone()], &[]);
    let wide = by_neighbour.at_reference.standard_uncertainty.unwrap();
    let narrow = verdict(&own, "fill_time").at_reference.standard_uncertainty.unwrap();
    // (u/t)² = (u_t/t)² + (u_p/2p)², u_p = hypot(0.02, 0.1·0.944).
    let expected = 12.71 * (0.3 / 22.01_f64).hypot(0.02_f64.hypot(0.0944) / (2.0 * 0.944));
    assert!((wide - expected).abs() < 1e-3, "{wide} {expected}");
    assert!(narrow < wide);

    let mut odd = neighbour.clone();
    odd.readings.clear();
    assert_eq!(words(verdict(&with(&runs, &[odd]), "fill_time")).1, Conformity::Inconclusive);
}

#[test]
fn a_fill_faster_than_the_sound_valve_is_turbulent() {
    let runs = [pressure(1, 3.0, 2.831), strainers(2, "clear", "clear"), fill(3, 5.851, 0.3)];
    assert_eq!(words(verdict(&assess_runs(&runs), "fill_time")).1, Conformity::Pass);
}

#[test]
fn a_trickle_is_not_turbulent_and_is_not_brought_to_reference() {
    let runs = [pressure(1, 3.0, 2.99), strainers(2, "clear", "clear"), fill(3, 900.0, 0.5)];
    let trickle = assess_runs(&runs);
    let verdict = verdict(&trickle, "fill_time");
    assert_eq!(words(verdict), (Conformity::Fail, Conformity::Inconclusive));
    let reason = verdict.at_reference.reason.as_ref();
    assert!(
        matches!(reason, Some(Reason::NotCorrectable { detail }) if detail.contains("turbulent")),
        "{reason:?}"
    );
}
