//! How long a verdict takes, its sentence included. Run `cargo bench -p domain --bench grading`.

use criterion::{Criterion, criterion_group, criterion_main};
use domain::equipment::demo_combi;
use domain::evidence::TestRun;
use domain::grading::{Grader, GradingInput, grade};
use domain::procedure::built_in_procedures;
use std::hint::black_box;

/// A fill on a low supply, with the pressure and the strainers that it needs.
#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn runs() -> Vec<TestRun> {
    let run = |number: u32, procedure: &str, readings: &str| {
        format!(
            r#"{{"id": "01890a5d-ac96-774b-bcce-{number:012x}", "appliance": "01890a5d-ac96-774b-bcce-b302099a8058",
            "procedure": {{"key": "{procedure}", "version": 1}}, "phase": "before_repair", "epoch": 0,
            "device_id": "phone", "sequence": {number}, "taken_at": "2026-03-02T10:{number:02}:00Z",
            "conditions": {{"confirmed": ["sump_empty"]}}, "readings": [{readings}]}}"#
        )
    };
    let value = |step: &str, value: f64, unit: &str| {
        format!(r#"{{"step": "{step}", "value": {{"text": "{value}", "value": {value}, "unit": "{unit}"}}}}"#)
    };
    let look = |step: &str| format!(r#"{{"step": "{step}", "choice": "clear"}}"#);
    let pressures = [value("static_pressure", 1.0, "bar"), value("dynamic_pressure", 0.944, "bar")].join(",");
    let strainers = [look("inlet_strainer"), look("valve_strainer")].join(",");
    let json = [
        run(1, "inlet_pressure", &pressures),
        run(2, "strainer_look", &strainers),
        run(3, "fill_time", &value("fill_time", 22.01, "s")),
    ];
    json.iter().map(|run| serde_json::from_str(run).unwrap()).collect()
}

#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn grading(criterion: &mut Criterion) {
    let runs = runs();
    let input = GradingInput {
        model: demo_combi(),
        procedures: built_in_procedures(),
        runs: &runs,
        site_runs: &[],
        epoch: 0,
        appliance_limits: &[],
        references: &(),
    };
    let grader = Grader::new(&input).unwrap();
    let fill = &runs[2];
    criterion.bench_function("grade one reading", |bencher| {
        bencher.iter(|| grader.grade_reading(black_box(fill), black_box(&fill.readings[0])).unwrap());
    });
    criterion.bench_function("grade a visit of five readings from scratch", |bencher| {
        bencher.iter(|| grade(black_box(&input)).unwrap());
    });
}

criterion_group!(benches, grading);
criterion_main!(benches);
