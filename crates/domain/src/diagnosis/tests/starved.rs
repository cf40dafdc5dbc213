//! A fill that the controls give up: the level follows it, and the pump is short of water.

use super::{choice, complaint, from_level, value};
use crate::diagnosis::circuit::{Circuit, Context, LEVELS, State, place};
use crate::diagnosis::node::Node;
use crate::diagnosis::{Case, Observation, Tables, probabilities};
use crate::equipment::{Model, Parameter, Reads, demo_combi, demo_combi_faults};
use crate::vocabulary::Symptom;

fn share(model: &Model, bar: f64, parameter: Parameter, value: f64) -> f64 {
    let mut state = State { parameters: crate::diagnosis::tables::sound_parameters(), own: Vec::new() };
    state.parameters[parameter as usize] = value;
    // Controls that all wait alike.
    let mut faults = demo_combi_faults().clone();
    faults.spreads.fill_allowed = 0.0;
    let mut context = Context::sound(&faults);
    context.set(Node::SitePressure, bar);
    let circuit = Circuit::new(model).unwrap();
    let masses = circuit.own_node(Node::Filled, &state, &faults, &context);
    Node::Filled.grid().iter().zip(masses).map(|(share, mass)| share * mass).sum()
}

/// The worked table of the demo combi, from independent integrators: 2.9 L take 31.97 s through a valve of 0.35 of its
/// flow coefficient at 3 bar, 22.01 s at 1 bar. Controls that wait for 20 s, 0.3 s of which the valve takes to open, are
/// left with 19.7 s of that.
#[test]
fn controls_that_give_up_are_left_with_what_came() {
    let mut model = demo_combi().clone();
    let fill = model.fill.as_mut().unwrap();
    fill.allowed_s = Some(20.0);
    for (bar, parameter, value, expected) in [
        (3.0, Parameter::FillValveKv, 0.35, 19.7 / 31.97),
        (1.0, Parameter::FillValveKv, 1.0, 19.7 / 22.01),
        (3.0, Parameter::FillValveKv, 1.0, 1.0),
        (3.0, Parameter::FillValveOpens, 0.0, 0.0),
    ] {
        let found = share(&model, bar, parameter, value);
        assert!((found - expected).abs() < 4e-4, "{bar} bar, {parameter:?} {value}: {found}, not {expected}");
    }
    model.fill.as_mut().unwrap().allowed_s = None;
    assert!((share(&model, 3.0, Parameter::FillValveKv, 0.35) - 1.0).abs() < 1e-12, "it waits for ever");
}

fn probability(tables: &Tables, case: &Case, faults: &[&str]) -> f64 {
    let answer = probabilities(tables, case);
    answer.faults.iter().filter(|(key, _)| faults.contains(&key.as_str())).map(|(_, p)| p).sum()
}

/// 60 s for 2.9 L are 1.9 L in the 40 s that the controls wait.
#[test]
fn a_slow_fill_explains_a_low_level_and_clears_the_sensor() {
    let tables = &*super::COMBI;
    let level = value("sump_holds/filled", 1.8);
    let alone = complaint(Symptom::DoesNotClean, vec![level.clone()]);
    let sensor = ["level_sensor_fouled"];
    let slow = complaint(Symptom::DoesNotClean, vec![value("fill_time/fill_time", 60.0), level.clone()]);
    let quick = complaint(Symptom::DoesNotClean, vec![value("fill_time/fill_time", 12.7), level]);
    let (of_slow, of_alone, of_quick) = (
        probability(tables, &slow, &sensor),
        probability(tables, &alone, &sensor),
        probability(tables, &quick, &sensor),
    );
    assert!(of_slow < 0.1 && of_slow < of_alone && of_alone < of_quick, "{of_slow} {of_alone} {of_quick}");
}

#[test]
fn a_pump_short_of_water_is_not_accused() {
    let tables = &*super::COMBI;
    let starved = from_level(1.6);
    let run: Vec<Observation> = vec![
        choice("wash_flow_hold/strength", "strong").under(starved),
        value("wash_flow_hold/hold_time", 1.4).under(starved),
        value("fill_time/fill_time", 60.0),
    ];
    let fades = probability(tables, &complaint(Symptom::DoesNotClean, run), &["wash_pump_fades"]);
    assert!(fades < 0.5, "{fades}");
}

/// With a full sump the flow falls when the pump fades; with 1.6 L it starves after 1.348 s (the worked table of the demo
/// combi), whatever the pump would do later.
#[test]
fn the_flow_falls_when_the_pump_fades_or_before_for_want_of_water() {
    let circuit = Circuit::new(demo_combi()).unwrap();
    let mut state = State { parameters: crate::diagnosis::tables::sound_parameters(), own: Vec::new() };
    state.parameters[Parameter::FadedHead as usize] = 0.35;
    let context = Context::sound(demo_combi_faults());
    for (after, level, expected, within) in [
        (1.0, 1.0, 2.0, 0.01),
        (10.0, 1.0, 20.0, 0.01),
        (0.4, 1.0, 0.8, 0.01),
        (10.0, 1.6 / 2.9, 1.348, 0.15),
    ] {
        state.parameters[Parameter::FadesAfter as usize] = after;
        let by_level = circuit.predict(&Reads::FirstFall, None, &state, &context);
        let found: f64 = place(&LEVELS, level).iter().map(|(at, share)| share * by_level[*at]).sum();
        assert!((found - expected).abs() < within, "{after} {level}: {found}, not {expected}");
    }
}
