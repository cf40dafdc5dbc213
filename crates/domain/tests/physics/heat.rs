//! Topics 3 and 4: properties of water, altitude, heating and steam.

use crate::record::Record;
use crate::{check, unknown};
use domain::equipment::HeaterWiring;
use domain::physics::heating::{Heater, HeaterState, time_with_conductance, time_with_constant_loss};
use domain::physics::{atmosphere, if97, steam};
use domain::quantity::{AbsolutePressure, Altitude, Power, Temperature, Voltage};

#[test]
fn properties_of_water_and_air() {
    check(include_str!("../../../../tests/reference/water_properties.json"), |record| {
        let quantity = record.quantity();
        let is = |words: &str| quantity.contains(words);
        if is("standard atmosphere pressure") && is("boiling point") {
            let pressure = atmosphere::pressure_at_geopotential(record.input("H_m")).unwrap();
            let boiling = if97::saturation_temperature(pressure).unwrap();
            vec![pressure.kilopascals(), boiling.celsius()]
        } else if is("published table") {
            vec![atmosphere::pressure_at_geopotential(record.input("H_m")).unwrap().kilopascals() * 10.0]
        } else if is("geometric") {
            let pressure = |height| atmosphere::pressure(Altitude::from_metres(height).unwrap()).unwrap();
            record.inputs("h_m").into_iter().map(|height| pressure(height).kilopascals() * 10.0).collect()
        } else if is("saturation pressure, region 4") {
            vec![if97::saturation_pressure(kelvin(record.input("T_K"))).unwrap().megapascals()]
        } else if is("saturation temperature, region 4") {
            vec![if97::saturation_temperature(megapascals(record.input("p_MPa"))).unwrap().kelvin()]
        } else if is("saturation pressure") {
            vec![if97::saturation_pressure(celsius(record.input("t_C"))).unwrap().kilopascals()]
        } else if is("saturation temperature") {
            let pressure = megapascals(record.input("p_kPa") / 1000.0);
            vec![if97::saturation_temperature(pressure).unwrap().celsius()]
        } else if is("region 1") {
            let water =
                if97::liquid(kelvin(record.input("T_K")), megapascals(record.input("p_MPa"))).unwrap();
            vec![if is("specific volume") { water.specific_volume } else { water.heat_capacity }]
        } else if is("dynamic viscosity at rho") {
            vec![if97::viscosity(kelvin(record.input("T_K")), record.input("rho_kg_m3")).unwrap()]
        } else if is("liquid water") || is("handbook value") {
            vec![of_liquid(record)]
        } else {
            unknown(record)
        }
    });
}

#[test]
fn heating_and_steam() {
    check(include_str!("../../../../tests/reference/heating_and_steam.json"), |record| {
        let quantity = record.quantity();
        if quantity.starts_with("latent heat") {
            vec![steam::enthalpy_of_evaporation(celsius(record.input("t_C"))).unwrap()]
        } else if quantity.starts_with("steam rate per kW") {
            // The records take 100 °C, not the boiling point at standard pressure.
            let pressure = if97::saturation_pressure(celsius(100.0)).unwrap();
            let power = watts(record.input("P_kW") * 1000.0);
            vec![steam::rate(power, celsius(record.input("t_feed_C")), pressure).unwrap()]
        } else if quantity.starts_with("specific volume of saturated steam") {
            let temperature = celsius(record.input("t_C"));
            let pressure = if97::saturation_pressure(temperature).unwrap();
            vec![if97::steam(temperature, pressure).unwrap().specific_volume]
        } else if quantity.starts_with("time to heat water") {
            vec![time_to_heat(record)]
        } else if quantity.starts_with("first-order heat-up") {
            // Any conductance will do: capacity and power follow from it.
            let (conductance, surroundings) = (100.0, 20.0);
            let time = time_with_conductance(
                conductance * record.input("tau_s"),
                conductance,
                watts(conductance * (record.input("Tinf_C") - surroundings)),
                celsius(record.input("T0_C")),
                celsius(record.input("T_C")),
                celsius(surroundings),
            );
            vec![time.unwrap().seconds()]
        } else {
            unknown(record)
        }
    });
}

/// An element at 207 V gives 81 % of its power at 230 V, and one at 253 V gives 121 %.
#[test]
fn power_follows_the_square_of_the_voltage() {
    let heater = Heater {
        elements: 1,
        wiring: HeaterWiring::SinglePhase,
        rated_power: watts(1.0),
        rated_voltage: Voltage::from_volts(230.0).unwrap(),
        loss: watts(0.0),
        heat_capacity: 1.0,
    };
    for (volts, share) in [(207.0, 0.81), (253.0, 1.21)] {
        let power = heater.power(Voltage::from_volts(volts).unwrap(), HeaterState::Whole).unwrap();
        assert!((power.watts() - share).abs() < 1e-12);
    }
}

fn of_liquid(record: &Record) -> f64 {
    let temperature = celsius(record.input("t_C"));
    let pressure = megapascals(record.input("p_kPa") / 1000.0);
    // A handbook's density of water at its normal boiling point and above is that of the liquid.
    let pressure = pressure.bar().max(if97::saturation_pressure(temperature).unwrap().bar());
    let water = if97::liquid(temperature, AbsolutePressure::from_bar(pressure).unwrap()).unwrap();
    let quantity = record.quantity();
    if quantity.contains("viscosity") {
        if97::viscosity(temperature, water.density()).unwrap() * 1000.0
    } else if quantity.contains("heat capacity") {
        water.heat_capacity
    } else {
        water.density()
    }
}

fn time_to_heat(record: &Record) -> f64 {
    let input = |name| record.input(name);
    let capacity = (input("mw_kg") * input("cw_kJ_kgK") + input("ms_kg") * input("cs_kJ_kgK")) * 1000.0;
    let power = watts(input("P_kW") * 1000.0 * input("eta"));
    let (from, to) = (celsius(input("t0_C")), celsius(input("t1_C")));
    time_with_constant_loss(capacity, power, watts(0.0), from, to).unwrap().seconds()
}

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value).unwrap()
}

fn kelvin(value: f64) -> Temperature {
    Temperature::read(value, "K").unwrap()
}

fn megapascals(value: f64) -> AbsolutePressure {
    AbsolutePressure::read(value, "MPa").unwrap()
}

fn watts(value: f64) -> Power {
    Power::from_watts(value).unwrap()
}
