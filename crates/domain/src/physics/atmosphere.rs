//! Air pressure by altitude, and the boiling point that it sets.
//!
//! Source: ISO 2533:1975, standard atmosphere, lowest layer (up to 11 km): `p = p₀·(1 − L·H/T₀)^(g/(R·L))`
//! with geopotential altitude H. The weather moves the true pressure by some ±3 %.

use super::{PhysicsError, if97, within};
use crate::quantity::{AbsolutePressure, Altitude, Temperature};

const SEA_LEVEL_TEMPERATURE_K: f64 = 288.15;
const LAPSE_K_PER_M: f64 = 0.006_5;
/// g/(R·L) with g = 9.806 65 m/s² and R = 287.052 87 J/(kg·K).
const EXPONENT: f64 = 9.806_65 / (287.052_87 * LAPSE_K_PER_M);
/// The standard's nominal radius of the Earth, m.
const EARTH_RADIUS_M: f64 = 6_356_766.0;

/// Standard pressure at a height above sea level, as a map or a survey gives it.
pub fn pressure(altitude: Altitude) -> Result<AbsolutePressure, PhysicsError> {
    let height = altitude.metres();
    pressure_at_geopotential(EARTH_RADIUS_M * height / (EARTH_RADIUS_M + height))
}

/// Standard pressure at a geopotential altitude in metres, −1000 m to 11 000 m.
pub fn pressure_at_geopotential(metres: f64) -> Result<AbsolutePressure, PhysicsError> {
    let height = within("the geopotential altitude", metres, (-1000.0, 11_000.0), "m")?;
    let ratio = (1.0 - LAPSE_K_PER_M * height / SEA_LEVEL_TEMPERATURE_K).powf(EXPONENT);
    Ok(AbsolutePressure::from_bar(AbsolutePressure::STANDARD_ATMOSPHERE.bar() * ratio)?)
}

/// Where water boils at this altitude in the standard atmosphere. A stage hotter than this is out of
/// reach in an open cavity.
///
/// ```
/// use domain::physics::atmosphere::boiling_point;
/// use domain::quantity::Altitude;
/// let high = boiling_point(Altitude::from_metres(2500.0).unwrap()).unwrap();
/// assert!(high.celsius() < 92.0);
/// ```
pub fn boiling_point(altitude: Altitude) -> Result<Temperature, PhysicsError> {
    if97::saturation_temperature(pressure(altitude)?)
}
