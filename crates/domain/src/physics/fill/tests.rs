use super::*;
use proptest::prelude::*;

fn kv(value: f64) -> FlowCoefficient {
    FlowCoefficient::from_cubic_metres_per_hour(value).unwrap()
}

/// The fill line of the demo model.
fn demo(strainer_inlet: f64, strainer_valve: f64, valve: f64) -> FillLine {
    FillLine {
        line: kv(2.0),
        inlet_strainer: Some(kv(1.5 * strainer_inlet)),
        valve_strainer: Some(kv(1.5 * strainer_valve)),
        flow_restrictor: None,
        flow_regulator: None,
        fill_valve: FillValve {
            flow_coefficient: kv(0.55 * valve),
            pressure_recovery: 0.9,
            style_modifier: 0.46,
        },
    }
}

fn supply(bar: f64) -> Supply {
    Supply {
        static_pressure: StaticPressure::from_bar(bar).unwrap(),
        atmosphere: AbsolutePressure::STANDARD_ATMOSPHERE,
        water: Water {
            relative_density: 1.0,
            vapour_pressure: AbsolutePressure::from_bar(0.017).unwrap(),
            kinematic_viscosity: 1.14e-6,
        },
    }
}

fn litres(value: f64) -> Volume {
    Volume::from_litres(value).unwrap()
}

fn seconds(value: f64) -> Duration {
    Duration::from_seconds(value).unwrap()
}

/// The table of worked values of the demo model, calculated independently of this code, to one unit of
/// the last digit printed there.
#[test]
fn the_worked_cases_come_out_to_the_last_digit_printed() {
    // static pressure, factors of inlet strainer, valve strainer and valve; Kv, L/min, bar, s, L
    let cases = [
        ("healthy", 3.0, [1.0, 1.0, 1.0], [0.4743, 13.693, 2.831, 12.71, 2.670]),
        ("supply 1.5 bar", 1.5, [1.0, 1.0, 1.0], [0.4743, 9.682, 1.416, 17.97, 1.888]),
        ("supply 1.0 bar", 1.0, [1.0, 1.0, 1.0], [0.4743, 7.906, 0.944, 22.01, 1.542]),
        ("fill valve × 0.35", 3.0, [1.0, 1.0, 0.35], [0.1886, 5.443, 2.973, 31.97, 1.061]),
        ("fill valve × 0.20", 3.0, [1.0, 1.0, 0.20], [0.1092, 3.154, 2.991, 55.17, 0.615]),
        ("inlet strainer × 0.15", 3.0, [0.15, 1.0, 1.0], [0.2052, 5.923, 2.968, 29.38, 1.155]),
        ("valve strainer × 0.35, valve × 0.60", 3.0, [1.0, 0.35, 0.6], [0.2721, 7.855, 2.944, 22.15, 1.532]),
    ];
    for (name, bar, [inlet, strainer, valve], expected) in cases {
        let line = demo(inlet, strainer, valve);
        let found = line.flow(&supply(bar)).unwrap();
        let time = fill_time(found.flow, litres(0.0), litres(2.9), Clock::FromFirstWater, None).unwrap();
        let caught = caught_in_call(found.flow, seconds(12.0), seconds(0.3), litres(8.0)).unwrap();
        let values = [
            (line.flow_coefficient().unwrap().cubic_metres_per_hour(), 0.000_1),
            (found.flow.litres_per_minute(), 0.001),
            (found.dynamic_pressure.bar(), 0.001),
            (time.value().seconds(), 0.01),
            (caught.value().litres(), 0.001),
        ];
        for ((value, last_digit), expected) in values.into_iter().zip(expected) {
            assert!((value - expected).abs() < last_digit, "{name}: {value} against {expected}");
        }
    }
}

/// The closed form of the healthy case, written out by hand.
#[test]
fn the_closed_form_agrees_to_a_millionth() {
    let total = (1.0 / 4.0 + 1.0 / 2.25 + 1.0 / 2.25 + 1.0 / 0.3025_f64).sqrt().recip();
    let found = demo(1.0, 1.0, 1.0).flow(&supply(3.0)).unwrap();
    let flow = total * 3.0_f64.sqrt();
    assert!((found.flow.cubic_metres_per_hour() / flow - 1.0).abs() < 1e-6);
    assert!((found.dynamic_pressure.bar() - (3.0 - flow * flow / 4.0)).abs() < 1e-6);
    assert!((found.pressure_after_strainer.bar() - (3.0 - flow * flow * (0.25 + 1.0 / 2.25))).abs() < 1e-6);
    assert_eq!(found.regime, FlowRegime::Turbulent);
}

/// **Common practice, no source**: a healthy sump fills in 10 s to 15 s, and must in under 20 s.
#[test]
fn a_healthy_sump_fills_in_ten_to_fifteen_seconds() {
    let found = demo(1.0, 1.0, 1.0).flow(&supply(3.0)).unwrap();
    let time = fill_time(found.flow, litres(0.0), litres(2.9), Clock::FromFirstWater, None).unwrap();
    assert!((10.0..15.0).contains(&time.value().seconds()));
}

#[test]
fn a_choked_valve_is_flagged_and_passes_no_more_than_it_can() {
    let found = demo(1.0, 1.0, 1.0).flow(&supply(8.0)).unwrap();
    assert_eq!(found.regime, FlowRegime::Choked);
    let unchoked = 0.474_34 * 8.0_f64.sqrt();
    assert!(found.flow.cubic_metres_per_hour() < unchoked);
    // The drop over the valve is its choked drop, from the pressure that is left before it.
    let flow = found.flow.cubic_metres_per_hour();
    let before_valve = 8.0 - flow * flow * (1.0 / 4.0 + 2.0 / 2.25);
    let upstream = AbsolutePressure::from_bar(before_valve + 1.013_25).unwrap();
    let drop = super::super::choking::choked_drop(
        0.9,
        upstream,
        supply(8.0).water.vapour_pressure,
        AbsolutePressure::CRITICAL_OF_WATER,
    )
    .unwrap();
    assert!((flow - 0.55 * drop.bar().sqrt()).abs() < 1e-9);
}

#[test]
fn a_regulator_holds_the_flow_above_its_minimum_and_restricts_below() {
    let regulator = FlowRegulator {
        flow: VolumeFlow::from_litres_per_minute(8.0).unwrap(),
        minimum_drop: PressureDifference::from_bar(0.5).unwrap(),
    };
    let line = FillLine { flow_regulator: Some(regulator), ..demo(1.0, 1.0, 1.0) };
    for bar in [2.0, 3.0, 5.0] {
        let found = line.flow(&supply(bar)).unwrap();
        assert_eq!(found.regime, FlowRegime::Regulated);
        assert!((found.flow.litres_per_minute() - 8.0).abs() < 1e-9);
    }
    let found = line.flow(&supply(0.8)).unwrap();
    assert_eq!(found.regime, FlowRegime::Turbulent);
    assert!(found.flow.litres_per_minute() < 8.0);
}

#[test]
fn a_trickle_through_an_almost_blocked_valve_is_flagged_as_not_turbulent() {
    let found = demo(1.0, 1.0, 0.02).flow(&supply(3.0)).unwrap();
    assert!(matches!(found.regime, FlowRegime::NotTurbulent { reynolds_number } if reynolds_number < 1e4));
}

#[test]
fn a_blocked_element_stops_the_flow_and_shows_on_the_gauges_behind_it() {
    let blocked_strainer = demo(0.0, 1.0, 1.0).flow(&supply(3.0)).unwrap();
    assert_eq!(blocked_strainer.regime, FlowRegime::NoFlow);
    assert!((blocked_strainer.dynamic_pressure.bar() - 3.0).abs() < 1e-12);
    assert!(blocked_strainer.pressure_after_strainer.bar().abs() < 1e-12);
    assert_eq!(demo(1.0, 1.0, 1.0).flow(&supply(-0.5)).unwrap().regime, FlowRegime::NoFlow);
}

#[test]
fn times_are_censored_and_impossible_fills_refused() {
    let flow = VolumeFlow::from_litres_per_minute(6.0).unwrap();
    let none = VolumeFlow::from_litres_per_minute(0.0).unwrap();
    let first_water = Clock::FromFirstWater;
    let command = Clock::FromCommand { opening: seconds(0.3) };
    let time = |flow, clock, limit| fill_time(flow, litres(0.5), litres(2.5), clock, limit);
    assert_eq!(time(flow, first_water, None), Ok(Observed::Exactly(seconds(20.0))));
    assert_eq!(time(flow, command, None), Ok(Observed::Exactly(seconds(20.3))));
    assert_eq!(time(flow, command, Some(seconds(20.0))), Ok(Observed::AtLeast(seconds(20.0))));
    assert_eq!(time(none, command, Some(seconds(60.0))), Ok(Observed::AtLeast(seconds(60.0))));
    assert_eq!(time(none, command, None), Err(PhysicsError::NoFlow));
    assert!(matches!(
        fill_time(flow, litres(2.5), litres(2.5), first_water, None),
        Err(PhysicsError::AlreadyFull { .. })
    ));
    let catch = |bucket, call| caught_in_call(flow, seconds(call), seconds(0.3), litres(bucket));
    assert_eq!(catch(1.0, 12.0), Ok(Observed::AtLeast(litres(1.0))));
    assert_eq!(catch(8.0, 0.2), Ok(Observed::Exactly(litres(0.0))));
    assert!(catch(0.0, 12.0).is_err(), "a bucket without a volume");
}

proptest! {
    #[test]
    fn more_pressure_never_fills_more_slowly(low in 0.0..9.0_f64, step in 0.0..3.0_f64, valve in 0.05..1.0_f64) {
        let flow = |bar| demo(1.0, 1.0, valve).flow(&supply(bar)).unwrap().flow.litres_per_minute();
        prop_assert!(flow(low) <= flow(low + step));
    }

    #[test]
    fn a_dirtier_strainer_never_fills_faster(share in 0.0..1.0_f64, less in 0.0..1.0_f64, bar in 0.0..9.0_f64) {
        let flow = |share| demo(share, 1.0, 1.0).flow(&supply(bar)).unwrap().flow.litres_per_minute();
        prop_assert!(flow(share * less) <= flow(share));
    }
}
