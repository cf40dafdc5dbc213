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
    for (tables, full) in [(&COMBI, 2.9), (&WAREWASHER, 22.0)] {
        let sensor = |seen| probability(tables, "level_sensor_fouled", Symptom::CleansPartly, seen);
        let filled = |share: f64| vec![value("sump_holds/filled", share * full)];
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
    assert!(dead("fill_valve_coil_open") + dead("output_dead") > 0.5);
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
            assert!(with > 3.0 * without, "{fault}: {with} {without}");
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
    assert!(of("door_switch_fails") > 0.9, "{}", of("door_switch_fails"));
    assert!(of("wash_motor_dead") < 0.05, "{}", of("wash_motor_dead"));
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
