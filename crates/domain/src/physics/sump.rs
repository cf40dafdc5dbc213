//! The sump during a wash run: the pump takes water out, and what was sprayed comes back after a delay.
//!
//! `dV/dt = Q_fill − Q_p(V) + (1 − ℓ)·Q_p(t − τ)`, with
//! `Q_p(V) = Q*·clamp((V − V_dry)/(V_starve − V_dry), 0, 1)` and nothing on its way at the start.
//! A balance of volume; no published source. Solved by an adaptive method with a controlled error
//! ([`TOLERANCE`]).
//!
//! **Common practice, no source**: full flow must hold for the whole run; a flow that falls after about
//! two seconds with a *full* sump is a weak pump. An under-filled sump starves a good pump within
//! seconds too, so the level before the run is part of the reading.

mod course;
mod integrator;

pub use course::WashCourse;

use serde::{Deserialize, Serialize};

use super::{PhysicsError, within};
use crate::quantity::{Duration, Ratio, Volume, VolumeFlow};

/// Local error allowed in one step of the solution, in litres.
pub const TOLERANCE: f64 = 1e-8;

/// The sump and the way back to it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sump {
    /// Below this the pump draws air and its flow falls, V_starve.
    pub starving: Volume,
    /// At this it draws nothing, V_dry; at least 0.01 L less.
    pub dry: Volume,
    /// From the nozzle back to the sump, τ: 0, or 0.05 s to 60 s.
    pub return_delay: Duration,
}

/// One run of the wash pump.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WashRun {
    pub sump: Sump,
    /// In the sump at the start; the spray system is empty.
    pub start: Volume,
    /// From the fill valve during the run.
    pub inflow: VolumeFlow,
    /// What the pump passes while it has water, Q*.
    pub pump_flow: VolumeFlow,
    pub fade: Option<Fade>,
    /// Share of the returning water that is lost, ℓ: past the door's gasket, say.
    pub lost_on_return: Ratio,
    /// Up to an hour.
    pub duration: Duration,
}

/// The pump passes less from some moment of the run on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Fade {
    pub after: Duration,
    pub pump_flow: VolumeFlow,
}

impl Sump {
    /// Without a leak, the least volume that keeps full flow for any length of run: what the pump needs
    /// above it plus what is on its way, `V_starve + τ·Q*`.
    pub fn volume_for_full_flow(&self, pump_flow: VolumeFlow) -> Result<Volume, PhysicsError> {
        let under_way = self.return_delay.seconds() * pump_flow.litres_per_second();
        Ok(Volume::from_litres(self.starving.litres() + under_way)?)
    }

    /// Without leak or inflow, the share of its full flow at which the pump settles:
    /// `x = (V₀ − V_dry)/(V_starve − V_dry + τ·Q*)`, between 0 and 1.
    pub fn steady_share(&self, start: Volume, pump_flow: VolumeFlow) -> Result<Ratio, PhysicsError> {
        let band = self.checked_band()?;
        let under_way = self.return_delay.seconds() * pump_flow.litres_per_second();
        let share = (start.litres() - self.dry.litres()) / (band + under_way);
        Ok(Ratio::from_fraction(share.clamp(0.0, 1.0))?)
    }

    /// V_starve − V_dry.
    fn checked_band(&self) -> Result<f64, PhysicsError> {
        let band = self.starving.litres() - self.dry.litres();
        within("the starving level above the dry level", band, (0.01, 10_000.0), "L")
    }
}

impl WashRun {
    /// The course of the run, solved to [`TOLERANCE`].
    ///
    /// ```
    /// use domain::physics::sump::{Sump, WashRun};
    /// use domain::quantity::{Duration, Ratio, Volume, VolumeFlow};
    /// let litres = |value| Volume::from_litres(value).unwrap();
    /// let seconds = |value| Duration::from_seconds(value).unwrap();
    /// let flow = |value| VolumeFlow::from_litres_per_minute(value).unwrap();
    /// let run = WashRun {
    ///     sump: Sump { starving: litres(1.0), dry: litres(0.3), return_delay: seconds(2.5) },
    ///     start: litres(1.6),
    ///     inflow: flow(0.0),
    ///     pump_flow: flow(30.0),
    ///     fade: None,
    ///     lost_on_return: Ratio::from_percent(0.0).unwrap(),
    ///     duration: seconds(60.0),
    /// };
    /// let course = run.solve().unwrap();
    /// let first_fall = course.first_fall_below(0.9).unwrap().value();
    /// assert!((first_fall.seconds() - 1.348).abs() < 0.001);
    /// assert!((course.share_in_last_fifth().unwrap().fraction() - 0.6667).abs() < 0.0001);
    /// ```
    pub fn solve(&self) -> Result<WashCourse, PhysicsError> {
        self.solve_to(TOLERANCE)
    }

    pub(crate) fn solve_to(&self, tolerance: f64) -> Result<WashCourse, PhysicsError> {
        self.sump.checked_band()?;
        let delay = self.sump.return_delay.seconds();
        if delay > 0.0 {
            within("the return delay, if there is one,", delay, (0.05, 60.0), "s")?;
        }
        within("the length of the run", self.duration.seconds(), (0.1, 3600.0), "s")?;
        within("the share lost on return", self.lost_on_return.percent(), (0.0, 100.0), "%")?;
        let band = self.sump.checked_band()?;
        let fastest = self.fade.map_or(0.0, |fade| fade.pump_flow.litres_per_second());
        let fastest = fastest.max(self.pump_flow.litres_per_second());
        within("the pump's flow over its starving band", fastest / band, (0.0, 1000.0), "1/s")?;
        Ok(WashCourse::new(*self, integrator::integrate(self, tolerance)?))
    }

    /// What the pump passes at this time from this volume, in L/s.
    fn pump_flow_at(&self, seconds: f64, litres: f64) -> f64 {
        let full = match self.fade {
            Some(fade) if seconds >= fade.after.seconds() => fade.pump_flow,
            _ => self.pump_flow,
        };
        let (dry, starving) = (self.sump.dry.litres(), self.sump.starving.litres());
        full.litres_per_second() * ((litres - dry) / (starving - dry)).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests;
