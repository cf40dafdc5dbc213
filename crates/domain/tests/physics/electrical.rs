//! Topic 6: windings, elements, capacitors, insulation.

use crate::{check, unknown};
use domain::equipment::HeaterWiring;
use domain::physics::heating::{Heater, HeaterState};
use domain::physics::marked_value::MarkedValue;
use domain::physics::winding::{COPPER_IEC_60028, COPPER_IEC_60034, resistance_at, temperature_rise};
use domain::physics::{circuit, insulation};
use domain::quantity::{Current, Frequency, InsulationResistance, Power, Resistance, Temperature, Voltage};

#[test]
fn electrical() {
    check(include_str!("../../../../tests/reference/electrical.json"), |record| {
        let quantity = record.quantity();
        let is = |words: &str| quantity.contains(words);
        let input = |name| record.input(name);
        if is("copper winding resistance") {
            let cold = ohms(input("R1_ohm"));
            [COPPER_IEC_60028, COPPER_IEC_60034]
                .map(|k| {
                    resistance_at(cold, celsius(input("t1_C")), celsius(input("t2_C")), k).unwrap().ohms()
                })
                .to_vec()
        } else if is("winding temperature rise") {
            let (cold, hot) = (ohms(input("R1_ohm")), ohms(input("R2_ohm")));
            let (cold_at, around) = (celsius(input("t1_C")), celsius(input("ta_C")));
            [COPPER_IEC_60028, COPPER_IEC_60034]
                .map(|k| temperature_rise(cold, cold_at, hot, around, k).unwrap().kelvin())
                .to_vec()
        } else if is("temperature coefficient of copper") {
            let warmer = resistance_at(ohms(1.0), celsius(20.0), celsius(21.0), input("k")).unwrap();
            vec![warmer.ohms() - 1.0]
        } else if is("AC solenoid coil") {
            let hertz = Frequency::from_hertz(input("f_Hz")).unwrap();
            let coil = circuit::coil(volts(input("U_V")), amperes(input("I_A")), ohms(input("R_ohm")), hertz);
            let coil = coil.unwrap();
            vec![
                coil.impedance.ohms(),
                coil.reactance.ohms(),
                coil.inductance,
                coil.power.watts(),
                coil.power_factor.fraction(),
            ]
        } else if is("heating element resistance") {
            let (voltage, power) = (volts(input("U_V")), watts(input("P_W")));
            vec![
                circuit::element_resistance(voltage, power).unwrap().ohms(),
                circuit::element_current(voltage, power).unwrap().amperes(),
            ]
        } else if is("three-phase heater") {
            three_equal_elements(input("U_V"), input("P_W"))
        } else if is("between two line terminals") {
            let read = circuit::delta_terminals(ohms(input("R_ohm"))).unwrap();
            vec![read.whole.ohms(), read.beside_the_open_element.ohms(), read.across_the_open_element.ohms()]
        } else if is("heater power at 207 V and 253 V") {
            [207.0, 253.0]
                .map(|u| heater(230.0, 1.0).power(volts(u), HeaterState::Whole).unwrap().watts())
                .to_vec()
        } else if is("capacitance from AC current") {
            let hertz = Frequency::from_hertz(input("f_Hz")).unwrap();
            let found = circuit::capacitance(volts(input("U_V")), amperes(input("I_A")), hertz);
            vec![found.unwrap().microfarads()]
        } else if is("capacitor tolerance band") {
            [5.0, 10.0].into_iter().flat_map(|percent| band(input("Cn_uF"), percent)).collect()
        } else if is("insulation resistance corrected") {
            let reading = InsulationResistance::from_megaohms(input("R_T_MOhm")).unwrap();
            vec![insulation::at_40_celsius(reading, celsius(input("T_C"))).unwrap().megaohms()]
        } else {
            unknown(record)
        }
    });
}

fn band(nominal: f64, percent: f64) -> [f64; 2] {
    let marked = MarkedValue { nominal, minus_percent: percent, plus_percent: percent };
    let bounds = marked.bounds().unwrap();
    [bounds.lower.unwrap(), bounds.upper.unwrap()]
}

/// Resistance and current of an element in delta, current of a line, power of the three in star.
fn three_equal_elements(line_volts: f64, power: f64) -> Vec<f64> {
    let of_one = watts(power / 3.0);
    let in_star = heater(line_volts, power).power(volts(line_volts / 3.0_f64.sqrt()), HeaterState::Whole);
    vec![
        circuit::element_resistance(volts(line_volts), of_one).unwrap().ohms(),
        circuit::element_current(volts(line_volts), of_one).unwrap().amperes(),
        circuit::element_current(volts(3.0_f64.sqrt() * line_volts), watts(power)).unwrap().amperes(),
        in_star.unwrap().watts(),
    ]
}

fn heater(rated_volts: f64, rated_watts: f64) -> Heater {
    Heater {
        elements: 3,
        wiring: HeaterWiring::Delta,
        rated_power: watts(rated_watts),
        rated_voltage: volts(rated_volts),
        loss: watts(0.0),
        heat_capacity: 1.0,
    }
}

fn ohms(value: f64) -> Resistance {
    Resistance::from_ohms(value).unwrap()
}

fn volts(value: f64) -> Voltage {
    Voltage::from_volts(value).unwrap()
}

fn amperes(value: f64) -> Current {
    Current::from_amperes(value).unwrap()
}

fn watts(value: f64) -> Power {
    Power::from_watts(value).unwrap()
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value).unwrap()
}
