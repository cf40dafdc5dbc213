//! Steam from power.
//!
//! Source: energy balance with enthalpies of IAPWS-IF97.

use super::{PhysicsError, if97};
use crate::quantity::{AbsolutePressure, Power, Temperature};

/// kg/h of saturated steam at this pressure from feed water at this temperature: `ṁ = P/(h_g − h_feed)`.
/// Feed at boiling temperature gives `P/(h_g − h_f)`. Losses are not in it: give the net power.
///
/// ```
/// use domain::physics::steam::rate;
/// use domain::quantity::{AbsolutePressure, Power, Temperature};
/// let kilowatt = Power::from_watts(1000.0).unwrap();
/// let feed = Temperature::from_celsius(15.0).unwrap();
/// let rate = rate(kilowatt, feed, AbsolutePressure::STANDARD_ATMOSPHERE).unwrap();
/// assert!((rate - 1.378).abs() < 0.001);
/// ```
pub fn rate(power: Power, feed: Temperature, pressure: AbsolutePressure) -> Result<f64, PhysicsError> {
    let boiling = if97::saturation_temperature(pressure)?;
    let steam = if97::steam(boiling, pressure)?.enthalpy;
    let water = if97::liquid(feed, pressure)?.enthalpy;
    Ok(power.watts() * 3.6 / (steam - water))
}

/// Enthalpy of evaporation `h_g − h_f` in kJ/kg, 0 °C to 350 °C.
pub fn enthalpy_of_evaporation(temperature: Temperature) -> Result<f64, PhysicsError> {
    let pressure = if97::saturation_pressure(temperature)?;
    Ok(if97::steam(temperature, pressure)?.enthalpy - if97::liquid(temperature, pressure)?.enthalpy)
}
