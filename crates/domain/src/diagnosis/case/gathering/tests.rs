use super::*;
use crate::diagnosis::FoundState;
use crate::procedure::built_in_procedures;
use serde_json::{Value, json};

fn id(number: u32) -> String {
    format!("01890a5d-ac96-774b-bcce-{number:012}")
}

#[expect(clippy::needless_pass_by_value, reason = "callers write it down as they pass it")]
fn run(number: u32, procedure: &str, readings: Value, patch: &Value) -> TestRun {
    let mut run = json!({
        "id": id(number), "appliance": id(900), "procedure": {"key": procedure, "version": 1},
        "phase": "before_repair", "epoch": 0, "device_id": "phone", "sequence": number,
        "taken_at": "2026-03-02T10:00:00Z", "readings": readings,
    });
    for (key, value) in patch.as_object().unwrap() {
        run[key] = value.clone();
    }
    serde_json::from_value(run).unwrap()
}

fn number(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"text": value.to_string(), "value": value, "unit": unit}})
}

fn key(text: &str) -> Key {
    Key::new(text).unwrap()
}

fn gathered(runs: &[TestRun]) -> Gathered {
    gather(&Intake::default(), runs, built_in_procedures(), &Standing::default())
}

fn seen<'a>(gathered: &'a Gathered, key: &str) -> Vec<&'a Observation> {
    gathered.case.observations.iter().filter(|observation| observation.key.as_str() == key).collect()
}

fn value_of(observation: &Observation) -> f64 {
    match &observation.seen {
        Observed::Value(number) | Observed::AtLeast(number) | Observed::AtMost(number) => number.value,
        Observed::Choice(choice) => panic!("{choice} is no number"),
    }
}

#[test]
fn nothing_gives_an_empty_case_and_no_complaint_about_it() {
    let nothing = gathered(&[]);
    assert_eq!(nothing.case, Case::default());
    assert!(nothing.unreadable.is_empty() && nothing.done().is_empty());
}

#[test]
fn complaint_answers_and_findings_come_in() {
    let intake = Intake {
        complaint: Some(Symptom::DoesNotClean),
        answers: vec![(key("water_heard"), key("not_heard"))],
    };
    let finding = PriorFinding { fault: key("fill_valve_weak"), state: FoundState::Mended };
    let standing = Standing { epoch: 2, findings: vec![finding.clone()], wet_work: true };
    let case = gather(&intake, &[], built_in_procedures(), &standing).case;
    assert_eq!(case.complaint, Some(Symptom::DoesNotClean));
    assert_eq!(case.observations[0].key.as_str(), "intake/water_heard");
    assert_eq!(case.observations[0].seen, Observed::Choice(key("not_heard")));
    assert_eq!((case.findings, case.wet_work, case.epoch), (vec![finding], true, 2));
}

#[test]
fn units_are_canonical_and_every_reading_knows_its_run() {
    let fill = run(1, "fill_time", json!([number("fill_time", 0.5, "min")]), &json!({}));
    let gathered = gathered(std::slice::from_ref(&fill));
    let readings = seen(&gathered, "fill_time/fill_time");
    assert!((value_of(readings[0]) - 30.0).abs() < 1e-12);
    assert_eq!(readings[0].test_run, Some(fill.id));
    assert!(gathered.done().contains(&key("fill_time")));
}

#[test]
fn bounds_stay_bounds() {
    let mut hold = number("hold_time", 60.0, "s");
    hold["value"]["censored"] = json!("at_least");
    let gathered = gathered(&[run(1, "wash_flow_hold", json!([hold]), &json!({}))]);
    assert!(matches!(seen(&gathered, "wash_flow_hold/hold_time")[0].seen, Observed::AtLeast(_)));
}

#[test]
fn steps_of_a_run_are_conditions_of_its_other_readings() {
    let wash = json!([
        number("level_before", 2.8, "L"),
        number("run_length", 1.0, "min"),
        number("hold_time", 2.5, "s"),
    ]);
    let catch = json!([
        number("bucket_volume", 8.0, "L"),
        number("call_duration", 12.0, "s"),
        number("caught", 2.6, "L")
    ]);
    let gathered =
        gathered(&[run(1, "wash_flow_hold", wash, &json!({})), run(2, "start_up_catch", catch, &json!({}))]);
    let wash = seen(&gathered, "wash_flow_hold/hold_time")[0].conditions;
    assert_eq!((wash.level_before_l, wash.run_s), (Some(2.8), Some(60.0)));
    let catch = seen(&gathered, "start_up_catch/caught")[0].conditions;
    assert_eq!((catch.bucket_l, catch.call_s), (Some(8.0), Some(12.0)));
    assert_eq!(catch.level_before_l, None, "conditions stay with their run");
}

#[test]
fn what_was_read_beside_a_run_is_a_reading_of_its_own_but_not_twice() {
    let beside = json!({"conditions": {"dynamic_pressure": {"text": "2.8", "value": 2.8, "unit": "bar"}}});
    let of_fill = run(1, "fill_time", json!([number("fill_time", 12.7, "s")]), &beside);
    let of_pressure = run(2, "inlet_pressure", json!([number("dynamic_pressure", 2.9, "bar")]), &beside);
    let pressure = |runs: &[TestRun]| -> Vec<f64> {
        let gathered = gathered(runs);
        seen(&gathered, "inlet_pressure/dynamic_pressure").into_iter().map(value_of).collect()
    };
    let bar = 2.8;
    assert_eq!(pressure(std::slice::from_ref(&of_fill)).len(), 1);
    assert_eq!(pressure(std::slice::from_ref(&of_pressure)).len(), 1);
    let ratio = pressure(&[of_fill])[0] / pressure(&[of_pressure])[0];
    assert!((ratio - bar / 2.9).abs() < 1e-12, "in one unit");
}

#[test]
fn a_series_gives_its_statistics_and_the_length_of_the_run() {
    let values: Vec<f64> = (0..=60).map(|second| if second < 3 { 30.0 } else { 15.0 }).collect();
    let times: Vec<f64> = (0..=60).map(f64::from).collect();
    let flow = json!([{"step": "flow", "series": {"values": values, "times_s": times, "unit": "L/min"}}]);
    let gathered = gathered(&[run(1, "wash_flow_hold", flow, &json!({}))]);
    let flow = seen(&gathered, "wash_flow_hold/flow/first_flow");
    assert!((value_of(flow[0]) - 30.0).abs() < 1e-9);
    assert_eq!(flow[0].conditions.run_s, Some(60.0));
    assert!((value_of(seen(&gathered, "wash_flow_hold/flow/last_fifth_share")[0]) - 50.0).abs() < 1e-9);
    assert_eq!(seen(&gathered, "wash_flow_hold/flow/first_fall").len(), 1);
}

#[test]
fn other_epochs_superseded_and_retracted_runs_do_not_count() {
    let fill = |of: u32, seconds: f64, patch: Value| {
        run(of, "fill_time", json!([number("fill_time", seconds, "s")]), &patch)
    };
    let runs = [
        fill(1, 31.0, json!({"epoch": 1})),
        fill(2, 30.0, json!({})),
        fill(3, 13.0, json!({"supersedes": id(2)})),
        fill(4, 99.0, json!({})),
        run(5, "fill_time", json!([]), &json!({"supersedes": id(4), "retraction_reason": "wrong machine"})),
    ];
    let times = |runs: &[TestRun]| -> Vec<f64> {
        let gathered = gathered(runs);
        seen(&gathered, "fill_time/fill_time").into_iter().map(value_of).collect()
    };
    assert_eq!(times(&runs), [13.0]);
    let mut backwards = runs.clone();
    backwards.reverse();
    assert_eq!(gathered(&backwards), gathered(&runs), "no order of arrival changes a case");
}

#[test]
fn what_cannot_be_read_is_named_with_its_reason() {
    let runs = [
        run(1, "hood_lift", json!([]), &json!({})),
        run(2, "fill_time", json!([{"step": "fill_time"}]), &json!({})),
        run(3, "drain_time", json!([number("drain_time", 9.0, "bar")]), &json!({})),
    ];
    let unreadable = gathered(&runs).unreadable;
    let named: Vec<(&str, &str)> =
        unreadable.iter().map(|(procedure, step, _)| (procedure.as_str(), step.as_str())).collect();
    assert_eq!(named, [("hood_lift", "hood_lift"), ("fill_time", "fill_time"), ("drain_time", "drain_time")]);
    assert!(unreadable[0].2.contains("not known"), "{}", unreadable[0].2);
    assert!(unreadable[1].2.contains("neither value, choice nor series"), "{}", unreadable[1].2);
    assert!(unreadable[2].2.contains("no canonical value"), "{}", unreadable[2].2);
}
