//! Flow of water through restrictions, by their flow coefficient Kv.
//!
//! Source: IEC 60534-1 (definition of Kv) and IEC 60534-2-1 (incompressible, turbulent, not choked):
//! `Δp = SG·(Q/Kv)²` with Δp in bar, Q and Kv in m³/h, and SG the density relative to water at 15 °C.

use super::{PhysicsError, positive};
use crate::quantity::{FlowCoefficient, Length, PressureDifference, VolumeFlow};

/// m³/h through a valve of Cv 1: one US gallon a minute at 1 psi, from the definitions of both units.
const KV_PER_CV: f64 = 0.864_977_655_442_324_5;

/// Kv from a Cv in US gallons per minute at 1 psi: `Kv = 0.865·Cv` (IEC 60534-1).
pub fn from_cv(cv: f64) -> Result<FlowCoefficient, PhysicsError> {
    Ok(FlowCoefficient::from_cubic_metres_per_hour(cv * KV_PER_CV)?)
}

/// Elements one after another: `1/Kv² = Σ 1/Kvᵢ²`; 0 if one of them is blocked, an
/// error if there is none.
///
/// ```
/// use domain::physics::restriction::in_series;
/// use domain::quantity::FlowCoefficient;
/// let kv = |value| FlowCoefficient::from_cubic_metres_per_hour(value).unwrap();
/// let total = in_series([kv(4.0), kv(6.0), kv(10.0)]).unwrap();
/// assert!((total.cubic_metres_per_hour() - 3.157_894_736_842).abs() < 1e-9);
/// ```
pub fn in_series(
    elements: impl IntoIterator<Item = FlowCoefficient>,
) -> Result<FlowCoefficient, PhysicsError> {
    let inverse_squares: f64 =
        elements.into_iter().map(|element| element.cubic_metres_per_hour().powi(-2)).sum();
    Ok(FlowCoefficient::from_cubic_metres_per_hour(inverse_squares.sqrt().recip())?)
}

/// Elements side by side: `Kv = Σ Kvᵢ`.
pub fn in_parallel(
    elements: impl IntoIterator<Item = FlowCoefficient>,
) -> Result<FlowCoefficient, PhysicsError> {
    let sum = elements.into_iter().map(FlowCoefficient::cubic_metres_per_hour).sum();
    Ok(FlowCoefficient::from_cubic_metres_per_hour(sum)?)
}

/// `Q = Kv·sqrt(Δp/SG)`.
pub fn flow(
    element: FlowCoefficient,
    drop: PressureDifference,
    relative_density: f64,
) -> Result<VolumeFlow, PhysicsError> {
    let ratio = drop.bar() / positive("the relative density", relative_density)?;
    volume_flow(element.cubic_metres_per_hour() * ratio.sqrt())
}

/// `Δp = SG·(Q/Kv)²`; a blocked element passes no flow, so it has none to lose pressure by.
pub fn pressure_drop(
    element: FlowCoefficient,
    flow: VolumeFlow,
    relative_density: f64,
) -> Result<PressureDifference, PhysicsError> {
    let kv = positive("the flow coefficient", element.cubic_metres_per_hour())?;
    let sg = positive("the relative density", relative_density)?;
    Ok(PressureDifference::from_bar(sg * (flow.cubic_metres_per_hour() / kv).powi(2))?)
}

/// The Kv that lets this flow pass at this drop: `Kv = Q/sqrt(Δp/SG)`.
pub fn required(
    flow: VolumeFlow,
    drop: PressureDifference,
    relative_density: f64,
) -> Result<FlowCoefficient, PhysicsError> {
    let ratio = positive("the pressure difference", drop.bar())?
        / positive("the relative density", relative_density)?;
    Ok(FlowCoefficient::from_cubic_metres_per_hour(flow.cubic_metres_per_hour() / ratio.sqrt())?)
}

/// The Kv of a sharp-edged orifice small against its pipe: `Kv = C_d·A·3600·sqrt(2·10⁵/1000)`,
/// A in m². Source: Torricelli's law with a discharge coefficient C_d, textbook.
pub fn orifice(diameter: Length, discharge_coefficient: f64) -> Result<FlowCoefficient, PhysicsError> {
    let discharge = positive("the discharge coefficient", discharge_coefficient)?;
    let area = std::f64::consts::FRAC_PI_4 * diameter.metres().powi(2);
    Ok(FlowCoefficient::from_cubic_metres_per_hour(discharge * area * 3600.0 * 200.0_f64.sqrt())?)
}

pub(super) fn volume_flow(cubic_metres_per_hour: f64) -> Result<VolumeFlow, PhysicsError> {
    Ok(VolumeFlow::from_litres_per_minute(cubic_metres_per_hour / 0.06)?)
}
