//! What the hydraulics need to know of the water in the line.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, if97};
use crate::quantity::{AbsolutePressure, Temperature};

/// Density of water at 15 °C and 101.325 kPa in kg/m³ (IAPWS-IF97), to which relative densities refer.
const DENSITY_AT_15_CELSIUS: f64 = 999.103;

/// Properties of the water in the line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Water {
    /// Density relative to water at 15 °C, SG.
    pub relative_density: f64,
    /// Absolute vapour pressure.
    pub vapour_pressure: AbsolutePressure,
    /// m²/s.
    pub kinematic_viscosity: f64,
}

impl Water {
    /// Water at this temperature and standard pressure, 0 °C to 99 °C (IAPWS-IF97 and R12-08; line
    /// pressure changes the density by less than 0.1 %).
    ///
    /// ```
    /// use domain::{physics::liquid::Water, quantity::Temperature};
    /// let cold = Water::at(Temperature::from_celsius(15.0).unwrap()).unwrap();
    /// assert!((cold.relative_density - 1.0).abs() < 1e-5);
    /// assert!((cold.kinematic_viscosity - 1.1386e-6).abs() < 1e-10);
    /// ```
    pub fn at(temperature: Temperature) -> Result<Self, PhysicsError> {
        let density = if97::liquid(temperature, AbsolutePressure::STANDARD_ATMOSPHERE)?.density();
        Ok(Self {
            relative_density: density / DENSITY_AT_15_CELSIUS,
            vapour_pressure: if97::saturation_pressure(temperature)?,
            kinematic_viscosity: if97::viscosity(temperature, density)? / density,
        })
    }
}
