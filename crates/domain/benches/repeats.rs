//! How long the questions about repeats take. Run `cargo bench -p domain --bench repeats`.

use criterion::{Criterion, criterion_group, criterion_main};
use domain::repeats::counting::{Confirmation, Found, Occasion, recurring_faults};
use domain::repeats::prior::{Observation, fit_prior};
use domain::text::Key;
use domain::vocabulary::Position;
use std::hint::black_box;

/// One confirmed fault in 36 hours over two years, on twelve appliances and eight positions.
#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn busy_kitchen() -> Vec<Confirmation> {
    (0..487_usize)
        .map(|i| {
            let day = |shift: usize| {
                let day = i * 3 / 2 + shift;
                format!("{}-{:02}-{:02}T08:00:00Z", 2024 + day / 360, day % 360 / 30 + 1, day % 30 % 28 + 1)
            };
            Confirmation {
                work_order: format!("01890a5d-ac96-774b-bcce-b3020000{i:04x}").parse().unwrap(),
                appliance: format!("01890a5d-ac96-774b-bcce-b3020001{:04x}", i % 12).parse().unwrap(),
                occasion: Occasion::Corrective,
                found: Found::Fault {
                    position: Position::ALL[i * 7 % 8],
                    failure_mode: Key::new(["slow", "blocked", "worn"][i % 3]).unwrap(),
                },
                reported_at: day(0).parse().unwrap(),
                confirmed_at: day(0).parse().unwrap(),
                restored_at: (i % 5 > 0).then(|| day(0).parse().unwrap()),
            }
        })
        .collect()
}

/// Counts spread about what is expected, and a tenth of the cells far above.
fn cells() -> Vec<Observation> {
    (0..4000_u32)
        .map(|i| {
            let expected = [1.0, 2.0, 4.0, 8.0, 12.0, 20.0][i as usize % 6];
            let factor = if i % 10 == 0 { 3.0 } else { 0.6 + 0.1 * f64::from(i % 9) };
            Observation { n: (expected * factor).round() as u32, expected }
        })
        .collect()
}

#[expect(clippy::unwrap_used, reason = "a benchmark stops at a bad fixture")]
fn repeats(criterion: &mut Criterion) {
    let confirmations = busy_kitchen();
    let as_of = "2025-12-28T00:00:00Z".parse().unwrap();
    criterion.bench_function("recurring faults of a kitchen with 487 confirmed faults", |bencher| {
        bencher.iter(|| recurring_faults(black_box(&confirmations), as_of));
    });
    let cells = cells();
    criterion.bench_function("distribution of rates over 4,000 cells", |bencher| {
        bencher.iter(|| fit_prior(black_box(&cells)).unwrap());
    });
}

criterion_group!(benches, repeats);
criterion_main!(benches);
