//! Platinum resistance probes, Pt100 and Pt1000.
//!
//! Source: IEC 60751: `R = R₀·(1 + A·t + B·t² + C·(t − 100)·t³)`, C only below 0 °C, −200 °C to 850 °C;
//! tolerance classes with their ranges (the ranges from memory).

use serde::{Deserialize, Serialize};

use super::{PhysicsError, positive, within};
use crate::quantity::{Resistance, Temperature, TemperatureInterval};

const A: f64 = 3.908_3e-3;
const B: f64 = -5.775e-7;
const C: f64 = -4.183e-12;
const RANGE_CELSIUS: (f64, f64) = (-200.0, 850.0);

/// R₀ of a Pt100, Ω.
pub const PT100: f64 = 100.0;
/// R₀ of a Pt1000, Ω.
pub const PT1000: f64 = 1000.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ToleranceClass {
    Aa,
    A,
    B,
    C,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Construction {
    WireWound,
    ThinFilm,
}

/// How the probe is connected, and so whether its leads are in the reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Connection {
    /// Both leads are in the reading: their resistance, there and back, is subtracted.
    TwoWire {
        leads: Resistance,
    },
    ThreeWire,
    FourWire,
}

/// Resistance at a temperature; `r0` is [`PT100`] or [`PT1000`].
pub fn resistance(temperature: Temperature, r0: f64) -> Result<Resistance, PhysicsError> {
    let t = within("the temperature of the probe", temperature.celsius(), RANGE_CELSIUS, "Cel")?;
    Ok(Resistance::from_ohms(positive("the resistance at 0 °C", r0)? * ratio(t))?)
}

/// Temperature from a resistance: `t = (−A + sqrt(A² − 4B(1 − R/R₀)))/(2B)` from 0 °C on, Newton's method
/// on the full equation below.
///
/// ```
/// use domain::physics::platinum::{Connection, PT100, temperature};
/// use domain::quantity::Resistance;
/// let ohms = |value| Resistance::from_ohms(value).unwrap();
/// let hot = temperature(ohms(135.9), PT100, Connection::TwoWire { leads: ohms(0.4) }).unwrap();
/// assert!((hot.celsius() - 92.1).abs() < 0.1);
/// ```
pub fn temperature(
    reading: Resistance,
    r0: f64,
    connection: Connection,
) -> Result<Temperature, PhysicsError> {
    let leads = match connection {
        Connection::TwoWire { leads } => leads.ohms(),
        Connection::ThreeWire | Connection::FourWire => 0.0,
    };
    let measured = (reading.ohms() - leads) / positive("the resistance at 0 °C", r0)?;
    let (lowest, highest) = (ratio(RANGE_CELSIUS.0), ratio(RANGE_CELSIUS.1));
    within("the resistance over that at 0 °C", measured, (lowest, highest), "1")?;
    let mut t = (-A + (A * A - 4.0 * B * (1.0 - measured)).sqrt()) / (2.0 * B);
    if measured < 1.0 {
        for _ in 0..10 {
            t -= (ratio(t) - measured) / slope(t);
        }
    }
    // The ends of the range come back a rounding error outside it.
    Ok(Temperature::from_celsius(t.clamp(RANGE_CELSIUS.0, RANGE_CELSIUS.1))?)
}

/// What the class allows at a temperature, ±. An error outside the range of the class, and for AA and A
/// in two-wire connection, where the leads alone may exceed it.
pub fn tolerance(
    class: ToleranceClass,
    construction: Construction,
    connection: Connection,
    temperature: Temperature,
) -> Result<TemperatureInterval, PhysicsError> {
    use Construction::{ThinFilm, WireWound};
    let (constant, share, range) = match (class, construction) {
        (ToleranceClass::Aa, WireWound) => (0.1, 0.0017, (-50.0, 250.0)),
        (ToleranceClass::Aa, ThinFilm) => (0.1, 0.0017, (0.0, 150.0)),
        (ToleranceClass::A, WireWound) => (0.15, 0.002, (-100.0, 450.0)),
        (ToleranceClass::A, ThinFilm) => (0.15, 0.002, (-30.0, 300.0)),
        (ToleranceClass::B, WireWound) => (0.3, 0.005, (-196.0, 600.0)),
        (ToleranceClass::B, ThinFilm) => (0.3, 0.005, (-50.0, 500.0)),
        (ToleranceClass::C, WireWound) => (0.6, 0.01, (-196.0, 600.0)),
        (ToleranceClass::C, ThinFilm) => (0.6, 0.01, (-50.0, 600.0)),
    };
    let two_wire = matches!(connection, Connection::TwoWire { .. });
    if two_wire && matches!(class, ToleranceClass::Aa | ToleranceClass::A) {
        return Err(PhysicsError::ClassNeedsMoreWires);
    }
    let t = within("the temperature for this tolerance class", temperature.celsius(), range, "Cel")?;
    Ok(TemperatureInterval::from_kelvin(constant + share * t.abs())?)
}

/// The same tolerance seen as resistance: tolerance times dR/dt.
pub fn tolerance_as_resistance(
    tolerance: TemperatureInterval,
    temperature: Temperature,
    r0: f64,
) -> Result<Resistance, PhysicsError> {
    let t = within("the temperature of the probe", temperature.celsius(), RANGE_CELSIUS, "Cel")?;
    Ok(Resistance::from_ohms(tolerance.kelvin() * slope(t) * positive("the resistance at 0 °C", r0)?)?)
}

/// R/R₀.
fn ratio(t: f64) -> f64 {
    let below_zero = if t < 0.0 { C * (t - 100.0) * t.powi(3) } else { 0.0 };
    1.0 + A * t + B * t * t + below_zero
}

/// d(R/R₀)/dt.
fn slope(t: f64) -> f64 {
    let below_zero = if t < 0.0 { C * (4.0 * t.powi(3) - 300.0 * t * t) } else { 0.0 };
    A + 2.0 * B * t + below_zero
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn celsius(value: f64) -> Temperature {
        Temperature::from_celsius(value).unwrap()
    }

    #[test]
    fn classes_keep_to_their_ranges_and_wires() {
        let leads = Resistance::from_ohms(0.4).unwrap();
        let two_wire = Connection::TwoWire { leads };
        let film = Construction::ThinFilm;
        assert_eq!(
            tolerance(ToleranceClass::A, film, two_wire, celsius(92.0)),
            Err(PhysicsError::ClassNeedsMoreWires)
        );
        assert!(tolerance(ToleranceClass::B, film, two_wire, celsius(92.0)).is_ok());
        assert!(tolerance(ToleranceClass::Aa, film, Connection::FourWire, celsius(151.0)).is_err());
        assert!(
            tolerance(ToleranceClass::Aa, Construction::WireWound, Connection::FourWire, celsius(151.0))
                .is_ok()
        );
        let far = Resistance::from_ohms(400.0).unwrap();
        assert!(temperature(far, PT100, Connection::FourWire).is_err(), "an open probe is no temperature");
    }

    proptest! {
        #[test]
        fn a_temperature_survives_the_way_to_resistance_and_back(t in -200.0..850.0_f64, pt1000 in any::<bool>()) {
            let r0 = if pt1000 { PT1000 } else { PT100 };
            let back = temperature(resistance(celsius(t), r0).unwrap(), r0, Connection::FourWire).unwrap();
            prop_assert!((back.celsius() - t).abs() < 1e-9);
        }
    }
}
