use super::*;
use crate::defect::Defect;
use crate::physics::{calm_surroundings, worked_design};

/// A steady hand takes a test: what he writes down and what he then believes.
fn take(test: Test, severities: &Severities, seed: u64, seen: &mut Seen) -> Taken {
    let habits = Habits {
        diligence: 1.0,
        carelessness: 0.0,
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

/// How often a step reads so, taken by somebody careless with a poor eye.
fn share(
    test: Test,
    step: Code,
    severities: &Severities,
    is: impl Fn(&domain::evidence::Reading) -> bool,
) -> f64 {
    const TIMES: u32 = 6000;
    let habits = Habits { carelessness: 1.5, eye: 0.15, ..Habits::drawn(&mut Random::new(1, 0)) };
    let machine = Machine::nominal(worked_design());
    let mut random = Random::new(8, 0);
    let mut found = 0;
    for _ in 0..TIMES {
        let mut bench = Bench {
            machine: &machine,
            severities,
            surroundings: calm_surroundings(3.0),
            habits: &habits,
            random: &mut random,
            seen: &mut Seen::default(),
            flow_meter: false,
            second_person: true,
        };
        let taken = bench.take(test);
        found += u32::from(taken.readings.iter().any(|reading| reading.step.as_str() == step && is(reading)));
    }
    f64::from(found) / f64::from(TIMES)
}

/// Common practice, no source: nobody takes what is whole for torn, but grades slip to their neighbours.
#[test]
fn where_nothing_is_there_is_nothing_to_misjudge_and_grades_slip_to_their_neighbours() {
    let chosen = |choice: &'static str| {
        move |reading: &domain::evidence::Reading| {
            reading.choice.as_ref().is_some_and(|of| of.as_str() == choice)
        }
    };
    let sound = Severities::default();
    let wet = share(Test::WiringLook, "board", &sound, chosen("wet"));
    let gnawed = share(Test::WiringLook, "connectors", &sound, chosen("gnawed"));
    let torn = share(Test::SealAndBufferLook, "gasket", &sound, chosen("torn"));
    for (what, seen) in [("wet", wet), ("gnawed", gnawed), ("torn", torn)] {
        assert!(seen < 0.003, "{what}: {seen}");
    }
    let hard = with(Defect::GasketTorn, 0.55);
    let one_off = share(Test::SealAndBufferLook, "gasket", &hard, chosen("torn"));
    let two_off = share(Test::SealAndBufferLook, "gasket", &with(Defect::GasketTorn, 0.9), chosen("whole"));
    assert!((0.05..0.6).contains(&one_off) && two_off < 0.003, "{one_off} {two_off}");
}

#[test]
fn a_meter_is_misread_less_often_than_a_watch_is_stopped_wrongly() {
    let off = |expected: f64, by: f64| {
        move |reading: &domain::evidence::Reading| {
            reading.value.as_ref().is_some_and(|value| (value.as_read.value / expected - 1.0).abs() > by)
        }
    };
    let sound = Severities::default();
    let meter = share(Test::DeadElectrical, "run_capacitor", &sound, off(12.5, 0.1));
    let watch = share(Test::FillTime, "fill_time", &sound, off(12.81, 0.2));
    assert!((0.001..0.009).contains(&meter), "{meter}");
    assert!((0.01..0.05).contains(&watch), "{watch}");
}

#[test]
fn what_has_failed_entirely_reads_so() {
    let value = |test, step, severities: &Severities| {
        read(test, step, severities).unwrap().value.unwrap().as_read.value
    };
    assert!(value(Test::DeadElectrical, "run_capacitor", &with(Defect::RunCapacitorWeak, 1.0)) < 0.5);
    let choice = |test, step, severities: &Severities| {
        read(test, step, severities).unwrap().choice.unwrap().to_string()
    };
    assert_eq!(choice(Test::Steam, "strength", &with(Defect::SteamGeneratorScaled, 1.0)), "none");
    assert_eq!(choice(Test::DrainTime, "pour_test", &with(Defect::BuildingDrainBlocked, 1.0)), "backs_up");
}

/// A damp element reads well once it is dry, one that is pierced does not.
#[test]
fn drying_tells_damp_from_broken_insulation() {
    for (defect, recovers) in [(Defect::InsulationDamp, true), (Defect::InsulationLow, false)] {
        let dried: Vec<f64> = (0..20)
            .filter_map(|seed| {
                let taken = take(Test::DeadElectrical, &with(defect, 0.8), seed, &mut Seen::default());
                let reading = taken.readings.into_iter().find(|of| of.step.as_str() == "insulation_dried")?;
                Some(reading.value.unwrap().as_read.value)
            })
            .collect();
        assert!(dried.len() > 10 && dried.iter().all(|value| (*value > 20.0) == recovers), "{dried:?}");
    }
}

#[test]
fn a_test_magnet_tells_the_switch_from_the_magnet_of_the_door() {
    for (defect, expected) in [(Defect::DoorMagnet, "answers"), (Defect::DoorSwitchFails, "silent")] {
        let seen = read(Test::DoorSwitch, "with_test_magnet", &with(defect, 1.0)).unwrap();
        assert_eq!(seen.choice.unwrap().as_str(), expected);
    }
}
