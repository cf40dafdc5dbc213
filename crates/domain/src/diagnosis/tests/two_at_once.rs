//! Two parts of a warewasher that still run, each too weakly: one dose, one rinse, and neither explains both.

use std::collections::BTreeSet;

use super::{WAREWASHER, choice, complaint, value};
use crate::diagnosis::{Observation, probabilities, probability_of_set};
use crate::equipment::{Change, demo_warewasher_faults};
use crate::physics::restriction::in_series;
use crate::quantity::FlowCoefficient;
use crate::text::Key;
use crate::vocabulary::Symptom;

fn set(faults: &[&str]) -> BTreeSet<Key> {
    faults.iter().map(|fault| Key::new(*fault).unwrap()).collect()
}

fn probability(faults: &[&str], seen: &[Observation]) -> f64 {
    let case = complaint(Symptom::ResidueLeft, seen.to_vec());
    probability_of_set(&WAREWASHER, &case, &set(faults), &BTreeSet::new())
}

/// 60 mL and 3.0 L are what a sound machine gives.
fn dose(millilitres: f64) -> Observation {
    value("chemical_delivery/drawn", millilitres / 1000.0)
}

fn rinse(litres: f64) -> Observation {
    value("rinse_clear/volume", litres)
}

const TUBE: &str = "dosing_tube_worn";
const NOZZLE: &str = "rinse_nozzle_scaled";

#[test]
fn a_weak_dose_and_a_weak_rinse_need_two_faults() {
    let looks = [choice("chemical_delivery/tube", "stays_flat"), choice("rinse_clear/jets", "uneven")];
    let read = |dose_ml, rinse_l| {
        let [tube, jets] = looks.clone();
        vec![dose(dose_ml), tube, rinse(rinse_l), jets]
    };
    let both = read(26.0, 1.45);
    assert!(probability(&[TUBE, NOZZLE], &both) > 0.6, "{}", probability(&[TUBE, NOZZLE], &both));
    for alone in [TUBE, NOZZLE] {
        assert!(probability(&[alone], &both) < 0.05, "{alone}: {}", probability(&[alone], &both));
    }
    let ranked = probabilities(&WAREWASHER, &complaint(Symptom::ResidueLeft, both)).sets;
    assert_eq!(ranked[0].faults.iter().cloned().collect::<BTreeSet<_>>(), set(&[TUBE, NOZZLE]));
}

#[test]
fn one_weak_reading_needs_one_fault() {
    let dosing = [dose(26.0), choice("chemical_delivery/tube", "stays_flat"), rinse(2.98)];
    assert!(probability(&[TUBE], &dosing) > 0.7, "{}", probability(&[TUBE], &dosing));
    let rinsing = [dose(59.0), rinse(1.45), choice("rinse_clear/jets", "uneven")];
    assert!(probability(&[NOZZLE], &rinsing) > 0.7, "{}", probability(&[NOZZLE], &rinsing));
}

#[test]
fn the_look_at_the_jets_tells_scale_from_a_weak_valve() {
    let with = |jets| [rinse(1.45), choice("rinse_clear/jets", jets)];
    assert!(probability(&[NOZZLE], &with("uneven")) > 5.0 * probability(&["rinse_fails"], &with("uneven")));
    assert!(probability(&["rinse_fails"], &with("weak")) > probability(&[NOZZLE], &with("weak")));
}

/// The flow through a line and its nozzles, one after the other (IEC 60534-2-1, worked by hand): the nozzles
/// have four fifths of the resistance, and scale leaves 80, 65, 50, 38 and 25 % of their Kv. At a given
/// pressure and time the water of one rinse goes with the Kv of the whole.
#[test]
fn the_water_that_scaled_nozzles_leave_is_that_of_restrictions_in_series() {
    let kv = |value: f64| FlowCoefficient::from_cubic_metres_per_hour(value).unwrap();
    let whole = |nozzles: f64| {
        in_series([kv(0.2_f64.powf(-0.5)), kv(nozzles * 0.8_f64.powf(-0.5))]).unwrap().cubic_metres_per_hour()
    };
    let fault = demo_warewasher_faults().fault(NOZZLE).unwrap();
    let Change::Scale(factors) = &fault.effects[0].change else { panic!("a factor on the sound volume") };
    // The first range is that of scale; what follows runs on to nozzles that are shut.
    let (most, least) = (factors[0].from(), factors[0].to());
    for left in [0.8, 0.65, 0.5, 0.38] {
        let factor = whole(left) / whole(1.0);
        assert!(least < factor && factor < most, "{left}: {factor} of {factors:?}");
    }
    assert!((whole(0.25) / whole(1.0) - least).abs() < 5e-3, "{factors:?}");
}
