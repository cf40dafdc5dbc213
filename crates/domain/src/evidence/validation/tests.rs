use super::*;
use crate::equipment::{demo_combi, demo_warewasher};
use crate::procedure::built_in_procedures;
use serde_json::{Value, json};

fn procedure(key: &str) -> &'static Procedure {
    built_in_procedures().iter().find(|procedure| procedure.key.as_str() == key).unwrap()
}

fn run(procedure: &str, patch: &Value) -> TestRun {
    let mut run = json!({
        "id": "01890a5d-ac96-774b-bcce-b302099a8057",
        "appliance": "01890a5d-ac96-774b-bcce-b302099a8058",
        "procedure": {"key": procedure, "version": 1},
        "phase": "before_repair", "epoch": 0, "device_id": "phone", "sequence": 1,
        "taken_at": "2026-03-02T10:00:00Z",
    });
    for (key, value) in patch.as_object().unwrap() {
        run[key] = value.clone();
    }
    serde_json::from_value(run).unwrap()
}

fn number(value: f64, unit: &str) -> Value {
    json!({"text": value.to_string(), "value": value, "unit": unit})
}

#[track_caller]
fn check(procedure_key: &str, patch: &Value, expected: &[(&str, &str)]) {
    let violations =
        run(procedure_key, patch).validate(procedure(procedure_key), demo_combi()).err().unwrap_or_default();
    let found: Vec<_> = violations.iter().map(|violation| violation.pointer.as_str()).collect();
    let pointers: Vec<_> = expected.iter().map(|(pointer, _)| *pointer).collect();
    assert_eq!(found, pointers, "{violations:#?}");
    for (violation, (_, says)) in violations.iter().zip(expected) {
        assert!(violation.detail.contains(says), "{} does not say '{says}'", violation.detail);
    }
}

#[test]
fn a_whole_run_is_accepted() {
    let readings = json!([{"step": "fill_time", "value": number(12.7, "s")}]);
    check("fill_time", &json!({"readings": readings, "conditions": {"confirmed": ["sump_empty"]}}), &[]);
    check("fill_time", &json!({"not_tested": {"fill_time": "no water on site"}}), &[]);
}

#[test]
fn a_unit_that_does_not_fit_names_those_that_do() {
    let readings = json!([{"step": "fill_time", "value": number(12.7, "bar")}]);
    check("fill_time", &json!({"readings": readings}), &[("/readings/0/value/unit", "s, ms, min")]);
}

#[test]
fn impossible_numbers_are_refused() {
    let readings = json!([{"step": "fill_time", "value": number(-3.0, "s")}]);
    check("fill_time", &json!({"readings": readings}), &[("/readings/0/value/value", "at least 0")]);
    let mut not_a_number =
        run("fill_time", &json!({"readings": [{"step": "fill_time", "value": number(1.0, "s")}]}));
    not_a_number.readings[0].value.as_mut().unwrap().as_read.value = f64::NAN;
    let violations = not_a_number.validate(procedure("fill_time"), demo_combi()).unwrap_err();
    assert!(violations[0].detail.contains("finite"));
}

#[test]
fn an_uncertainty_of_zero_is_refused() {
    let mut value = number(12.7, "s");
    value["standard_uncertainty"] = json!(0.0);
    value["repeats"] = json!({"count": 1, "standard_deviation": -1.0});
    let readings = json!([{"step": "fill_time", "value": value}]);
    let expected = [
        ("/readings/0/value/standard_uncertainty", "greater than 0"),
        ("/readings/0/value/repeats/count", "at least 2"),
        ("/readings/0/value/repeats/standard_deviation", "at least 0"),
    ];
    check("fill_time", &json!({"readings": readings}), &expected);
}

#[test]
fn a_catch_needs_its_bucket_and_does_not_exceed_it() {
    let alone = json!({"readings": [{"step": "caught", "value": number(2.6, "L")}]});
    check("start_up_catch", &alone, &[("/readings/0", "bucket_volume"), ("/readings", "bucket_volume")]);
    let both = |caught: f64| {
        json!({"readings": [
            {"step": "bucket_volume", "value": number(8.0, "L")},
            {"step": "caught", "value": number(caught, "L")},
        ]})
    };
    check("start_up_catch", &both(2.6), &[]);
    check("start_up_catch", &both(9.0), &[("/readings/1/value", "censored at_least")]);
    check("start_up_catch", &both(8.0), &[("/readings/1/value/censored", "at_least")]);
}

#[test]
fn a_series_has_a_time_for_each_value_and_runs_forward() {
    let series =
        json!({"unit": "L/min", "values": vec![30.0; 12], "times_s": [0, 1, 2, 3, 3, 5, 6, 7, 8, 9, 10]});
    let readings = json!([
        {"step": "level_before", "value": number(2.9, "L")},
        {"step": "strength", "choice": "strong"},
        {"step": "hold_time", "value": number(60.0, "s")},
        {"step": "flow", "series": series},
    ]);
    let expected =
        [("/readings/3/series/times_s", "11 against 12"), ("/readings/3/series/times_s/4", "rise")];
    check("wash_flow_hold", &json!({"readings": readings}), &expected);
}

#[test]
fn steps_are_known_read_once_in_one_way_and_none_is_missing() {
    let readings = json!([
        {"step": "strength", "choice": "roaring"},
        {"step": "strength", "value": number(1.0, "s"), "choice": "strong"},
        {"step": "colour", "choice": "blue"},
        {"step": "hold_time", "choice": "strong"},
    ]);
    let expected = [
        ("/readings/0/choice", "strong, weak, none"),
        ("/readings/1/step", "read already"),
        ("/readings/1", "exactly one"),
        ("/readings/2/step", "no step colour"),
        ("/readings/3", "takes a value"),
        ("/not_tested/taste", "no step taste"),
        ("/readings", "level_before"),
    ];
    check("wash_flow_hold", &json!({"readings": readings, "not_tested": {"taste": "no"}}), &expected);
}

#[test]
fn another_version_of_the_procedure_is_refused() {
    let patch = json!({"procedure": {"key": "fill_time", "version": 2}});
    check("fill_time", &patch, &[("/procedure/version", "use version 1")]);
}

#[test]
fn a_retraction_supersedes_and_carries_no_readings() {
    let readings = json!([{"step": "fill_time", "value": number(12.7, "s")}]);
    let patch = json!({"retraction_reason": "wrong machine", "readings": readings});
    check("fill_time", &patch, &[("/supersedes", "required"), ("/readings", "empty")]);
    let patch =
        json!({"retraction_reason": "wrong machine", "supersedes": "01890a5d-ac96-774b-bcce-b302099a8059"});
    check("fill_time", &patch, &[]);
}

#[test]
fn a_step_that_defeats_an_interlock_needs_a_recorded_defeat() {
    let readings = json!([
        {"step": "shut_recognised", "choice": "at_once"},
        {"step": "opening_recognised", "choice": "at_once"},
        {"step": "pump_refuses", "choice": "refuses"},
        {"step": "with_test_magnet", "choice": "answers"},
    ]);
    check("door_switch", &json!({"readings": readings}), &[("/interlock_defeat", "second person")]);
    let patch = json!({"readings": readings, "interlock_defeat": "01890a5d-ac96-774b-bcce-b302099a8060"});
    check("door_switch", &patch, &[]);
}

#[test]
fn a_step_about_positions_that_the_model_lacks_is_neither_missing_nor_taken() {
    let valve = json!({"step": "valve_strainer", "choice": "clear"});
    let look = procedure("strainer_look");
    assert_eq!(run("strainer_look", &json!({"readings": [valve]})).validate(look, demo_warewasher()), Ok(()));
    let both = json!({"readings": [valve, {"step": "inlet_strainer", "choice": "clear"}]});
    let violations = run("strainer_look", &both).validate(look, demo_warewasher()).unwrap_err();
    assert_eq!(violations[0].pointer, "/readings/1/step");
}

#[test]
fn an_instrument_calibrated_after_the_run_is_refused() {
    let mut value = number(1.1, "bar");
    let class = json!({"kind": "class", "percent": 0.0, "full_scale": 6.0});
    value["instrument"] = json!({"kind": "dial_gauge", "accuracy": class, "calibrated_on": "2026-04-01"});
    let patch = json!({"conditions": {"dynamic_pressure": value, "confirmed": ["moon_full"]},
        "not_tested": {"fill_time": "later"}});
    let expected = [
        ("/conditions/dynamic_pressure/instrument/accuracy", "not all 0"),
        ("/conditions/dynamic_pressure/instrument/calibrated_on", "later than the run"),
        ("/conditions/confirmed/0", "sump_empty"),
    ];
    check("fill_time", &patch, &expected);
}
