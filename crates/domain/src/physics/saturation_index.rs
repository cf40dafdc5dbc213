//! Whether water lays down scale or dissolves it: the indices of Langelier and Ryznar.
//!
//! Source: Langelier 1936 and Ryznar 1944 in the usual approximation
//! `pH_s = (9.3 + A + B) − (C + D)`, `A = (log₁₀ TDS − 1)/10`, `B = −13.12·log₁₀(t + 273) + 34.55`,
//! `C = log₁₀(Ca as CaCO3) − 0.4`, `D = log₁₀(alkalinity as CaCO3)`, concentrations in mg/L, t in °C.
//! A rough guide, some ±0.2: a speciation of the whole water differs by that much.

use super::{PhysicsError, within};
use crate::quantity::{Alkalinity, Conductivity, Hardness, MassConcentration, Ph, Temperature};

/// What the indices need to know of a water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scaling {
    pub ph: Ph,
    pub temperature: Temperature,
    pub dissolved_solids: MassConcentration,
    /// Hardness due to calcium.
    pub calcium: Hardness,
    pub alkalinity: Alkalinity,
}

/// The indices of one water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaturationIndices {
    /// pH at which the water would be in balance with chalk, pH_s.
    pub saturation_ph: f64,
    /// Langelier: `pH − pH_s`; above 0 scale forms, below 0 it dissolves.
    pub langelier: f64,
    /// Ryznar: `2·pH_s − pH`; below 6 scale forms, above 7 the water attacks (**common practice**).
    pub ryznar: f64,
}

/// For 0 °C to 100 °C, dissolved solids 10 mg/L to 10 000 mg/L, calcium and alkalinity 1 mg/L to
/// 10 000 mg/L as CaCO3; outside, the approximation is not made for it: an error.
///
/// ```
/// use domain::physics::saturation_index::{Scaling, indices};
/// use domain::quantity::{Alkalinity, Hardness, MassConcentration, Ph, QuantityKind, Temperature};
/// let water = Scaling {
///     ph: Ph::from_ph(7.5).unwrap(),
///     temperature: Temperature::from_celsius(82.0).unwrap(),
///     dissolved_solids: MassConcentration::from_milligrams_per_litre(320.0).unwrap(),
///     calcium: Hardness::read(150.0, "mg/L").unwrap(),
///     alkalinity: Alkalinity::from_milligrams_per_litre(34.0).unwrap(),
/// };
/// assert!((indices(&water).unwrap().langelier - 0.27).abs() < 0.01);
/// ```
pub fn indices(water: &Scaling) -> Result<SaturationIndices, PhysicsError> {
    let celsius = within("the temperature of the water", water.temperature.celsius(), (0.0, 100.0), "Cel")?;
    let solids = water.dissolved_solids.milligrams_per_litre();
    let solids = within("the dissolved solids", solids, (10.0, 10_000.0), "mg/L")?;
    let calcium = water.calcium.milligrams_per_litre_calcium_carbonate();
    let calcium = within("the calcium hardness as CaCO3", calcium, (1.0, 10_000.0), "mg/L")?;
    let alkalinity = water.alkalinity.milligrams_per_litre();
    let alkalinity = within("the alkalinity as CaCO3", alkalinity, (1.0, 10_000.0), "mg/L")?;
    let a = (solids.log10() - 1.0) / 10.0;
    let b = -13.12 * (celsius + 273.0).log10() + 34.55;
    let c = calcium.log10() - 0.4;
    let d = alkalinity.log10();
    let saturation_ph = 9.3 + a + b - (c + d);
    let ph = water.ph.ph();
    Ok(SaturationIndices { saturation_ph, langelier: ph - saturation_ph, ryznar: 2.0 * saturation_ph - ph })
}

/// Dissolved solids in mg/L estimated as 0.65 times the conductivity in µS/cm (**common practice**,
/// 0.55 to 0.75 by the kind of salts; the index moves by less than 0.01).
pub fn dissolved_solids(conductivity: Conductivity) -> Result<MassConcentration, PhysicsError> {
    let estimate = 0.65 * conductivity.microsiemens_per_centimetre();
    Ok(MassConcentration::from_milligrams_per_litre(estimate)?)
}
