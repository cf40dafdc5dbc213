//! Drafts from plates, held against what an expert concludes and against the machines that somebody described.

#![expect(clippy::unwrap_used, reason = "a failed unwrap is a failed check")]

use domain::diagnosis::{Case, Observation, Tables, diagnose};
use domain::draft::{Draft, Plate};
use domain::equipment::{
    FaultCatalogue, Measurement, Model, ObservationKey, Parameter, Subsystem, Target, demo_combi,
    demo_combi_faults, demo_warewasher,
};
use domain::procedure::built_in_procedures;
use domain::text::Key;
use domain::violation::Violation;
use domain::vocabulary::{Position, Symptom};
use serde_json::{Value, json};

/// An invented steamer, the one of the expert cases: water in a generator, no wash, no stages.
fn steamer() -> Value {
    let file = include_str!("../../../../tests/reference/expert/steamer.json");
    serde_json::from_str::<Value>(file).unwrap()["plate"].take()
}

/// Plates of the built-in machines, as somebody would take them down who stands before one.
fn plate_of(model: &str) -> Value {
    let file = include_str!("../../../../tests/reference/plates.json");
    serde_json::from_str::<Value>(file).unwrap()[model].take()
}

fn drafted(plate: Value) -> Result<Draft, Vec<Violation>> {
    Draft::of(&serde_json::from_value::<Plate>(plate).unwrap())
}

fn changed(change: impl Fn(&mut Value)) -> Result<Draft, Vec<Violation>> {
    let mut plate = steamer();
    change(&mut plate);
    drafted(plate)
}

fn probability(draft: &Draft, complaint: Symptom, read: Vec<Observation>, position: Position) -> f64 {
    let tables = Tables::compile(&draft.faults, &draft.model, built_in_procedures()).unwrap();
    let case = Case { complaint: Some(complaint), observations: read, ..Case::default() };
    let diagnosis = diagnose(&tables, &case);
    diagnosis.faults.iter().filter(|of| of.position == position).map(|of| of.probability).sum()
}

fn value(key: &str, value: f64) -> Observation {
    Observation::value(ObservationKey::new(key).unwrap(), value)
}

fn choice(key: &str, choice: &str) -> Observation {
    Observation::choice(ObservationKey::new(key).unwrap(), Key::new(choice).unwrap())
}

#[test]
fn a_steamer_is_drafted_from_its_plate_alone() {
    let draft = drafted(steamer()).unwrap();
    assert!(draft.faults.general);
    assert!(draft.model.wash_pump.is_none());
    assert!(draft.faults.faults.iter().all(|fault| fault.is_external() || draft.model.has(fault.position)));
    assert!(draft.faults.faults.len() > 25, "{}", draft.faults.faults.len());
    assert_eq!(Vec::from_iter(draft.without_faults), [Position::Sump, Position::FanMotor]);
    let procedures: Vec<_> = draft.procedures.iter().map(|procedure| procedure.key.as_str()).collect();
    assert!(procedures.contains(&"steam") && !procedures.contains(&"wash_flow_hold"), "{procedures:?}");
    let steam = draft.model.typical_value(&Measurement::value("steam", "time_to_steam")).unwrap();
    assert!((steam.value - 420.0).abs() < 1e-9);
    assert!(steam.lower.unwrap() < 420.0 && steam.upper.unwrap() > 420.0);
    // From the circuit that was worked out, the plate's own fill time.
    let fill = draft.model.fill.unwrap();
    let kv = [fill.line_kv_m3_per_h, fill.fill_valve_kv_m3_per_h]
        .into_iter()
        .chain(fill.inlet_strainer_kv_m3_per_h)
        .chain(fill.valve_strainer_kv_m3_per_h);
    let whole = kv.map(|kv| kv.powi(-2)).sum::<f64>().powf(-0.5);
    let seconds = 6.0 / (whole * 3.0_f64.sqrt() / 3.6);
    assert!((seconds - 45.0).abs() < 1e-6, "{seconds}");
}

#[test]
fn nobody_complains_of_a_wash_that_a_steamer_does_not_do() {
    let draft = drafted(steamer()).unwrap();
    let wash = [Symptom::DoesNotClean, Symptom::CleansPartly, Symptom::ResidueLeft, Symptom::NoChemicalUsed];
    let general = demo_combi_faults();
    for fault in &draft.faults.faults {
        assert!(wash.iter().all(|complaint| !fault.symptoms.contains_key(complaint)), "{}", fault.key);
        let Some(known) = general.fault(fault.key.as_str()) else { continue };
        // Without a drain pump they are the warewasher's.
        if fault.subsystem == Subsystem::Drain {
            continue;
        }
        let sums = [&fault.symptoms, &known.symptoms].map(|shares| shares.values().sum::<f64>());
        assert!((sums[0] - sums[1]).abs() < 0.01, "{} {sums:?}", fault.key);
    }
    let clogged = draft.faults.fault("inlet_strainer_clogged").unwrap();
    let known = general.fault("inlet_strainer_clogged").unwrap();
    assert!(
        clogged.symptom_share(Symptom::NoSteam) > 2.0 * known.symptom_share(Symptom::NoSteam),
        "what starves the generator is reported as missing steam: {:?}",
        clogged.symptoms
    );
    let looks = draft.faults.inspections.iter().map(|of| of.key.as_str());
    let of_wash = ["full_cycle/cleanliness", "commanded_volts/wash_motor_output", "intake/spray_reaches"];
    assert!(looks.clone().all(|key| !of_wash.contains(&key)), "{:?}", looks.collect::<Vec<_>>());
}

/// What an expert of the trade concludes at a steamer (common practice, no source); more of it in
/// `tests/reference/expert/steamer.json`.
#[test]
fn a_drafted_steamer_is_diagnosed_as_an_expert_would() {
    let draft = drafted(steamer()).unwrap();
    let of = |complaint, read, position| probability(&draft, complaint, read, position);
    let scaled = vec![value("steam/time_to_steam", 1500.0), choice("steam/strength", "weak")];
    assert!(of(Symptom::NoSteam, scaled, Position::SteamGenerator) > 0.5);
    let clogged = vec![
        value("inlet_pressure/static_pressure", 3.0),
        value("inlet_pressure/dynamic_pressure", 2.95),
        choice("strainer_look/inlet_strainer", "clogged"),
        value("fill_time/fill_time", 130.0),
    ];
    assert!(of(Symptom::NoSteam, clogged, Position::InletStrainer) > 0.8);
    let open = vec![choice("dead_electrical/heater_element", "open"), choice("steam/strength", "weak")];
    assert!(of(Symptom::NoSteam, open, Position::Heater) > 0.8);
    let sound = vec![
        value("steam/time_to_steam", 420.0),
        choice("steam/strength", "full"),
        value("fill_time/fill_time", 45.0),
    ];
    assert!(of(Symptom::Intermittent, sound, Position::SteamGenerator) < 0.1);
}

/// `t = C·ΔT/(P·(n − k)/n − P_l)`: with one of three elements open, at least half as long again.
#[test]
fn open_elements_are_no_more_than_there_are_and_make_steam_later() {
    for (elements, most) in [(1_u32, 1.0), (2, 2.0), (3, 2.0), (6, 2.0)] {
        let draft = changed(|plate| {
            plate["heater"]["elements"] = json!(elements);
            plate["heater"]["power_per_element_w"] = json!(9000.0 / f64::from(elements));
        });
        let draft = draft.unwrap();
        let fault = draft.faults.fault("element_open").unwrap();
        let of = |target: Target| fault.effects.iter().find(|effect| effect.on == target).unwrap();
        let open = of(Target::Parameter(Parameter::OpenElements)).change.extents();
        let steam = of(Target::Measurement(ObservationKey::new("steam/time_to_steam").unwrap()));
        assert!((open.last().unwrap().to() - most).abs() < 1e-9, "{elements}: {open:?}");
        assert_eq!((open.len(), steam.change.extents().len()), (fault.severities.len(), open.len()));
        let first = steam.change.extents()[0];
        if elements == 1 {
            assert!(first.from() > 20.0, "{first:?}");
            let looks = fault.shows.iter().filter(|shows| shows.at.as_str() == "steam/strength");
            assert!(looks.clone().all(|shows| shows.choice.as_str() == "none"), "nothing heats");
            continue;
        }
        let (n, loss) = (f64::from(elements), 9000.0 / 15.0);
        let slowest = (9000.0 - loss) / (9000.0 * (n - 1.0) / n - loss);
        assert!((first.from() - n / (n - 1.0)).abs() < 1e-9, "{elements}: {first:?}");
        assert!((first.to() - slowest).abs() < 1e-9, "{elements}: {first:?} {slowest}");
    }
}

#[test]
fn what_is_missing_or_impossible_on_the_plate_is_named_with_what_would_be_right() {
    let refused = |change: &dyn Fn(&mut Value)| changed(change).unwrap_err();
    let missing = refused(&|plate| {
        for field in ["vessel_l", "drain_time_s", "steam_time_s", "heater"] {
            plate.as_object_mut().unwrap().remove(field);
        }
    });
    let pointers: Vec<_> = missing.iter().map(|violation| violation.pointer.as_str()).collect();
    assert_eq!(pointers, ["/vessel_l", "/drain_time_s", "/heater", "/steam_time_s"]);
    assert!(missing[0].detail.contains("from 0.3 to 500 L"), "{}", missing[0].detail);
    let too_fast = refused(&|plate| plate["heater"]["heating_time_s"] = json!(60.0));
    assert_eq!(too_fast[0].pointer, "/heater/heating_time_s");
    // 6 L, 4.18 kJ/(kg K), 80 K, 9 kW less the fifteenth that is lost: 239 s.
    assert!(too_fast[0].detail.contains("no less than 239 s"), "{}", too_fast[0].detail);
    let gushing = refused(&|plate| plate["fill_time_s"] = json!(1.5));
    assert_eq!(gushing[0].pointer, "/fill_time_s");
    let falling = refused(&|plate| plate["wash_stages_cel"] = json!([80.0, 60.0]));
    assert!(falling.iter().any(|violation| violation.pointer == "/wash_stages_cel/1"), "{falling:?}");
    let outside = refused(&|plate| plate["positions"].as_array_mut().unwrap().push(json!("site_pressure")));
    assert_eq!(outside[0].pointer, "/positions");
    let not_a_number = {
        let mut plate = serde_json::from_value::<Plate>(steamer()).unwrap();
        (plate.vessel_l, plate.static_pressure_bar) = (Some(f64::NAN), f64::INFINITY);
        Draft::of(&plate).unwrap_err()
    };
    assert_eq!(not_a_number.len(), 2, "{not_a_number:?}");
}

#[test]
fn a_person_changes_limits_and_is_told_which_cannot_be() {
    let limit = |procedure: &str, step: &str, quantity: &str, upper: f64, unit: &str| {
        let of = json!({"procedure": procedure, "step": step});
        json!({"of": of, "quantity": quantity, "upper": upper, "unit": unit})
    };
    let with = |limits: Vec<Value>| changed(|plate| plate["functional_limits"] = json!(limits.clone()));
    let of = Measurement::value("steam", "time_to_steam");
    let upper = |draft: &Draft| draft.model.functional_limit(&of).unwrap().upper.unwrap();
    let drafted_limit = upper(&drafted(steamer()).unwrap());
    assert!((drafted_limit - 840.0).abs() < 1e-9, "twice the usual, as on the demo combi: {drafted_limit}");
    let changed_limit = with(vec![limit("steam", "time_to_steam", "duration", 9.0, "min")]).unwrap();
    assert!((upper(&changed_limit) - 9.0).abs() < 1e-9);
    for (limits, pointer, says) in [
        (vec![limit("steam", "time_to_steam", "duration", 300.0, "s")], "/functional_limits/0", "420 s"),
        (vec![limit("steam", "time_to_steam", "duration", 9.0, "bar")], "/functional_limits/0", "min"),
        (
            vec![limit("steam", "time_to_steam", "volume", 9.0, "L")],
            "/functional_limits/0/quantity",
            "duration",
        ),
        (
            vec![limit("wash_flow_hold", "hold_time", "duration", 60.0, "s")],
            "/functional_limits/0/of",
            "steam/time_to_steam",
        ),
        (
            vec![limit("steam", "time_to_steam", "duration", 600.0, "s"); 2],
            "/functional_limits/1/of",
            "keep one",
        ),
    ] {
        let violations = with(limits).unwrap_err();
        let found = violations.iter().find(|of| of.pointer == pointer);
        assert!(found.is_some_and(|of| of.detail.contains(says)), "{pointer} {says}: {violations:?}");
    }
}

#[test]
fn positions_are_switched_off_one_by_one_and_the_draft_stays_valid() {
    let plate: Plate = serde_json::from_value(steamer()).unwrap();
    let whole = Draft::of(&plate).unwrap();
    for position in &plate.positions {
        let mut without = plate.clone();
        without.positions.remove(position);
        match Draft::of(&without) {
            Ok(draft) => {
                assert!(draft.faults.at(*position).next().is_none(), "{position}");
                assert!(draft.faults.faults.len() <= whole.faults.faults.len(), "{position}");
                Tables::compile(&draft.faults, &draft.model, built_in_procedures()).unwrap();
            }
            // What the fill valve fills cannot go before the valve does.
            Err(violations) => assert_eq!(*position, Position::Sump, "{violations:?}"),
        }
    }
}

/// Whoever sends the plate of a built-in machine gets that machine's numbers again, as far as a plate says them.
#[test]
fn the_plate_of_a_built_in_machine_gives_its_typical_values_again() {
    for (plate, model) in
        [(plate_of("demo_combi"), demo_combi()), (plate_of("demo_warewasher"), demo_warewasher())]
    {
        let draft = drafted(plate).unwrap();
        for typical in &model.typical_values {
            let Some(again) = draft.model.typical_value(&typical.of) else {
                panic!("{} has no {:?}", model.key, typical.of)
            };
            let near = (again.value - typical.value).abs() <= 0.02 * typical.value.abs() + 1e-9;
            assert!(near, "{} {:?}: {} for {}", model.key, typical.of, again.value, typical.value);
        }
        for limit in &model.functional_limits {
            assert!(draft.model.functional_limit(&limit.of).is_some(), "{} {:?}", model.key, limit.of);
        }
    }
}

/// Faults, readings and looks of the draft and of the catalogue that somebody wrote for the same machine.
#[test]
fn a_draft_of_the_demo_combi_has_all_of_its_faults() {
    let draft = drafted(plate_of("demo_combi")).unwrap();
    let missing = |draft: &FaultCatalogue, whole: &FaultCatalogue| -> Vec<String> {
        let faults = whole.faults.iter().filter(|fault| draft.fault(fault.key.as_str()).is_none());
        let read = whole.measurements.iter().filter(|of| draft.measurements.iter().all(|d| d.key != of.key));
        let looked = whole.inspections.iter().filter(|of| draft.inspections.iter().all(|d| d.key != of.key));
        faults
            .map(|of| of.key.to_string())
            .chain(read.map(|of| of.key.to_string()))
            .chain(looked.map(|of| of.key.to_string()))
            .collect()
    };
    assert_eq!(missing(&draft.faults, demo_combi_faults()), Vec::<String>::new());
}

#[test]
fn pressures_go_with_the_plate() {
    let draft = changed(|plate| plate["static_pressure_bar"] = json!(4.5)).unwrap();
    for (step, expected) in
        [("static_pressure", 4.5), ("dynamic_pressure", draft.model.reference.dynamic_pressure_bar)]
    {
        let typical = draft.model.typical_value(&Measurement::value("inlet_pressure", step)).unwrap();
        assert!((typical.value - expected).abs() < 1e-3, "{typical:?}");
    }
    let of_plate = |faults: &FaultCatalogue, model: &Model| {
        faults.spreads.site_pressure_bar / model.reference.static_pressure_bar
    };
    let general = of_plate(demo_combi_faults(), demo_combi());
    assert!((of_plate(&draft.faults, &draft.model) - general).abs() < 1e-3);
}

mod any_plate {
    use std::cell::Cell;
    use std::collections::BTreeSet;

    use proptest::prelude::*;
    use proptest::test_runner::TestRunner;

    use domain::draft::PlateHeater;
    use domain::equipment::HeaterWiring;
    use domain::text::Name;

    use super::{Draft, Key, Plate, Position};

    const NOTHING: [f64; 4] = [f64::NAN, f64::INFINITY, 0.0, -1.0];

    /// Mostly what a machine may have, of any size; now and then what none has, or nothing.
    fn number(low: f64, high: f64) -> impl Strategy<Value = Option<f64>> {
        prop_oneof![
            30 => (low.ln()..high.ln()).prop_map(|exponent| Some(exponent.exp())),
            1 => Just(None),
            1 => prop::sample::select(&NOTHING[..]).prop_map(Some),
        ]
    }

    type Numbers = (Option<f64>, Option<f64>, Option<f64>, Option<f64>);
    type Heat = (u32, Option<f64>, Option<f64>, Option<f64>);
    type Drawn = (Vec<Position>, Numbers, Numbers, Heat, Vec<f64>, Option<f64>);

    fn plate() -> impl Strategy<Value = Plate> {
        let own: Vec<_> = Position::ALL.iter().copied().filter(|position| !position.is_external()).collect();
        let positions = prop_oneof![
            20 => prop::sample::subsequence(own, 1..28),
            1 => prop::sample::subsequence(Position::ALL, 1..32),
        ];
        let water = (number(0.3, 60.0), number(5.0, 600.0), number(1.0, 120.0), number(10.0, 1800.0));
        let wash = (number(1.0, 1000.0), number(5.0, 600.0), number(0.1, 30.0), number(1.0, 100.0));
        let heat = (1_u32..26, number(500.0, 20_000.0), number(300.0, 14_400.0), number(5.0, 3600.0));
        let stages = prop::collection::vec(10.0..101.0, 0..4);
        (positions, water, wash, heat, stages, number(0.3, 10.0)).prop_map(
            |(positions, water, wash, heat, mut stages, pressure): Drawn| {
                stages.sort_by(f64::total_cmp);
                // Most machines hold water and heat it for a while.
                let positions: BTreeSet<_> = positions.into_iter().chain([Position::Sump]).collect();
                Plate {
                    key: Key::new("any").unwrap(),
                    title: Name::new("Any machine").unwrap(),
                    positions,
                    static_pressure_bar: pressure.unwrap_or(3.0),
                    supply_voltage_v: 230.0,
                    water_temperature_cel: 12.0,
                    vessel_l: water.0,
                    fill_time_s: water.1,
                    fill_allowed_s: heat.3,
                    regulator_from_bar: wash.0.filter(|flow| *flow < 3.0),
                    start_up_call_s: water.2,
                    wash_flow_l_per_min: wash.0,
                    wash_run_s: wash.1,
                    motor_current_a: wash.2,
                    capacitor_uf: wash.3,
                    drain_time_s: water.3,
                    dose_ml: wash.3,
                    rinse_volume_l: water.0,
                    heater: heat.1.map(|power_per_element_w| PlateHeater {
                        elements: heat.0,
                        power_per_element_w,
                        wiring: HeaterWiring::SinglePhase,
                        rated_voltage_v: 230.0,
                        heating_time_s: heat.2,
                    }),
                    steam_time_s: heat.3,
                    wash_stages_cel: stages,
                    highest_temperature_cel: None,
                    functional_limits: Vec::new(),
                }
            },
        )
    }

    /// A draft is valid, or what is wrong stands at a field of the plate: nobody is told of a number that the draft
    /// worked out.
    #[test]
    fn is_drafted_or_told_what_is_wrong_with_it() {
        let drafted = Cell::new(0);
        let mut runner = TestRunner::new(ProptestConfig::with_cases(1500));
        let outcome = runner.run(&plate(), |plate| {
            let sent = serde_json::to_value(&plate).unwrap();
            match Draft::of(&plate) {
                Ok(draft) => {
                    drafted.set(drafted.get() + 1);
                    prop_assert_eq!(draft.model.positions, plate.positions);
                }
                Err(violations) => {
                    for of in violations {
                        let field = of.pointer.trim_start_matches('/').split('/').next().unwrap();
                        prop_assert!(sent.get(field).is_some(), "{}: {}", of.pointer, of.detail);
                    }
                }
            }
            Ok(())
        });
        assert_eq!(outcome, Ok(()));
        assert!(drafted.get() > 60, "of any plates many can be: {}", drafted.get());
    }
}
