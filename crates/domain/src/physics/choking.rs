//! Where a valve no longer obeys `Q = Kv·sqrt(Δp/SG)`: choked by vapour, or not turbulent.
//!
//! Source: IEC 60534-2-1:2011, clauses 5 to 7 (clause numbers from memory). F_L is the liquid pressure
//! recovery factor, F_d the valve style modifier: both are data of the valve.

use super::liquid::Water;
use super::{PhysicsError, positive, within};
use crate::quantity::{AbsolutePressure, FlowCoefficient, PressureDifference, VolumeFlow};

/// From this valve Reynolds number on, flow is fully turbulent.
pub const TURBULENT_FROM: f64 = 10_000.0;
/// F_d of a globe valve with a contoured plug, flow to open, and of most small diaphragm valves: IEC
/// 60534-2-1, table of typical values (from memory).
pub const TYPICAL_STYLE_MODIFIER: f64 = 0.46;
/// N₄ of the standard's table 1, for Q in m³/h and viscosity in m²/s.
const N4: f64 = 7.07e-2;

/// Liquid critical pressure ratio factor, `F_F = 0.96 − 0.28·sqrt(p_v/p_c)`; the vapour pressure lies
/// below the critical one, [`AbsolutePressure::CRITICAL_OF_WATER`] for water.
pub fn critical_pressure_ratio_factor(
    vapour_pressure: AbsolutePressure,
    critical_pressure: AbsolutePressure,
) -> Result<f64, PhysicsError> {
    let critical = positive("the critical pressure", critical_pressure.bar())?;
    let vapour = within("the vapour pressure", vapour_pressure.bar(), (0.0, critical), "bar")?;
    Ok(0.96 - 0.28 * (vapour / critical).sqrt())
}

/// The drop over a valve from which its flow no longer grows: `F_L²·(p₁ − F_F·p_v)`, p₁ absolute and
/// upstream. 0 where the liquid upstream already boils.
pub fn choked_drop(
    pressure_recovery: f64,
    upstream: AbsolutePressure,
    vapour_pressure: AbsolutePressure,
    critical_pressure: AbsolutePressure,
) -> Result<PressureDifference, PhysicsError> {
    let recovery = within("the pressure recovery factor F_L", pressure_recovery, (0.1, 1.0), "1")?;
    let ratio_factor = critical_pressure_ratio_factor(vapour_pressure, critical_pressure)?;
    let available = (upstream.bar() - ratio_factor * vapour_pressure.bar()).max(0.0);
    Ok(PressureDifference::from_bar(recovery * recovery * available)?)
}

/// Valve Reynolds number `Re_v = N₄·F_d·Q/(ν·sqrt(F_L·Kv))`, without the standard's correction for a
/// narrow inlet, which would only raise it.
pub fn valve_reynolds_number(
    valve: FlowCoefficient,
    pressure_recovery: f64,
    style_modifier: f64,
    flow: VolumeFlow,
    water: &Water,
) -> Result<f64, PhysicsError> {
    let recovery = within("the pressure recovery factor F_L", pressure_recovery, (0.1, 1.0), "1")?;
    let style = within("the valve style modifier F_d", style_modifier, (0.01, 1.0), "1")?;
    let kv = positive("the flow coefficient", valve.cubic_metres_per_hour())?;
    let viscosity = positive("the kinematic viscosity", water.kinematic_viscosity)?;
    Ok(N4 * style * flow.cubic_metres_per_hour() / (viscosity * (recovery * kv).sqrt()))
}
