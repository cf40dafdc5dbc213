//! What one more look or answer tells apart.

use super::{COMBI, WAREWASHER, choice, complaint, from_level, value};
use crate::diagnosis::{Observation, Tables, probabilities};
use crate::text::Key;
use crate::vocabulary::Symptom;

fn probability(tables: &Tables, fault: &str, of: Symptom, seen: Vec<Observation>) -> f64 {
    let marginals = probabilities(tables, &complaint(of, seen));
    let all = marginals.faults.into_iter();
    all.into_iter().find(|(key, _)| *key == Key::new(fault).unwrap()).unwrap().1
}

#[test]
fn where_the_machine_stops_filling_tells_of_its_level_sensor() {
    for (tables, full, usual_s) in [(&COMBI, 2.9, 12.71), (&WAREWASHER, 22.0, 105.6)] {
        let sensor = |seen| probability(tables, "level_sensor_fouled", Symptom::CleansPartly, seen);
        // As fast as ever: a fill that is short because it is slow says nothing of the sensor.
        let filled = |share: f64| {
            let time = value("fill_time/fill_time", share.min(1.0) * usual_s);
            vec![time, value("sump_holds/filled", share * full)]
        };
        let unread = sensor(Vec::new());
        for (wrong, right) in [(filled(0.6), filled(1.0)), (filled(1.22), filled(0.98))] {
            let (wrong, right) = (sensor(wrong), sensor(right));
            assert!(wrong > 8.0 * unread && right < 0.2 * unread, "{wrong} {unread} {right}");
        }
        // A sump poured to the mark before a run tells nothing.
        let poured = sensor(vec![value("wash_flow_hold/level_before", full)]);
        assert!((poured - unread).abs() < 1e-9, "{poured} {unread}");
    }
}

#[test]
fn no_water_at_all_is_not_blamed_on_the_level_sensor() {
    let dead = |fault| probability(&COMBI, fault, Symptom::NoStart, vec![value("sump_holds/filled", 0.0)]);
    assert!(dead("level_sensor_fouled") < 0.03, "{}", dead("level_sensor_fouled"));
    // What lets no water in, a way that is blocked altogether among it.
    let shut = [
        "fill_valve_coil_open",
        "fill_valve_sticks_shut",
        "output_dead",
        "inlet_strainer_clogged",
        "valve_strainer_clogged",
        "treatment_exhausted",
        "supply_valve_part_shut",
    ];
    let dead: f64 = shut.map(dead).iter().sum();
    assert!(dead > 0.6, "{dead}");
}

#[test]
fn a_hum_speaks_of_the_capacitor_and_silence_of_what_feeds_the_motor() {
    for tables in [&COMBI, &WAREWASHER] {
        let after = |fault, sound| {
            let seen = vec![choice("wash_flow_hold/sound", sound)];
            probability(tables, fault, Symptom::NoStart, seen)
        };
        for (fault, said_by, not_by) in [
            ("run_capacitor_weak", "hums", "silent"),
            ("door_switch_fails", "silent", "hums"),
            ("wiring_corroded", "silent", "hums"),
        ] {
            let (with, without) = (after(fault, said_by), after(fault, not_by));
            assert!(with > 2.0 * without, "{fault}: {with} {without}");
        }
    }
}

/// A wash that was never fed reads dry: the pump is not to blame for it.
#[test]
fn a_dry_wash_behind_a_door_that_is_not_recognised_is_no_dead_motor() {
    let full = from_level(2.9);
    let seen = vec![
        choice("door_switch/shut_recognised", "never"),
        choice("wash_flow_hold/strength", "none").under(full),
        choice("wash_flow_hold/pattern", "dry"),
        value("wash_flow_hold/motor_current", 0.0),
    ];
    let of = |fault| probability(&COMBI, fault, Symptom::NoStart, seen.clone());
    let signal = of("door_switch_fails") + of("door_magnet");
    assert!(signal > 0.9, "{signal}");
    assert!(of("wash_motor_dead") < 0.05, "{}", of("wash_motor_dead"));
}

/// The switch and the magnet of the door lose the same signal; a magnet held to the switch tells which did.
#[test]
fn the_test_magnet_tells_the_switch_from_the_magnet() {
    for tables in [&COMBI, &WAREWASHER] {
        let of = |fault, answer| {
            let seen = vec![
                choice("door_switch/shut_recognised", "never"),
                choice("door_switch/with_test_magnet", answer),
            ];
            probability(tables, fault, Symptom::NoStart, seen)
        };
        assert!(of("door_magnet", "answers") > 0.7 && of("door_switch_fails", "answers") < 0.1);
        assert!(of("door_switch_fails", "silent") > 0.7 && of("door_magnet", "silent") < 0.15);
    }
}

/// 0.3 MOhm is far too low; if it reads well when it has been dried, it was damp and no element is to blame.
#[test]
fn what_reads_well_when_dried_was_damp() {
    for tables in [&COMBI, &WAREWASHER] {
        let of = |fault, dried: Option<f64>| {
            let mut seen = vec![value("dead_electrical/insulation", 0.3)];
            seen.extend(dried.map(|dried| value("dead_electrical/insulation_dried", dried)));
            probability(tables, fault, Symptom::TripsSupply, seen)
        };
        let low = |dried| of("insulation_low", dried);
        assert!(
            low(Some(90.0)) < 0.1 && low(None) > 0.1 && low(Some(0.4)) > 0.8,
            "{} {}",
            low(None),
            low(Some(0.4))
        );
        assert!(of("insulation_damp", Some(90.0)) > 0.8, "{}", of("insulation_damp", Some(90.0)));
    }
}

/// A hose that leaks is wet below while the pump presses, and the gasket is whole.
#[test]
fn water_below_while_it_washes_is_a_hose_and_not_the_gasket() {
    let of = |fault, below| {
        let seen =
            vec![choice("seal_and_buffer_look/gasket", "whole"), choice("wash_flow_hold/below", below)];
        probability(&COMBI, fault, Symptom::LeaksBelow, seen)
    };
    assert!(of("hose_leaks", "runs") > 0.9, "{}", of("hose_leaks", "runs"));
    assert!(of("hose_leaks", "dry") < 0.3 && of("gasket_torn", "runs") < 0.05);
}

#[test]
fn answers_of_the_caller_raise_what_they_speak_of_and_lower_it_when_they_deny_it() {
    for (question, usual, unusual, fault) in [
        ("intake/sound", "as_before", "hums_or_howls", "run_capacitor_weak"),
        ("intake/sound", "as_before", "hums_or_howls", "wash_pump_fades"),
        ("intake/breaker", "holds", "trips", "insulation_low"),
        ("intake/temperature", "as_set", "not_as_set", "probe_drifted"),
    ] {
        for tables in [&COMBI, &WAREWASHER] {
            let of = |seen| probability(tables, fault, Symptom::Other, seen);
            let unasked = of(Vec::new());
            let (denied, told) = (of(vec![choice(question, usual)]), of(vec![choice(question, unusual)]));
            assert!(denied < 0.6 * unasked && told > 2.0 * unasked, "{fault}: {denied} {unasked} {told}");
        }
    }
}

/// The treatment of the demo combi should leave less than 68 mg/L as CaCO3 (its limit), 0.68 mol/m3; the harder the water
/// behind it, the surer that it is spent, whatever the kitchen complains of.
#[test]
fn the_harder_the_water_the_surer_is_the_treatment_spent() {
    let spent = |mg_per_l: f64| {
        let seen = vec![value("water_quality/hardness", mg_per_l / 100.09)];
        probability(&COMBI, "treatment_exhausted", Symptom::LeaksFront, seen)
    };
    let series = [30.0, 90.0, 120.0, 200.0, 300.0, 500.0].map(spent);
    assert!(series.windows(2).all(|pair| pair[1] > pair[0] - 0.05), "{series:?}");
    assert!(series[0] < 0.03 && series[3..].iter().all(|of| *of > 0.8), "{series:?}");
}
