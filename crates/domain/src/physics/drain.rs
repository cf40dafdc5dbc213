//! Emptying a vessel, by a pump or by gravity.
//!
//! Source: Torricelli's law with a discharge coefficient C_d, textbook; standard gravity.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, positive, within};
use crate::quantity::{Duration, Length, Volume, VolumeFlow};

/// Standard gravity, m/s² (CGPM 1901).
const GRAVITY: f64 = 9.806_65;

/// Time to pump this volume out: `t = V/Q_d`.
pub fn pumped(volume: Volume, flow: VolumeFlow) -> Result<Duration, PhysicsError> {
    if flow.litres_per_second() == 0.0 {
        return Err(PhysicsError::NoFlow);
    }
    Ok(Duration::from_seconds(volume.litres() / flow.litres_per_second())?)
}

/// A vessel of constant cross-section with an outlet in its floor; the outlet has at most a tenth of the
/// surface, so that the level's own speed does not count (less than 0.6 % of the time).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct GravityOutlet {
    /// Free surface A, m².
    pub surface: f64,
    /// Outlet area A_o, m².
    pub outlet: f64,
    /// C_d, 0.4 to 1.
    pub discharge_coefficient: f64,
}

impl GravityOutlet {
    /// Time for the level to move from one height above the outlet to another, with this inflow.
    ///
    /// Without inflow `t = 2A/(C_d·A_o·sqrt(2g))·(sqrt(h₀) − sqrt(h₁))`. With the inflow q and
    /// c = C_d·A_o·sqrt(2g), `t = 2A·[(u₀ − u₁)/c + q/c²·ln((q − c·u₀)/(q − c·u₁))]`, u = sqrt(h). An
    /// error if the level comes to rest before (see [`Self::resting_level`]) or moves the other way.
    pub fn time(&self, from: Length, to: Length, inflow: VolumeFlow) -> Result<Duration, PhysicsError> {
        let c = self.discharge()?;
        let q = inflow.litres_per_second() / 1000.0;
        let (first, last) = (from.metres().sqrt(), to.metres().sqrt());
        // Net outflow at the two levels: both of the sign in which the level must move.
        let (net_first, net_last) = (c * first - q, c * last - q);
        let moves = if last < first { net_last > 0.0 || q == 0.0 } else { net_last < 0.0 && net_first < 0.0 };
        if (first - last).abs() == 0.0 {
            return Ok(Duration::from_seconds(0.0)?);
        }
        if !moves {
            return Err(PhysicsError::LevelNotReached { level: to.metres() });
        }
        let by_inflow = if q == 0.0 { 0.0 } else { q / (c * c) * (net_first / net_last).ln() };
        Ok(Duration::from_seconds(2.0 * self.surface * ((first - last) / c + by_inflow))?)
    }

    /// The level at which as much leaves as comes in: `h = (q/(C_d·A_o·sqrt(2g)))²`.
    pub fn resting_level(&self, inflow: VolumeFlow) -> Result<Length, PhysicsError> {
        Ok(Length::from_metres((inflow.litres_per_second() / 1000.0 / self.discharge()?).powi(2))?)
    }

    /// C_d·A_o·sqrt(2g).
    fn discharge(&self) -> Result<f64, PhysicsError> {
        let surface = positive("the free surface", self.surface)?;
        let outlet = positive("the outlet area", self.outlet)?;
        within("the outlet area over the free surface", outlet / surface, (0.0, 0.1), "1")?;
        let coefficient = within("the discharge coefficient", self.discharge_coefficient, (0.4, 1.0), "1")?;
        Ok(coefficient * outlet * (2.0 * GRAVITY).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_that_comes_to_rest_is_never_reached() {
        let sump = GravityOutlet { surface: 0.05, outlet: 1.13e-4, discharge_coefficient: 0.62 };
        let metres = |value| Length::from_metres(value).unwrap();
        let flow = |value| VolumeFlow::from_litres_per_minute(value).unwrap();
        let resting = sump.resting_level(flow(4.0)).unwrap().metres();
        assert!(sump.time(metres(0.2), metres(resting + 0.001), flow(4.0)).is_ok());
        assert!(sump.time(metres(0.2), metres(resting - 0.001), flow(4.0)).is_err());
        assert!(sump.time(metres(0.01), metres(resting - 0.001), flow(4.0)).is_ok(), "it rises towards rest");
        assert!(sump.time(metres(0.1), metres(0.2), flow(0.0)).is_err(), "it does not rise by itself");
        assert!(sump.time(metres(0.1), metres(0.0), flow(0.0)).is_ok());
        let wide = GravityOutlet { outlet: 0.02, ..sump };
        assert!(wide.time(metres(0.2), metres(0.1), flow(0.0)).is_err(), "outlet too wide for the law");
        assert_eq!(pumped(Volume::from_litres(2.9).unwrap(), flow(0.0)), Err(PhysicsError::NoFlow));
    }
}
