//! Properties of water and steam, for the temperatures of a kitchen and somewhat beyond.
//!
//! Sources: IAPWS R7-97(2012), industrial formulation 1997 (IF97): region 1 (liquid), region 2 (steam)
//! and region 4 (saturation); IAPWS R12-08, viscosity, without the critical enhancement, which matters
//! only near the critical point. Valid from 0 °C to 350 °C here, at pressures up to 100 MPa.
//!
//! ```
//! use domain::physics::if97;
//! use domain::quantity::AbsolutePressure;
//! let boiling = if97::saturation_temperature(AbsolutePressure::STANDARD_ATMOSPHERE).unwrap();
//! assert!((boiling.celsius() - 99.974).abs() < 0.001);
//! ```

mod coefficients;

use super::{PhysicsError, within};
use crate::quantity::{AbsolutePressure, Temperature};
use coefficients::{REGION_1, REGION_2_IDEAL, REGION_2_RESIDUAL, Term, VISCOSITY};

/// Specific gas constant of ordinary water, kJ/(kg·K): R7-97, equation 1.
const GAS_CONSTANT: f64 = 0.461_526;
const CRITICAL_TEMPERATURE_K: f64 = 647.096;
const CRITICAL_DENSITY: f64 = 322.0;
/// Relative slack at the saturation line, which liquid and steam share.
const ON_THE_LINE: f64 = 1e-9;

/// One phase of water at a temperature and a pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct State {
    /// m³/kg.
    pub specific_volume: f64,
    /// kJ/kg, 0 for liquid at the triple point.
    pub enthalpy: f64,
    /// Isobaric heat capacity, kJ/(kg·K).
    pub heat_capacity: f64,
}

impl State {
    /// kg/m³.
    pub fn density(&self) -> f64 {
        self.specific_volume.recip()
    }
}

/// Region 4, equation 30; 0 °C to 373.946 °C.
pub fn saturation_pressure(temperature: Temperature) -> Result<AbsolutePressure, PhysicsError> {
    let kelvin = within("the temperature", temperature.kelvin(), (273.15, CRITICAL_TEMPERATURE_K), "K")?;
    let theta = kelvin + SATURATION[8] / (kelvin - SATURATION[9]);
    let [n1, n2, n3, n4, n5, n6, n7, n8, ..] = SATURATION;
    let a = theta * theta + n1 * theta + n2;
    let b = n3 * theta * theta + n4 * theta + n5;
    let c = n6 * theta * theta + n7 * theta + n8;
    let megapascals = (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4);
    Ok(AbsolutePressure::from_bar(megapascals * 10.0)?)
}

/// Region 4, equation 31; 611.213 Pa to 22.064 MPa.
pub fn saturation_temperature(pressure: AbsolutePressure) -> Result<Temperature, PhysicsError> {
    let range = (611.213e-6, AbsolutePressure::CRITICAL_OF_WATER.megapascals());
    let megapascals = within("the pressure", pressure.megapascals(), range, "MPa")?;
    let beta = megapascals.powf(0.25);
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = SATURATION;
    let e = beta * beta + n3 * beta + n6;
    let f = n1 * beta * beta + n4 * beta + n7;
    let g = n2 * beta * beta + n5 * beta + n8;
    let d = 2.0 * g / (-f - (f * f - 4.0 * e * g).sqrt());
    let kelvin = (n10 + d - ((n10 + d).powi(2) - 4.0 * (n9 + n10 * d)).sqrt()) / 2.0;
    Ok(Temperature::from_celsius(kelvin - 273.15)?)
}

/// Region 1: liquid water, 0 °C to 350 °C, from the saturation pressure to 100 MPa.
pub fn liquid(temperature: Temperature, pressure: AbsolutePressure) -> Result<State, PhysicsError> {
    let kelvin = within("the temperature of the liquid", temperature.kelvin(), (273.15, 623.15), "K")?;
    let boiling = saturation_pressure(temperature)?.megapascals() * (1.0 - ON_THE_LINE);
    let megapascals = within("the pressure of the liquid", pressure.megapascals(), (boiling, 100.0), "MPa")?;
    let (pi, tau) = (megapascals / 16.53, 1386.0 / kelvin);
    let (x, y) = (7.1 - pi, tau - 1.222);
    let gamma = Derivatives::sum(&REGION_1, x, y);
    // The first variable runs against the pressure.
    Ok(state(kelvin, megapascals, pi, tau, Derivatives { first: -gamma.first, ..gamma }))
}

/// Region 2 below 350 °C: steam up to the saturation pressure.
pub fn steam(temperature: Temperature, pressure: AbsolutePressure) -> Result<State, PhysicsError> {
    let kelvin = within("the temperature of the steam", temperature.kelvin(), (273.15, 623.15), "K")?;
    let boiling = saturation_pressure(temperature)?.megapascals() * (1.0 + ON_THE_LINE);
    let megapascals =
        within("the pressure of the steam", pressure.megapascals(), (f64::MIN_POSITIVE, boiling), "MPa")?;
    let (pi, tau) = (megapascals, 540.0 / kelvin);
    let ideal = Derivatives::sum(&REGION_2_IDEAL, 1.0, tau);
    let residual = Derivatives::sum(&REGION_2_RESIDUAL, pi, tau - 0.5);
    let gamma = Derivatives {
        first: pi.recip() + residual.first,
        second: ideal.second + residual.second,
        second_twice: ideal.second_twice + residual.second_twice,
    };
    Ok(state(kelvin, megapascals, pi, tau, gamma))
}

/// Dynamic viscosity in Pa·s at this density in kg/m³.
pub fn viscosity(temperature: Temperature, density: f64) -> Result<f64, PhysicsError> {
    let kelvin = within("the temperature", temperature.kelvin(), (273.15, 623.15), "K")?;
    let density = within("the density", density, (f64::MIN_POSITIVE, 1100.0), "kg/m3")?;
    let inverse = CRITICAL_TEMPERATURE_K / kelvin;
    let diluted = 100.0
        / (inverse.sqrt()
            * (1.677_52 + inverse * (2.204_62 + inverse * (0.636_656_4 + inverse * -0.241_605))));
    let relative = density / CRITICAL_DENSITY;
    let exponent: f64 =
        VISCOSITY.iter().map(|&(i, j, h)| h * (inverse - 1.0).powi(i) * (relative - 1.0).powi(j)).sum();
    Ok(diluted * (relative * exponent).exp() * 1e-6)
}

/// Table 34.
const SATURATION: [f64; 10] = [
    0.116_705_214_527_67e4,
    -0.724_213_167_032_06e6,
    -0.170_738_469_400_92e2,
    0.120_208_247_024_70e5,
    -0.323_255_503_223_33e7,
    0.149_151_086_135_30e2,
    -0.482_326_573_615_91e4,
    0.405_113_405_420_57e6,
    -0.238_555_575_678_49,
    0.650_175_348_447_98e3,
];

/// Derivatives of the dimensionless Gibbs energy by its two variables.
#[derive(Clone, Copy)]
struct Derivatives {
    first: f64,
    second: f64,
    second_twice: f64,
}

impl Derivatives {
    fn sum(terms: &[Term], x: f64, y: f64) -> Self {
        let mut sums = Self { first: 0.0, second: 0.0, second_twice: 0.0 };
        for &(i, j, n) in terms {
            let (xi, yj) = (n * x.powi(i), y.powi(j));
            sums.first += f64::from(i) * xi / x * yj;
            sums.second += f64::from(j) * xi * yj / y;
            sums.second_twice += f64::from(j * (j - 1)) * xi * yj / (y * y);
        }
        sums
    }
}

/// R7-97, tables 3 and 12.
fn state(kelvin: f64, megapascals: f64, pi: f64, tau: f64, gamma: Derivatives) -> State {
    State {
        specific_volume: pi * gamma.first * GAS_CONSTANT * kelvin / megapascals / 1000.0,
        enthalpy: tau * gamma.second * GAS_CONSTANT * kelvin,
        heat_capacity: -tau * tau * gamma.second_twice * GAS_CONSTANT,
    }
}
