use super::integrator::{Step, bisect, step_at};
use super::{PhysicsError, WashRun};
use crate::physics::Observed;
use crate::quantity::{Duration, Ratio, Volume, VolumeFlow};

/// A solved wash run: what is read of it, and its whole course.
#[derive(Debug, Clone)]
pub struct WashCourse {
    run: WashRun,
    /// At least one.
    steps: Vec<Step>,
}

impl WashCourse {
    pub(super) fn new(run: WashRun, steps: Vec<Step>) -> Self {
        Self { run, steps }
    }

    /// What is sprayed at this time of the run; after its end, what was sprayed last.
    pub fn flow_at(&self, time: Duration) -> Result<VolumeFlow, PhysicsError> {
        let seconds = time.seconds().min(self.run.duration.seconds());
        Ok(VolumeFlow::from_litres_per_minute(self.flow(seconds) * 60.0)?)
    }

    /// What is in the sump at this time of the run.
    pub fn volume_at(&self, time: Duration) -> Result<Volume, PhysicsError> {
        let [volume, _] = self.pair(time.seconds());
        Ok(Volume::from_litres(volume.max(0.0))?)
    }

    /// What is sprayed at the start.
    pub fn first_flow(&self) -> Result<VolumeFlow, PhysicsError> {
        self.flow_at(Duration::from_seconds(0.0)?)
    }

    /// When the flow first falls below this share of the first flow; at least the whole run if it does
    /// not. An error if nothing flowed at the start, for then there is nothing to hold.
    pub fn first_fall_below(&self, share: f64) -> Result<Observed<Duration>, PhysicsError> {
        let limit =
            super::within("the share of the first flow", share, (0.0, 1.0), "1")? * self.some_first_flow()?;
        let fallen = |seconds: f64| self.flow(seconds) < limit;
        for step in &self.steps {
            // The flow of one step is smooth, so a fall shows at one of a few places in it.
            let places = [0.0, 0.25, 0.5, 0.75, 1.0].map(|part| step.start + part * step.length);
            let Some(found) = places.iter().position(|&place| fallen(place)) else { continue };
            let seconds = match found {
                0 => places[0],
                _ => bisect(places[found - 1], places[found], fallen),
            };
            return Ok(Observed::Exactly(Duration::from_seconds(seconds)?));
        }
        Ok(Observed::AtLeast(self.run.duration))
    }

    /// Mean flow over the last fifth of the run as a share of the first flow. An error if nothing flowed
    /// at the start.
    pub fn share_in_last_fifth(&self) -> Result<Ratio, PhysicsError> {
        let (from, to) = (0.8 * self.run.duration.seconds(), self.run.duration.seconds());
        let [_, sprayed_before] = self.pair(from);
        let [_, sprayed] = self.pair(to);
        let mean = (sprayed - sprayed_before) / (to - from);
        Ok(Ratio::from_fraction((mean / self.some_first_flow()?).max(0.0))?)
    }

    /// What did not come back to the sump by the end of the run: ℓ times what was sprayed up to one
    /// delay before it.
    pub fn lost_on_return(&self) -> Result<Volume, PhysicsError> {
        let until = self.run.duration.seconds() - self.run.sump.return_delay.seconds();
        let [_, sprayed] = self.pair(until.max(0.0));
        Ok(Volume::from_litres(self.run.lost_on_return.fraction() * sprayed.max(0.0))?)
    }

    fn some_first_flow(&self) -> Result<f64, PhysicsError> {
        let first = self.flow(0.0);
        if first > 0.0 { Ok(first) } else { Err(PhysicsError::NoFlow) }
    }

    /// L/s.
    fn flow(&self, seconds: f64) -> f64 {
        let [volume, _] = self.pair(seconds);
        self.run.pump_flow_at(seconds, volume)
    }

    fn pair(&self, seconds: f64) -> [f64; 2] {
        step_at(&self.steps, seconds).map_or([self.run.start.litres(), 0.0], |step| step.at(seconds))
    }
}
