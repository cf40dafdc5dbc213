//! Bars: a full diagnosis in at most 20 ms and a posterior from ten readings in at most 1 ms, on one
//! core, tables warm. The tables themselves are made once for each version of knowledge and model.

#![expect(clippy::unwrap_used, reason = "a failed unwrap stops the benchmark")]

use criterion::{Criterion, criterion_group, criterion_main};
use domain::diagnosis::{Case, Observation, ReadingConditions, Tables, diagnose, next_test, probabilities};
use domain::equipment::{ObservationKey, demo_combi, demo_combi_faults};
use domain::procedure::built_in_procedures;
use domain::text::Key;
use domain::vocabulary::Symptom;
use std::hint::black_box;

fn tables() -> Tables {
    Tables::compile(demo_combi_faults(), demo_combi(), built_in_procedures()).unwrap()
}

fn value(key: &str, value: f64) -> Observation {
    Observation::value(ObservationKey::new(key).unwrap(), value)
}

fn choice(key: &str, choice: &str) -> Observation {
    Observation::choice(ObservationKey::new(key).unwrap(), Key::new(choice).unwrap())
}

/// A call with nothing read yet, but three questions answered.
fn at_the_call() -> Case {
    Case {
        complaint: Some(Symptom::DoesNotClean),
        observations: vec![
            choice("intake/water_heard", "not_heard"),
            choice("intake/spray_reaches", "not_so_far"),
            choice("intake/chemical", "right_and_enough"),
        ],
        ..Case::default()
    }
}

/// Ten readings over fill, wash and looks.
fn ten_readings() -> Case {
    let full =
        ReadingConditions { level_before_l: Some(2.9), run_s: Some(60.0), ..ReadingConditions::default() };
    Case {
        complaint: Some(Symptom::DoesNotClean),
        observations: vec![
            value("inlet_pressure/static_pressure", 3.05),
            value("inlet_pressure/dynamic_pressure", 2.95),
            value("fill_time/fill_time", 31.0),
            value("start_up_catch/caught", 1.05),
            choice("strainer_look/inlet_strainer", "clear"),
            choice("door_switch/shut_recognised", "at_once"),
            value("wash_flow_hold/flow/first_flow", 29.0).under(full),
            value("wash_flow_hold/hold_time", 2.3).under(full),
            value("wash_flow_hold/flow/last_fifth_share", 56.0).under(full),
            value("wash_flow_hold/motor_current", 3.1).under(full),
        ],
        ..Case::default()
    }
}

fn diagnosis(criterion: &mut Criterion) {
    let tables = tables();
    let cases = [("at the call", at_the_call()), ("ten readings", ten_readings())];
    let mut group = criterion.benchmark_group("diagnosis");
    for (name, case) in &cases {
        group.bench_function(format!("posterior, {name}"), |bencher| {
            bencher.iter(|| probabilities(&tables, black_box(case)));
        });
        group.bench_function(format!("next test, {name}"), |bencher| {
            bencher.iter(|| next_test(&tables, black_box(case)));
        });
        group.bench_function(format!("full diagnosis, {name}"), |bencher| {
            bencher.iter(|| diagnose(&tables, black_box(case)));
        });
    }
    group.finish();
}

fn cold(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("cold");
    group.sample_size(10);
    group.bench_function("tables of the demo combi", |bencher| bencher.iter(tables));
    group.finish();
}

criterion_group!(benches, diagnosis, cold);
criterion_main!(benches);
