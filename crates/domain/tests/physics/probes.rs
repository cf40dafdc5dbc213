//! Topic 5: platinum probes and thermocouples.

use crate::record::Record;
use crate::{check, unknown};
use domain::physics::platinum::{self, Connection, Construction, PT100, PT1000};
use domain::physics::thermocouple;
use domain::quantity::{Resistance, Temperature};

#[test]
fn probes() {
    check(include_str!("../../../../tests/reference/probes.json"), |record| {
        let quantity = record.quantity();
        let is = |words: &str| quantity.contains(words);
        if is("IEC table") {
            vec![resistance(record.input("t_C"), record.input("R0_ohm"))]
        } else if is("full precision") {
            vec![resistance(record.input("t_C"), PT100), resistance(record.input("t_C"), PT1000)]
        } else if is("temperature of a Pt100") {
            let reading = Resistance::from_ohms(record.input("R_ohm")).unwrap();
            vec![platinum::temperature(reading, PT100, Connection::FourWire).unwrap().celsius()]
        } else if is("Pt tolerance classes") {
            use platinum::ToleranceClass::{A, Aa, B, C};
            [Aa, A, B, C].map(|class| tolerance(class, record)).to_vec()
        } else if is("permitted deviation") {
            use platinum::ToleranceClass::{A, B};
            [A, B].into_iter().flat_map(|class| deviation(class, record)).collect()
        } else if is("type K emf") {
            vec![thermocouple::millivolts(celsius(record.input("t_C"))).unwrap()]
        } else if is("cold-junction compensation") {
            let terminals = celsius(record.input("t_cj_C"));
            vec![thermocouple::temperature(record.input("E_mV"), terminals).unwrap().celsius()]
        } else if is("Seebeck") {
            vec![thermocouple::seebeck(celsius(record.input("t_C"))).unwrap()]
        } else if is("type K tolerance") {
            use thermocouple::ToleranceClass::{One, Two};
            let at = celsius(record.input("t_C"));
            [One, Two].map(|class| thermocouple::tolerance(class, at).unwrap().kelvin()).to_vec()
        } else {
            unknown(record)
        }
    });
}

fn resistance(t: f64, r0: f64) -> f64 {
    platinum::resistance(celsius(t), r0).unwrap().ohms()
}

fn tolerance(class: platinum::ToleranceClass, record: &Record) -> f64 {
    let at = celsius(record.input("t_C"));
    // Beyond the range of wire-wound class AA the record states the formula, which has no valid range.
    if class == platinum::ToleranceClass::Aa && at.celsius() > 250.0 {
        assert!(platinum::tolerance(class, Construction::WireWound, Connection::FourWire, at).is_err());
        return 0.1 + 0.0017 * at.celsius();
    }
    platinum::tolerance(class, Construction::WireWound, Connection::FourWire, at).unwrap().kelvin()
}

fn deviation(class: platinum::ToleranceClass, record: &Record) -> [f64; 2] {
    let at = celsius(record.input("t_C"));
    let allowed = platinum::tolerance(class, Construction::WireWound, Connection::FourWire, at).unwrap();
    [allowed.kelvin(), platinum::tolerance_as_resistance(allowed, at, PT100).unwrap().ohms()]
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value).unwrap()
}
