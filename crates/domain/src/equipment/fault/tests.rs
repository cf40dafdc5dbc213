use std::collections::BTreeSet;

use super::{
    Change, Effect, Extent, Fault, FaultCatalogue, ObservationKey, Parameter, Shows, Subsystem, Target,
    built_in_fault_catalogues, demo_combi_faults, demo_warewasher_faults,
};
use crate::equipment::{Model, built_in_models, demo_combi};
use crate::procedure::{Reads as StepReads, built_in_procedures};
use crate::text::Key;
use crate::vocabulary::Position;

fn model_of(catalogue: &FaultCatalogue) -> &'static Model {
    built_in_models().into_iter().find(|model| model.key == catalogue.model).unwrap()
}

#[test]
fn built_in_catalogues_hold_their_own_rules() {
    for catalogue in built_in_fault_catalogues() {
        assert_eq!(catalogue.validate(model_of(catalogue)), Ok(()), "{}", catalogue.model);
    }
}

#[test]
fn a_catalogue_survives_its_own_json() {
    for catalogue in built_in_fault_catalogues() {
        let json = serde_json::to_string(catalogue).unwrap();
        assert_eq!(&serde_json::from_str::<FaultCatalogue>(&json).unwrap(), catalogue);
    }
}

#[test]
fn a_catalogue_stored_under_the_former_name_of_a_switch_is_read() {
    for catalogue in built_in_fault_catalogues() {
        let json = serde_json::to_string(catalogue).unwrap();
        assert!(json.contains("\"switch\":\"door_made\""));
        let former = json.replace("\"switch\":", "\"parameter\":");
        assert_eq!(&serde_json::from_str::<FaultCatalogue>(&former).unwrap(), catalogue);
    }
}

#[test]
fn observations_name_steps_and_choices_that_exist() {
    for catalogue in built_in_fault_catalogues() {
        let keys = catalogue.measurements.iter().map(|measurement| (&measurement.key, None));
        let looks = catalogue.inspections.iter().map(|inspection| (&inspection.key, Some(inspection)));
        for (key, inspection) in keys.chain(looks) {
            let mut names = key.as_str().split('/');
            let procedure = names.next().unwrap();
            if procedure == "intake" {
                continue;
            }
            let procedure = built_in_procedures()
                .iter()
                .find(|of| of.key.as_str() == procedure)
                .unwrap_or_else(|| panic!("{key}"));
            let step = names.next().unwrap();
            let step =
                procedure.steps.iter().find(|of| of.key.as_str() == step).unwrap_or_else(|| panic!("{key}"));
            let Some(inspection) = inspection else { continue };
            match &step.reads {
                StepReads::Choose { choices, .. } => {
                    let of_step: BTreeSet<&Key> = choices.iter().map(|choice| &choice.key).collect();
                    assert_eq!(of_step, inspection.choices.iter().collect(), "{key}");
                }
                _ => assert!(inspection.bands.is_some(), "{key} is read as a number"),
            }
        }
    }
}

/// Relative weights of the faults among calls. **Common practice, no source.**
const WEIGHTS: [(&str, f64); 44] = [
    ("chemical_wrong", 8.0),
    ("misuse", 7.0),
    ("supply_pressure_low", 3.0),
    ("supply_valve_part_shut", 2.0),
    ("treatment_exhausted", 3.0),
    ("inlet_strainer_clogged", 10.0),
    ("strainer_misfitted", 2.0),
    ("fill_valve_weak", 7.0),
    ("fill_valve_coil_open", 3.0),
    ("fill_valve_passes", 2.0),
    ("restrictor_scaled", 3.0),
    ("wash_pump_clogged", 9.0),
    ("wash_pump_fades", 4.0),
    ("wash_motor_dead", 4.0),
    ("run_capacitor_weak", 3.0),
    ("spray_blocked", 3.0),
    ("drain_pump_clogged", 6.0),
    ("drain_pump_dead", 3.0),
    ("building_drain_blocked", 5.0),
    ("sump_seat_leaks", 3.0),
    ("door_switch_fails", 3.0),
    ("gasket_torn", 3.0),
    ("door_sags", 1.0),
    ("steam_generator_scaled", 2.5),
    ("element_open", 1.5),
    ("probe_drifted", 1.0),
    ("dosing_weak", 3.0),
    ("rinse_fails", 1.0),
    ("level_sensor_fouled", 2.0),
    ("output_dead", 1.5),
    ("wiring_corroded", 2.0),
    ("board_wet", 1.5),
    ("supply_voltage_low", 0.5),
    ("vermin_damage", 0.5),
    ("insulation_low", 1.0),
    ("fill_valve_sticks_shut", 3.5),
    ("valve_strainer_clogged", 5.9),
    ("gasket_misfitted", 1.2),
    ("hose_leaks", 2.4),
    ("drain_hose_blocked", 1.6),
    ("hose_draws_air", 0.9),
    ("cut_out_opens", 1.2),
    ("door_magnet", 4.7),
    ("insulation_damp", 1.2),
];

#[test]
fn every_fault_of_the_trade_is_there_and_stands_at_its_share_of_the_calls() {
    let catalogue = demo_combi_faults();
    let present = |fault: &Fault| fault.odds() / (1.0 + fault.odds());
    let calls = |fault: &Fault| present(fault) * fault.calls_while_standing();
    let all = catalogue.calls_without_fault.per_year + catalogue.faults.iter().map(calls).sum::<f64>();
    // The weights are of a hundred calls. Numbers that were set beside a company may differ from the trade's.
    let ratio = |(key, weight): (&str, f64)| {
        let fault = catalogue.fault(key).unwrap_or_else(|| panic!("{key}"));
        let others = all - calls(fault);
        present(fault) * (fault.calls_while_standing() + others) / all / (weight / 100.0)
    };
    let ratios: Vec<f64> = WEIGHTS.into_iter().chain([("intermittent", 4.0)]).map(ratio).collect();
    assert!(ratios.iter().all(|ratio| (0.33..3.0).contains(ratio)), "{ratios:?}");
    assert!(ratios.iter().filter(|ratio| (0.5..2.0).contains(*ratio)).count() >= 41, "{ratios:?}");
}

#[test]
fn another_machine_has_other_faults() {
    let (combi, warewasher) = (demo_combi_faults(), demo_warewasher_faults());
    assert!(warewasher.fault("rinse_nozzle_scaled").is_some());
    assert!(combi.fault("rinse_nozzle_scaled").is_none());
    assert!(warewasher.fault("steam_generator_scaled").is_none());
}

fn own_fault() -> Fault {
    demo_combi_faults().fault("spray_blocked").unwrap().clone()
}

#[test]
fn a_companys_own_fault_joins_or_replaces() {
    let mut own = own_fault();
    own.key = Key::new("hose_kinked").unwrap();
    own.position = Position::PumpHose;
    let mut other = own_fault();
    other.version = 2;
    other.per_year *= 3.0;
    let before = demo_combi_faults();
    let after = before.with_own_faults(&[own.clone(), other.clone()], demo_combi()).unwrap();
    assert_eq!(after.faults.len(), before.faults.len() + 1);
    assert_eq!(after.fault("hose_kinked"), Some(&own));
    assert_eq!(after.fault("spray_blocked"), Some(&other));
}

#[test]
fn all_reasons_against_a_companys_faults_are_named_at_once() {
    let mut own = own_fault();
    own.version = 0;
    own.per_year = f64::NAN;
    own.days_unmended = -1.0;
    own.calls_per_year = -0.1;
    own.severities = vec![0.5, 0.5];
    own.effects[0].change = Change::Scale([1.0, -2.0, 3.0].map(Extent::Point).to_vec());
    own.effects.push(Effect {
        on: Target::Parameter(Parameter::DrainFlow),
        change: Change::Scale([0.5, 0.25].map(Extent::Point).to_vec()),
        severities: Vec::new(),
    });
    own.effects.push(Effect {
        on: Target::Measurement(ObservationKey::new("fill_time/fill_time").unwrap()),
        change: Change::Add([0.5, 0.25].map(Extent::Point).to_vec()),
        severities: Vec::new(),
    });
    let shows = |at: &str, choice: &str, probability| Shows {
        at: ObservationKey::new(at).unwrap(),
        choice: Key::new(choice).unwrap(),
        probability,
    };
    own.shows = vec![
        shows("wash_flow_hold/pattern", "wavy", 0.5),
        shows("nowhere/nothing", "dry", 1.5),
        shows("wash_flow_hold/pattern", "dry", 0.9),
    ];
    let mut twin = own_fault();
    twin.key = own.key.clone();
    twin.position = Position::DrainTrap;
    let violations = demo_combi_faults().with_own_faults(&[own, twin], demo_combi()).unwrap_err();
    let pointers: Vec<&str> = violations.iter().map(|violation| violation.pointer.as_str()).collect();
    assert_eq!(
        pointers,
        [
            "/0/version",
            "/0/per_year",
            "/0/days_unmended",
            "/0/calls_per_year",
            "/0/effects/0/change",
            "/0/effects/0/change",
            "/0/effects/1/on",
            "/0/effects/2/on",
            "/0/severities",
            "/0/shows/0/choice",
            "/0/shows/1/probability",
            "/0/shows/1/at",
            "/0/shows",
            "/0/shows",
            "/1/key",
        ]
    );
    let choices = &violations[9].detail;
    assert!(choices.contains("even, uneven, dry"), "{choices}");
}

#[test]
fn a_fault_at_a_position_that_the_model_lacks_is_refused() {
    let mut own = own_fault();
    own.position = Position::FlowRestrictor;
    let mut model = demo_combi().clone();
    model.positions.remove(&Position::FlowRestrictor);
    let violations = demo_combi_faults().with_own_faults(&[own], &model).unwrap_err();
    assert!(violations.iter().any(|violation| violation.pointer == "/0/position"));
}

#[test]
fn parameters_belong_to_subsystems() {
    assert_eq!(Parameter::HeatOutput as usize + 1, Parameter::COUNT);
    assert_eq!(Parameter::PumpHead.subsystem(), Subsystem::Wash);
}
