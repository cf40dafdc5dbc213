//! How long the known-good references of a large fleet take. Run `cargo bench -p domain --bench known_good`.

use criterion::{Criterion, criterion_group, criterion_main};
use domain::known_good::fleet::{Method, Plan, learn};
use domain::known_good::selection::{Evidence, Outcome};
use domain::known_good::tolerance::{Aim, Sides, factor, tolerance_interval};
use domain::known_good::{from_scale, to_scale};
use domain::probability::normal_quantile;
use domain::quantity::Scale;
use std::hint::black_box;

const UNITS: u32 = 10_000;

/// Fill times in seconds, in an order that is not sorted.
fn fill_times() -> Vec<f64> {
    (0..UNITS)
        .map(|i| (f64::from(i * 7919 % UNITS) + 0.5) / f64::from(UNITS))
        .map(|p| (12.7_f64.ln() + 0.08 * normal_quantile(p)).exp())
        .collect()
}

#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn evidence() -> Vec<Evidence> {
    let id = |i: usize| format!("01890a5d-ac96-774b-bcce-b3020000{i:04x}");
    fill_times()
        .into_iter()
        .enumerate()
        .map(|(i, value)| Evidence {
            appliance: id(i * 31 % 65_536).parse().unwrap(),
            test_run: id(i).parse().unwrap(),
            taken_at: "2026-01-01T00:00:00Z".parse().unwrap(),
            value: Some(value),
            other_tests: Outcome::Passed,
            full_cycle: Outcome::Passed,
            next_corrective_call_at: None,
            observed_until: None,
            removed_because: None,
        })
        .collect()
}

#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn known_good(criterion: &mut Criterion) {
    let times = fill_times();
    for (name, sides) in [("one-sided", Sides::Upper), ("two-sided", Sides::Both)] {
        let aim = Aim::usual(sides);
        criterion.bench_function(&format!("factor, {name}, n 10,000"), |bencher| {
            bencher.iter(|| factor(aim, black_box(UNITS)).unwrap());
        });
        criterion.bench_function(&format!("tolerance interval from 10,000 values, {name}"), |bencher| {
            bencher.iter(|| {
                let values = to_scale(black_box(&times), Scale::Logarithmic).unwrap();
                let interval = tolerance_interval(&values, aim).unwrap();
                interval.limits.upper.map(|limit| from_scale(limit, Scale::Logarithmic))
            });
        });
    }
    let plan = Plan {
        method: Method::Normal,
        scale: Scale::Logarithmic,
        aim: Aim::usual(Sides::Both),
        as_of: "2026-06-01T00:00:00Z".parse().unwrap(),
        version: 1,
    };
    let evidence = evidence();
    criterion.bench_function("learn a reference from the evidence of 10,000 units", |bencher| {
        bencher.iter(|| learn(black_box(&evidence), plan));
    });
}

criterion_group!(benches, known_good);
criterion_main!(benches);
