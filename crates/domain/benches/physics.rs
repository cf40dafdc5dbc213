//! Speed of the physics: one sump run of a minute, and one fill. Run `cargo bench -p domain --bench physics`.

#![expect(clippy::unwrap_used, reason = "a benchmark that cannot be set up must stop")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use domain::physics::fill::{FillLine, FillValve, Supply};
use domain::physics::liquid::Water;
use domain::physics::sump::{Sump, WashRun};
use domain::quantity::{
    AbsolutePressure, Duration, FlowCoefficient, Ratio, StaticPressure, Temperature, Volume, VolumeFlow,
};

fn sump_run(criterion: &mut Criterion) {
    let litres = |value| Volume::from_litres(value).unwrap();
    let seconds = |value| Duration::from_seconds(value).unwrap();
    let run = |start, leak| WashRun {
        sump: Sump { starving: litres(1.0), dry: litres(0.3), return_delay: seconds(2.5) },
        start: litres(start),
        inflow: VolumeFlow::from_litres_per_minute(0.0).unwrap(),
        pump_flow: VolumeFlow::from_litres_per_minute(30.0).unwrap(),
        fade: None,
        lost_on_return: Ratio::from_percent(leak).unwrap(),
        duration: seconds(60.0),
    };
    for (name, run) in [
        ("sump run of 60 s, full", run(2.9, 0.0)),
        ("sump run of 60 s, under-filled", run(1.6, 0.0)),
        ("sump run of 60 s, leaking", run(2.9, 5.0)),
    ] {
        criterion.bench_function(name, |bencher| {
            bencher.iter(|| {
                let course = black_box(&run).solve().unwrap();
                (
                    course.first_fall_below(0.9).unwrap(),
                    course.share_in_last_fifth().unwrap(),
                    course.lost_on_return().unwrap(),
                )
            });
        });
    }
}

fn fill(criterion: &mut Criterion) {
    let kv = |value| FlowCoefficient::from_cubic_metres_per_hour(value).unwrap();
    let line = FillLine {
        line: kv(2.0),
        inlet_strainer: Some(kv(1.5)),
        valve_strainer: Some(kv(1.5)),
        flow_restrictor: None,
        flow_regulator: None,
        fill_valve: FillValve { flow_coefficient: kv(0.55), pressure_recovery: 0.9, style_modifier: 0.46 },
    };
    let supply = Supply {
        static_pressure: StaticPressure::from_bar(3.0).unwrap(),
        atmosphere: AbsolutePressure::STANDARD_ATMOSPHERE,
        water: Water::at(Temperature::from_celsius(15.0).unwrap()).unwrap(),
    };
    criterion.bench_function("flow through the fill line", |bencher| {
        bencher.iter(|| black_box(&line).flow(black_box(&supply)).unwrap());
    });
}

criterion_group!(benches, sump_run, fill);
criterion_main!(benches);
