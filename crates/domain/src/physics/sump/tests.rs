use super::*;
use crate::physics::Observed;
use crate::physics::pump::{Pump, SpraySystem, operating_flow};
use crate::quantity::Length;
use proptest::prelude::*;

fn litres(value: f64) -> Volume {
    Volume::from_litres(value).unwrap()
}

fn seconds(value: f64) -> Duration {
    Duration::from_seconds(value).unwrap()
}

fn percent(value: f64) -> Ratio {
    Ratio::from_percent(value).unwrap()
}

/// Flow of the demo model's pump with this strength and clogging.
fn pump_flow(strength: f64, clogging: f64) -> VolumeFlow {
    let metres = |value| Length::from_metres(value).unwrap();
    let pump = Pump { shut_off_head: metres(8.0), internal_resistance: 8.0 };
    let system = SpraySystem { static_head: metres(0.5), resistance: 22.0 * clogging };
    operating_flow(&pump, &system, strength).unwrap()
}

/// A run of the demo model for a minute with the fill valve shut.
fn run(start: f64, pump_flow: VolumeFlow, leak: f64, fade: Option<Fade>) -> WashRun {
    WashRun {
        sump: Sump { starving: litres(1.0), dry: litres(0.3), return_delay: seconds(2.5) },
        start: litres(start),
        inflow: VolumeFlow::from_litres_per_minute(0.0).unwrap(),
        pump_flow,
        fade,
        lost_on_return: percent(leak),
        duration: seconds(60.0),
    }
}

/// The table of worked values of the demo model, calculated by an independent integrator outside this
/// code, to one unit of the last digit printed there.
#[test]
fn the_worked_wash_runs_come_out() {
    let good = pump_flow(1.0, 1.0);
    let clogged = pump_flow(1.0, 4.0);
    let fade = Fade { after: seconds(2.0), pump_flow: pump_flow(0.35, 1.0) };
    // first flow L/min, first fall below 90 % s, share in the last fifth, litres lost
    let cases = [
        ("healthy, sump full", run(2.9, good, 0.0, None), (30.00, None, 1.0, 0.0)),
        ("sump only 1.6 L", run(1.6, good, 0.0, None), (30.00, Some(1.348), 0.6667, 0.0)),
        ("sump only 2.0 L", run(2.0, good, 0.0, None), (30.00, Some(2.148), 0.8718, 0.0)),
        ("leak 5 %", run(2.9, good, 5.0, None), (30.00, Some(35.745), 0.7092, 1.309)),
        ("pump clogged", run(2.9, clogged, 0.0, None), (16.77, None, 1.0, 0.0)),
        ("head × 0.6", run(2.9, pump_flow(0.6, 1.0), 0.0, None), (22.72, None, 1.0, 0.0)),
        ("fades after 2 s", run(2.9, good, 0.0, Some(fade)), (30.00, Some(2.000), 0.5538, 0.0)),
        ("clogged and only 1.6 L", run(1.6, clogged, 0.0, None), (16.77, Some(2.410), 0.9294, 0.0)),
    ];
    for (name, run, (first, fall, share, lost)) in cases {
        let course = run.solve().unwrap();
        assert!((course.first_flow().unwrap().litres_per_minute() - first).abs() < 0.01, "{name}");
        match (course.first_fall_below(0.9).unwrap(), fall) {
            (Observed::AtLeast(limit), None) => assert_eq!(limit, seconds(60.0), "{name}"),
            (Observed::Exactly(time), Some(expected)) => {
                assert!((time.seconds() - expected).abs() < 0.001, "{name}: {time:?}");
            }
            (found, expected) => panic!("{name}: {found:?} against {expected:?}"),
        }
        let found = course.share_in_last_fifth().unwrap().fraction();
        assert!((found - share).abs() < 1e-4, "{name}: {found}");
        assert!((course.lost_on_return().unwrap().litres() - lost).abs() < 0.001, "{name}");
    }
}

#[test]
fn the_steady_share_has_a_closed_form() {
    for (start, clogging) in [(1.6, 1.0), (2.0, 1.0), (1.6, 4.0), (0.9, 1.0)] {
        let flow = pump_flow(1.0, clogging);
        let run = WashRun { duration: seconds(600.0), ..run(start, flow, 0.0, None) };
        let closed = run.sump.steady_share(run.start, flow).unwrap().fraction();
        let settled = run.solve().unwrap().flow_at(run.duration).unwrap();
        let found = settled.litres_per_minute() / flow.litres_per_minute();
        assert!((found - closed).abs() < 1e-6, "{start} L: {found} against {closed}");
    }
}

/// Until the first water returns the balance is `V' = −Q*`, then `V' = −β·(V − V_dry)`, in closed form.
#[test]
fn before_the_first_return_the_course_has_a_closed_form() {
    let run = run(1.6, pump_flow(1.0, 1.0), 0.0, None);
    let course = run.solve().unwrap();
    let (rate, band) = (0.5_f64, 0.7_f64);
    let starved_at = 0.6 / rate;
    for time in [0.3, 1.0, starved_at, 1.5, 2.0, 2.4999] {
        let expected = if time <= starved_at {
            1.6 - rate * time
        } else {
            0.3 + band * (-(time - starved_at) * rate / band).exp()
        };
        let found = course.volume_at(seconds(time)).unwrap().litres();
        assert!((found - expected).abs() < 1e-7, "{time} s: {found} against {expected}");
    }
    let fall = course.first_fall_below(0.9).unwrap().value().seconds();
    assert!((fall - (starved_at + band / rate * (1.0_f64 / 0.9).ln())).abs() < 1e-6);
}

/// Asking for a hundred times less local error lessens the true error in step, and by the default it is
/// far below what any instrument reads.
#[test]
fn the_error_follows_the_tolerance() {
    let cases = [
        run(1.6, pump_flow(1.0, 1.0), 0.0, None),
        run(2.9, pump_flow(1.0, 1.0), 5.0, None),
        run(
            2.0,
            pump_flow(1.0, 1.0),
            2.0,
            Some(Fade { after: seconds(20.0), pump_flow: pump_flow(0.5, 1.0) }),
        ),
    ];
    for run in cases {
        let at = |tolerance| {
            let course = run.solve_to(tolerance).unwrap();
            [1.0, 7.3, 21.0, 44.4, 60.0].map(|time| course.volume_at(seconds(time)).unwrap().litres())
        };
        let exact = at(1e-13);
        let error = |tolerance| {
            at(tolerance).iter().zip(exact).map(|(found, exact)| (found - exact).abs()).fold(0.0, f64::max)
        };
        assert!(error(1e-5) < 1e-3);
        assert!(error(1e-7) < 1e-5);
        assert!(error(TOLERANCE) < 1e-6);
    }
}

/// A second method, of order one and with a hundred thousand fixed steps, agrees as far as its own
/// error allows.
#[test]
fn a_plain_method_with_tiny_steps_agrees() {
    let run = run(2.9, pump_flow(1.0, 1.0), 5.0, None);
    let step = 60.0 / 100_000.0;
    let behind = (2.5 / step) as usize;
    let (mut volume, mut flows) = (2.9, Vec::new());
    for index in 0..100_000 {
        let now = f64::from(index) * step;
        let flow = run.pump_flow_at(now, volume);
        flows.push(flow);
        let returned = if flows.len() > behind { flows[flows.len() - 1 - behind] } else { 0.0 };
        volume += step * (0.95 * returned - flow);
    }
    let found = run.solve().unwrap().volume_at(seconds(60.0)).unwrap().litres();
    assert!((found - volume).abs() < 1e-3, "{found} against {volume}");
}

#[test]
fn a_run_that_cannot_be_is_refused_and_a_dry_one_flows_nothing() {
    let good = run(2.9, pump_flow(1.0, 1.0), 0.0, None);
    let sump = |starving, dry, delay| Sump {
        starving: litres(starving),
        dry: litres(dry),
        return_delay: seconds(delay),
    };
    for bad in [
        WashRun { sump: sump(0.3, 0.3, 2.5), ..good },
        WashRun { sump: sump(1.0, 0.3, 1e-6), ..good },
        WashRun { duration: seconds(0.0), ..good },
        WashRun { duration: seconds(1e9), ..good },
        WashRun { lost_on_return: percent(101.0), ..good },
        WashRun { pump_flow: VolumeFlow::from_litres_per_minute(1e9).unwrap(), ..good },
    ] {
        assert!(bad.solve().is_err(), "{bad:?}");
    }
    let dry = WashRun { start: litres(0.2), ..good }.solve().unwrap();
    assert_eq!(dry.first_fall_below(0.9), Err(PhysicsError::NoFlow));
    assert_eq!(dry.share_in_last_fifth(), Err(PhysicsError::NoFlow));
    let at_once = WashRun { sump: sump(1.0, 0.3, 0.0), ..good }.solve().unwrap();
    assert_eq!(at_once.first_fall_below(0.9), Ok(Observed::AtLeast(seconds(60.0))));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// What left the sump is under way, lost, or came back.
    #[test]
    fn no_water_appears_or_vanishes(
        start in 0.0..4.0_f64, leak in 0.0..60.0_f64, inflow in 0.0..6.0_f64,
        delay in 0.05..8.0_f64, fades_after in 0.5..50.0_f64, strength in 0.1..1.0_f64,
    ) {
        let fade = Fade { after: seconds(fades_after), pump_flow: pump_flow(strength, 1.0) };
        let mut run = run(start, pump_flow(1.0, 1.0), leak, Some(fade));
        run.sump.return_delay = seconds(delay);
        run.inflow = VolumeFlow::from_litres_per_minute(inflow).unwrap();
        let course = run.solve().unwrap();
        let sampled = 6000;
        let step = 60.0 / f64::from(sampled);
        let flow = |t| course.flow_at(seconds(t)).unwrap().litres_per_second();
        let under_way: f64 = (0..sampled)
            .map(|index| (f64::from(index) + 0.5) * step)
            .filter(|time| *time > 60.0 - delay)
            .map(|time| flow(time) * step)
            .sum();
        let volume = course.volume_at(run.duration).unwrap().litres();
        let lost = course.lost_on_return().unwrap().litres();
        let balance = start + inflow - (volume + under_way + lost);
        prop_assert!(balance.abs() < 0.02, "{balance} L");
    }

    #[test]
    fn more_water_in_the_sump_never_holds_for_less_time(start in 0.4..3.0_f64, more in 0.0..2.0_f64) {
        let share = |start| run(start, pump_flow(1.0, 1.0), 0.0, None).solve().unwrap()
            .flow_at(seconds(60.0)).unwrap().litres_per_minute();
        prop_assert!(share(start) <= share(start + more) + 1e-6);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever the numbers, the answer is a finite value or an error, in bounded time.
    #[test]
    fn strange_runs_end_in_a_value_or_an_error(
        start in 0.0..50.0_f64, dry in 0.0..3.0_f64, band in 0.0..3.0_f64, delay in 0.0..70.0_f64,
        flow in 0.0..400.0_f64, faded in 0.0..400.0_f64, after in 0.0..100.0_f64,
        inflow in 0.0..60.0_f64, leak in 0.0..110.0_f64, length in 0.0..120.0_f64,
    ) {
        let litres_per_minute = |value| VolumeFlow::from_litres_per_minute(value).unwrap();
        let run = WashRun {
            sump: Sump { starving: litres(dry + band), dry: litres(dry), return_delay: seconds(delay) },
            start: litres(start),
            inflow: litres_per_minute(inflow),
            pump_flow: litres_per_minute(flow),
            fade: Some(Fade { after: seconds(after), pump_flow: litres_per_minute(faded) }),
            lost_on_return: percent(leak),
            duration: seconds(length),
        };
        if let Ok(course) = run.solve() {
            prop_assert!(course.lost_on_return().is_ok());
            prop_assert!(course.flow_at(seconds(length)).is_ok());
            let held = course.first_fall_below(0.9);
            let steady = course.share_in_last_fifth();
            prop_assert_eq!(held.is_ok(), steady.is_ok());
        }
    }
}
