mod behaviour;
mod enumeration;
mod next_step;
mod odd_input;
mod starved;
mod telling_apart;
mod two_at_once;

use std::sync::LazyLock;

use super::{Case, Observation, ReadingConditions, Tables};
use crate::equipment::{
    ObservationKey, demo_combi, demo_combi_faults, demo_warewasher, demo_warewasher_faults,
};
use crate::procedure::built_in_procedures;
use crate::text::Key;
use crate::vocabulary::Symptom;

/// Compiled once for all tests of the module.
pub(super) static COMBI: LazyLock<Tables> =
    LazyLock::new(|| Tables::compile(demo_combi_faults(), demo_combi(), built_in_procedures()).unwrap());
pub(super) static WAREWASHER: LazyLock<Tables> = LazyLock::new(|| {
    Tables::compile(demo_warewasher_faults(), demo_warewasher(), built_in_procedures()).unwrap()
});

fn key(text: &str) -> ObservationKey {
    ObservationKey::new(text).unwrap()
}

pub(super) fn value(of: &str, value: f64) -> Observation {
    Observation::value(key(of), value)
}

pub(super) fn choice(of: &str, choice: &str) -> Observation {
    Observation::choice(key(of), Key::new(choice).unwrap())
}

pub(super) fn complaint(symptom: Symptom, observations: Vec<Observation>) -> Case {
    Case { complaint: Some(symptom), observations, ..Case::default() }
}

/// A run of the wash from this level.
pub(super) fn from_level(litres: f64) -> ReadingConditions {
    ReadingConditions { level_before_l: Some(litres), run_s: Some(60.0), ..ReadingConditions::default() }
}

/// Readings of the fill side of a sound machine.
fn sound_fill() -> Vec<Observation> {
    vec![
        value("inlet_pressure/static_pressure", 3.0),
        value("inlet_pressure/dynamic_pressure", 2.83),
        choice("strainer_look/inlet_strainer", "clear"),
        value("fill_time/fill_time", 12.7),
        value("start_up_catch/caught", 2.67),
    ]
}

/// Readings of the wash run of a sound machine with a full sump.
fn sound_wash() -> Vec<Observation> {
    let full = from_level(2.9);
    vec![
        choice("door_switch/shut_recognised", "at_once"),
        choice("wash_flow_hold/strength", "strong").under(full),
        Observation::at_least(key("wash_flow_hold/hold_time"), 60.0).under(full),
        value("wash_flow_hold/motor_current", 3.2).under(full),
    ]
}
