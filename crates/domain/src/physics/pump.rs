//! The wash pump against its spray system.
//!
//! Source: pump and system curves by their quadratic approximations, textbook; the affinity laws.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, positive};
use crate::quantity::{Length, Power, VolumeFlow};

/// `H(Q) = s·H₀ − a·Q²`, with s the strength left of its head.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Pump {
    /// Head at no flow, H₀.
    pub shut_off_head: Length,
    /// a, in m/(L/s)².
    pub internal_resistance: f64,
}

/// `H(Q) = H_st + k·Q²`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SpraySystem {
    /// Height from the sump to the nozzles, H_st.
    pub static_head: Length,
    /// k, in m/(L/s)².
    pub resistance: f64,
}

/// Flow where the curves meet: `Q* = sqrt((s·H₀ − H_st)/(a + k))`; 0 if the head cannot lift the water.
///
/// `strength` is s, 1 for a healthy pump and `(n/n₀)²` at the speed n; a does not change with speed.
///
/// ```
/// use domain::physics::pump::{Pump, SpraySystem, operating_flow};
/// use domain::quantity::Length;
/// let metres = |value| Length::from_metres(value).unwrap();
/// let pump = Pump { shut_off_head: metres(8.0), internal_resistance: 8.0 };
/// let system = SpraySystem { static_head: metres(0.5), resistance: 22.0 };
/// let flow = operating_flow(&pump, &system, 1.0).unwrap();
/// assert!((flow.litres_per_minute() - 30.0).abs() < 1e-9);
/// ```
pub fn operating_flow(pump: &Pump, system: &SpraySystem, strength: f64) -> Result<VolumeFlow, PhysicsError> {
    let strength = super::within("the strength of the pump", strength, (0.0, 4.0), "1")?;
    let head = strength * pump.shut_off_head.metres() - system.static_head.metres();
    let resistance =
        positive("the resistance of pump and spray system", pump.internal_resistance + system.resistance)?;
    Ok(VolumeFlow::from_litres_per_minute((head.max(0.0) / resistance).sqrt() * 60.0)?)
}

/// A duty of a pump.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duty {
    pub flow: VolumeFlow,
    pub head: Length,
    pub power: Power,
}

/// The affinity laws at the ratio n/n₀ of speeds: `Q ∝ n`, `H ∝ n²`, `P ∝ n³`. They hold for moderate
/// changes; ratios from 0.5 to 2 are taken.
pub fn at_speed_ratio(duty: Duty, ratio: f64) -> Result<Duty, PhysicsError> {
    let ratio = super::within("the ratio of speeds", ratio, (0.5, 2.0), "1")?;
    Ok(Duty {
        flow: VolumeFlow::from_litres_per_minute(duty.flow.litres_per_minute() * ratio)?,
        head: Length::from_metres(duty.head.metres() * ratio.powi(2))?,
        power: Power::from_watts(duty.power.watts() * ratio.powi(3))?,
    })
}
