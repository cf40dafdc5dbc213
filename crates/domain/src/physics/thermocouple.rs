//! Thermocouples of type K.
//!
//! Source: reference function of ITS-90 (IEC 60584-1; coefficients as in NIST Monograph 175, table for
//! type K), −270 °C to 1372 °C, reference junction at 0 °C; tolerance classes 1 and 2 of IEC 60584-1.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, within};
use crate::quantity::{Temperature, TemperatureInterval};

/// Below −200 °C the voltage hardly changes, so temperatures are read back from there on.
const READ_BACK_CELSIUS: (f64, f64) = (-200.0, 1372.0);

/// Tolerance classes of IEC 60584-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ToleranceClass {
    /// The larger of 1.5 K and 0.4 % of |t|, −40 °C to 1000 °C.
    One,
    /// The larger of 2.5 K and 0.75 % of |t|, −40 °C to 1200 °C.
    Two,
}

/// The voltage in mV with the reference junction at 0 °C.
pub fn millivolts(temperature: Temperature) -> Result<f64, PhysicsError> {
    let t = within("the temperature of the junction", temperature.celsius(), (-270.0, 1372.0), "Cel")?;
    Ok(microvolts(t) / 1000.0)
}

/// The temperature from the voltage at terminals of a known temperature: `E(T) = E + E(T_terminals)`,
/// inverted by bisection on the reference function itself, which grows throughout.
///
/// ```
/// use domain::physics::thermocouple::temperature;
/// use domain::quantity::Temperature;
/// let terminals = Temperature::from_celsius(25.0).unwrap();
/// assert!((temperature(3.0, terminals).unwrap().celsius() - 97.681).abs() < 0.001);
/// ```
pub fn temperature(millivolts_read: f64, terminals: Temperature) -> Result<Temperature, PhysicsError> {
    let total = millivolts_read + millivolts(terminals)?;
    let (mut low, mut high) = READ_BACK_CELSIUS;
    let range = (microvolts(low) / 1000.0, microvolts(high) / 1000.0);
    let wanted = within("the voltage of the thermocouple", total, range, "mV")? * 1000.0;
    while high - low > 1e-10 * high.abs().max(1.0) {
        let middle = f64::midpoint(low, high);
        if microvolts(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(Temperature::from_celsius(f64::midpoint(low, high))?)
}

/// Seebeck coefficient in µV/K.
pub fn seebeck(temperature: Temperature) -> Result<f64, PhysicsError> {
    let t = within("the temperature of the junction", temperature.celsius(), (-270.0, 1372.0), "Cel")?;
    let slope = |coefficients: &[f64]| -> f64 {
        coefficients.iter().zip(1..).map(|(c, power)| c * f64::from(power) * t.powi(power - 1)).sum()
    };
    Ok(if t < 0.0 {
        slope(&BELOW_ZERO)
    } else {
        slope(&ABOVE_ZERO) + 2.0 * BUMP[1] * (t - BUMP[2]) * bump(t)
    })
}

/// What the class allows at a temperature, ±.
pub fn tolerance(
    class: ToleranceClass,
    temperature: Temperature,
) -> Result<TemperatureInterval, PhysicsError> {
    let (constant, share, highest) = match class {
        ToleranceClass::One => (1.5, 0.004, 1000.0),
        ToleranceClass::Two => (2.5, 0.0075, 1200.0),
    };
    let t =
        within("the temperature for this tolerance class", temperature.celsius(), (-40.0, highest), "Cel")?;
    Ok(TemperatureInterval::from_kelvin((share * t.abs()).max(constant))?)
}

/// µV; the constant term of the branch from 0 °C on and its exponential cancel at 0 °C.
fn microvolts(t: f64) -> f64 {
    let polynomial = |coefficients: &[f64]| coefficients.iter().rev().fold(0.0, |sum, c| (sum + c) * t);
    if t < 0.0 { polynomial(&BELOW_ZERO) } else { CONSTANT + polynomial(&ABOVE_ZERO) + bump(t) }
}

fn bump(t: f64) -> f64 {
    BUMP[0] * (BUMP[1] * (t - BUMP[2]).powi(2)).exp()
}

/// Coefficients of t, t², …
const BELOW_ZERO: [f64; 10] = [
    0.394_501_280_25e2,
    0.236_223_735_98e-1,
    -0.328_589_067_84e-3,
    -0.499_048_287_77e-5,
    -0.675_090_591_73e-7,
    -0.574_103_274_28e-9,
    -0.310_888_728_94e-11,
    -0.104_516_093_65e-13,
    -0.198_892_668_78e-16,
    -0.163_226_974_86e-19,
];
const CONSTANT: f64 = -0.176_004_136_86e2;
/// Coefficients of t, t², …
const ABOVE_ZERO: [f64; 9] = [
    0.389_212_049_75e2,
    0.185_587_700_32e-1,
    -0.994_575_928_74e-4,
    0.318_409_457_19e-6,
    -0.560_728_448_89e-9,
    0.560_750_590_59e-12,
    -0.320_207_200_03e-15,
    0.971_511_471_52e-19,
    -0.121_047_212_75e-22,
];
/// `a₀·exp(a₁·(t − a₂)²)`.
const BUMP: [f64; 3] = [0.118_597_6e3, -0.118_343_2e-3, 0.126_968_6e3];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_temperature_survives_the_way_to_voltage_and_back(t in -200.0..1372.0_f64) {
            let zero = Temperature::from_celsius(0.0).unwrap();
            let there = millivolts(Temperature::from_celsius(t).unwrap()).unwrap();
            let back = temperature(there, zero).unwrap();
            prop_assert!((back.celsius() - t).abs() < 1e-6);
        }
    }

    #[test]
    fn the_branches_meet_at_zero_and_nothing_lies_beyond_the_range() {
        assert!(microvolts(0.0).abs() < 1e-4);
        let zero = Temperature::from_celsius(0.0).unwrap();
        assert!(temperature(60.0, zero).is_err());
        assert!(temperature(f64::NAN, zero).is_err());
        assert!(tolerance(ToleranceClass::One, Temperature::from_celsius(1100.0).unwrap()).is_err());
    }
}
