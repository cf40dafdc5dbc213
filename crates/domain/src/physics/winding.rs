//! Resistance of copper windings by temperature.
//!
//! Source: IEC 60028 (k = 234.5 °C) and IEC 60034-1, resistance method (k = 235 °C; from memory). The
//! constant is an argument, because the standards differ.
//!
//! Measured with direct current on a winding disconnected from everything else, and proven dead; a
//! rectifier in the way makes the reading worthless.

use super::{PhysicsError, positive, within};
use crate::quantity::{Resistance, Temperature, TemperatureInterval};

/// The constant k of copper in °C: IEC 60028.
pub const COPPER_IEC_60028: f64 = 234.5;
/// The constant k of copper in °C: IEC 60034-1 (from memory).
pub const COPPER_IEC_60034: f64 = 235.0;

/// Temperatures of a winding to which the law is applied.
const RANGE_CELSIUS: (f64, f64) = (-50.0, 250.0);

/// `R₂ = R₁·(k + T₂)/(k + T₁)`, −50 °C to 250 °C.
///
/// ```
/// use domain::physics::winding::{COPPER_IEC_60028, resistance_at};
/// use domain::quantity::{Resistance, Temperature};
/// let celsius = |value| Temperature::from_celsius(value).unwrap();
/// let cold = Resistance::from_ohms(8.2).unwrap();
/// let hot = resistance_at(cold, celsius(22.0), celsius(130.0), COPPER_IEC_60028).unwrap();
/// assert!((hot.ohms() - 11.6526).abs() < 1e-4);
/// ```
pub fn resistance_at(
    resistance: Resistance,
    measured_at: Temperature,
    wanted_at: Temperature,
    constant: f64,
) -> Result<Resistance, PhysicsError> {
    let ratio = (constant_of_copper(constant)? + in_range(wanted_at)?) / (constant + in_range(measured_at)?);
    Ok(Resistance::from_ohms(resistance.ohms() * ratio)?)
}

/// Rise of a winding above its surroundings at the end of a test:
/// `Δθ = (R₂ − R₁)/R₁·(k + T₁) + T₁ − T_a`, R₁ cold at T₁, T_a the surroundings at the end.
pub fn temperature_rise(
    cold: Resistance,
    cold_at: Temperature,
    hot: Resistance,
    surroundings: Temperature,
    constant: f64,
) -> Result<TemperatureInterval, PhysicsError> {
    let ratio = hot.ohms() / positive("the cold resistance", cold.ohms())?;
    let warmer = (ratio - 1.0) * (constant_of_copper(constant)? + in_range(cold_at)?);
    within("the temperature of the winding", cold_at.celsius() + warmer, RANGE_CELSIUS, "Cel")?;
    Ok(TemperatureInterval::from_kelvin(warmer + cold_at.celsius() - surroundings.celsius())?)
}

fn constant_of_copper(constant: f64) -> Result<f64, PhysicsError> {
    within("the constant of copper", constant, (COPPER_IEC_60028, COPPER_IEC_60034), "Cel")
}

fn in_range(temperature: Temperature) -> Result<f64, PhysicsError> {
    within("the temperature of the winding", temperature.celsius(), RANGE_CELSIUS, "Cel")
}
