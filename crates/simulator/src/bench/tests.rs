use super::*;
use crate::defect::Defect;
use crate::physics::{calm_surroundings, worked_design};

/// A steady hand takes a test: what he writes down and what he then believes.
fn take(test: Test, severities: &Severities, seed: u64, seen: &mut Seen) -> Taken {
    let habits = Habits {
        diligence: 1.0,
        misreads: 0.0,
        eye: 0.0,
        time_bias: 1.0,
        favourite: Defect::FillValveWeak,
        prejudice: 0.0,
        content: 0.0,
        clumsiness: 0.0,
    };
    let mut bench = Bench {
        machine: &Machine::nominal(worked_design()),
        severities,
        surroundings: calm_surroundings(3.0),
        habits: &habits,
        random: &mut Random::new(seed, 0),
        seen,
        flow_meter: false,
        second_person: true,
    };
    bench.take(test)
}

fn read(test: Test, step: Code, severities: &Severities) -> Option<domain::evidence::Reading> {
    let taken = take(test, severities, 4, &mut Seen::default());
    taken.readings.into_iter().find(|reading| reading.step.as_str() == step)
}

fn with(defect: Defect, severity: f64) -> Severities {
    Severities::default().with(defect, severity)
}

#[test]
fn the_machine_fills_to_its_sensor_unless_it_gives_up_or_no_water_comes() {
    let litres = |severities: &Severities| {
        read(Test::SumpHolds, "filled", severities).map(|reading| reading.value.unwrap().as_read.value)
    };
    let full = litres(&Severities::default()).unwrap();
    assert!((full - 2.9).abs() < 0.2, "{full}");
    let fouled = litres(&with(Defect::LevelSensorFouled, 0.8)).unwrap();
    assert!((fouled - 0.52 * 2.9).abs() < 0.15, "{fouled}");
    assert!(litres(&with(Defect::FillValveCoilOpen, 1.0)).unwrap() < 0.1);
    assert_eq!(litres(&with(Defect::FillValveWeak, 0.95)), None);
}

#[test]
fn who_listens_hears_whether_the_motor_is_fed_and_whether_it_turns() {
    for (severities, expected) in [
        (Severities::default(), "runs"),
        (with(Defect::WashPumpClogged, 0.9), "runs"),
        (with(Defect::RunCapacitorWeak, 0.8), "hums"),
        (with(Defect::WashMotorDead, 1.0), "hums"),
        (with(Defect::DoorSwitchFails, 1.0), "silent"),
    ] {
        let heard = read(Test::WashFlowHold, "sound", &severities).unwrap();
        assert_eq!(heard.choice.unwrap().as_str(), expected, "{severities:?}");
    }
}

/// After a repair nobody goes on believing what he heard before it, whether or not he listens again.
#[test]
fn a_test_taken_again_replaces_what_was_seen() {
    let mended = Severities::default();
    for seed in 0..40 {
        let mut seen = Seen { hums: true, ..Seen::default() };
        take(Test::WashFlowHold, &mended, seed, &mut seen);
        assert!(!seen.hums, "{seed}");
    }
    let mut seen = Seen { stops_at: Some(0.5), ..Seen::default() };
    take(Test::SumpHolds, &with(Defect::FillValveWeak, 0.95), 4, &mut seen);
    assert_eq!(seen.stops_at, None);
}
