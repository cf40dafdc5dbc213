use serde_json::{Value, json};

use super::*;
use crate::equipment::built_in_models;
use crate::procedure::built_in_procedures;

fn procedure(key: &str) -> &'static Procedure {
    built_in_procedures().iter().find(|procedure| procedure.key.as_str() == key).unwrap()
}

fn run(procedure: &str, readings: &Value, conditions: &Value) -> TestRun {
    serde_json::from_value(json!({
        "id": "01890a5d-ac96-774b-bcce-b302099a8057", "appliance": "01890a5d-ac96-774b-bcce-b302099a8058",
        "procedure": {"key": procedure, "version": 1}, "phase": "before_repair", "epoch": 0, "device_id": "phone",
        "sequence": 1, "taken_at": "2026-03-02T10:00:00Z", "readings": readings, "conditions": conditions,
    }))
    .unwrap()
}

fn number(step: &str, value: f64, unit: &str) -> Value {
    json!({"step": step, "value": {"text": value.to_string(), "value": value, "unit": unit}})
}

fn choice(step: &str, choice: &str) -> Value {
    json!({"step": step, "choice": choice})
}

#[track_caller]
fn check(key: &str, readings: &Value, conditions: &Value, expected: &[(&str, &str)]) {
    let found = doubts(&run(key, readings, conditions), procedure(key));
    let pointers: Vec<_> = found.iter().map(|doubt| doubt.pointer.as_str()).collect();
    assert_eq!(pointers, expected.iter().map(|(pointer, _)| *pointer).collect::<Vec<_>>(), "{found:#?}");
    for (doubt, (_, says)) in found.iter().zip(expected) {
        assert!(doubt.detail.contains(says), "{} does not say '{says}'", doubt.detail);
    }
}

#[test]
fn a_value_that_hardly_occurs_is_doubted_with_what_was_perhaps_meant() {
    let pressures = json!([number("static_pressure", 300.0, "bar"), number("dynamic_pressure", 2.8, "bar")]);
    check("inlet_pressure", &pressures, &json!({}), &[("/readings/0/value/value", "Perhaps 300 kPa")]);
    let temperature = json!({"water_temperature": {"text": "131", "value": 131.0, "unit": "Cel"}});
    let fill = json!([number("fill_time", 12.7, "s")]);
    check("fill_time", &fill, &temperature, &[("/conditions/water_temperature/value", "131 [degF]")]);
    check(
        "fill_time",
        &json!([number("fill_time", 127.0, "h")]),
        &json!({}),
        &[("/readings/0/value/value", "127 s")],
    );
    check("fill_time", &fill, &json!({}), &[]);
}

#[test]
fn flowing_water_loses_pressure() {
    let pressures =
        |flowing| json!([number("static_pressure", 3.0, "bar"), number("dynamic_pressure", flowing, "bar")]);
    check("inlet_pressure", &pressures(4.1), &json!({}), &[("/readings/1/value/value", "exchanged")]);
    check("inlet_pressure", &pressures(3.05), &json!({}), &[]);
}

#[test]
fn a_hotter_stage_comes_later() {
    let steps = &procedure("staged_heating").steps;
    let stages: Vec<_> = steps.iter().filter(|step| step.key.as_str().starts_with("time_to")).collect();
    let timed = |seconds: [f64; 3]| {
        stages.iter().zip(seconds).map(|(step, s)| number(step.key.as_str(), s, "s")).collect::<Value>()
    };
    check("staged_heating", &timed([300.0, 500.0, 800.0]), &json!({}), &[]);
    check(
        "staged_heating",
        &timed([300.0, 500.0, 250.0]),
        &json!({}),
        &[("/readings/2/value/value", "750 s in all")],
    );
}

#[test]
fn choices_that_contradict_each_other_are_doubted() {
    let wash = json!([choice("strength", "none"), choice("pattern", "even")]);
    check("wash_flow_hold", &wash, &json!({}), &[("/readings/0/choice", "wets all round")]);
    let wash = json!([choice("strength", "none"), choice("sound", "runs"), choice("pattern", "dry")]);
    check("wash_flow_hold", &wash, &json!({}), &[]);
    let chemical = json!([choice("loaded", "none"), choice("delivered", "arrives")]);
    check("chemical_delivery", &chemical, &json!({}), &[("/readings/0/choice", "does not arrive")]);
}

/// The table names procedures by their keys: one that is renamed or loses a choice must take its rows along.
#[test]
fn every_contradiction_names_steps_and_choices_that_there_are() {
    for rule in CONTRADICTIONS {
        let procedure = procedure(rule.procedure);
        let step = |key: &str| procedure.steps.iter().find(|step| step.key.as_str() == key).unwrap();
        let has = |step: &Step, choice: &str| match &step.reads {
            Reads::Choose { choices, .. } => choices.iter().any(|known| known.key.as_str() == choice),
            _ => false,
        };
        assert!(has(step(rule.said.0), rule.said.1), "{}", rule.because);
        match rule.shows {
            Shows::Choice(choice) => assert!(has(step(rule.other), choice), "{}", rule.because),
            Shows::Something => {
                assert!(!matches!(step(rule.other).reads, Reads::Choose { .. }), "{}", rule.because);
            }
        }
    }
}

/// What a model's own typical values say is never doubted.
#[test]
fn no_model_has_a_limit_that_hardly_occurs() {
    for model in built_in_models() {
        for limit in &model.functional_limits {
            for bound in [limit.lower, limit.upper].into_iter().flatten() {
                let canonical = limit.quantity.to_canonical(bound, &limit.unit).unwrap();
                assert!(limit.quantity.is_usual(canonical), "{} {bound} {}", model.key, limit.unit);
            }
        }
    }
}
