//! Filling the sump from the supply: the flow, the pressures that gauges read on the way, the fill
//! time and the catch of a timed call.
//!
//! Source: IEC 60534-2-1 for every element; time and catch are balances of volume.

use serde::{Deserialize, Serialize};

use super::choking::{TURBULENT_FROM, critical_pressure_ratio_factor, valve_reynolds_number};
use super::liquid::Water;
use super::restriction::{self, volume_flow};
use super::{Observed, PhysicsError, positive, within};
use crate::quantity::{
    AbsolutePressure, Duration, DynamicPressure, FlowCoefficient, PressureDifference, StaticPressure, Volume,
    VolumeFlow,
};

/// The way of the water from the supply into the sump, which is open to the air. What a model lacks is
/// absent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FillLine {
    /// From the head of the line to the first tap.
    pub line: FlowCoefficient,
    pub inlet_strainer: Option<FlowCoefficient>,
    pub valve_strainer: Option<FlowCoefficient>,
    /// A fixed restrictor between strainer and valve.
    pub flow_restrictor: Option<FlowCoefficient>,
    pub flow_regulator: Option<FlowRegulator>,
    pub fill_valve: FillValve,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FillValve {
    pub flow_coefficient: FlowCoefficient,
    /// Liquid pressure recovery factor F_L.
    pub pressure_recovery: f64,
    /// Valve style modifier F_d.
    pub style_modifier: f64,
}

/// Keeps the flow constant from its minimum pressure on, and is a fixed restriction below it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FlowRegulator {
    pub flow: VolumeFlow,
    /// The least drop over the regulator at which it regulates.
    pub minimum_drop: PressureDifference,
}

/// What the building gives.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Supply {
    /// At the head of the line while nothing flows; taken to hold during the fill.
    pub static_pressure: StaticPressure,
    pub atmosphere: AbsolutePressure,
    pub water: Water,
}

/// Flow and gauge pressures while the valve is open.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FillFlow {
    pub flow: VolumeFlow,
    /// At the tap after the line and before the inlet strainer, where strainer and valve cannot be
    /// told apart.
    pub dynamic_pressure: DynamicPressure,
    /// At a second tap after the inlet strainer.
    pub pressure_after_strainer: DynamicPressure,
    pub regime: FlowRegime,
}

/// What sets the flow, and so whether it follows the square root of the pressure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FlowRegime {
    /// Turbulent, not choked: Q ∝ sqrt(p).
    Turbulent,
    /// Held by the regulator: fill time says nothing of pressure.
    Regulated,
    /// Choked in the valve: the flow is that of the choked valve.
    Choked,
    /// The valve Reynolds number is below 10 000: the flow is an upper estimate and doubtful.
    NotTurbulent { reynolds_number: f64 },
    /// No pressure, or an element is blocked.
    NoFlow,
}

impl FillLine {
    /// Kv of the whole way, without the regulator.
    pub fn flow_coefficient(&self) -> Result<FlowCoefficient, PhysicsError> {
        restriction::in_series(self.before_the_valve().chain([self.fill_valve.flow_coefficient]))
    }

    /// `Q = Kv_total·sqrt(p_static/SG)`, held by the regulator or by choking where they set in, and
    /// the gauge pressures `p_dyn = p_static − SG·(Q/Kv_line)²`. No flow at or below 0 bar.
    ///
    /// A fouled strainer is no valve: its true exponent lies between 0.5 and 1, which is part of the
    /// model's error.
    pub fn flow(&self, supply: &Supply) -> Result<FillFlow, PhysicsError> {
        let sg = positive("the relative density", supply.water.relative_density)?;
        let driving = supply.static_pressure.bar().max(0.0);
        let wide_open = self.flow_regulator.map(|regulator| regulator.wide_open(sg)).transpose()?;
        let elements = self.before_the_valve().chain(wide_open);
        let upstream = restriction::in_series(elements)?.cubic_metres_per_hour();
        let valve = self.fill_valve.flow_coefficient.cubic_metres_per_hour();
        if driving == 0.0 || upstream == 0.0 || valve == 0.0 {
            return self.at_rest(supply);
        }

        let in_bar = |flow: f64, kv: f64| sg * (flow / kv).powi(2);
        let free = (driving / sg / (upstream.powi(-2) + valve.powi(-2))).sqrt();
        let choked = self.choked_flow(supply, upstream)?;
        let (mut flow, mut regime) =
            if choked < free { (choked, FlowRegime::Choked) } else { (free, FlowRegime::Turbulent) };
        if let Some(regulator) = self.flow_regulator
            && regulator.flow.cubic_metres_per_hour() <= flow
        {
            (flow, regime) = (regulator.flow.cubic_metres_per_hour(), FlowRegime::Regulated);
        }
        let reynolds_number = valve_reynolds_number(
            self.fill_valve.flow_coefficient,
            self.fill_valve.pressure_recovery,
            self.fill_valve.style_modifier,
            volume_flow(flow)?,
            &supply.water,
        )?;
        if reynolds_number < TURBULENT_FROM && regime != FlowRegime::Regulated {
            regime = FlowRegime::NotTurbulent { reynolds_number };
        }

        let dynamic = driving - in_bar(flow, self.line.cubic_metres_per_hour());
        let strainer_drop =
            self.inlet_strainer.map_or(0.0, |strainer| in_bar(flow, strainer.cubic_metres_per_hour()));
        Ok(FillFlow {
            flow: volume_flow(flow)?,
            dynamic_pressure: DynamicPressure::from_bar(dynamic)?,
            pressure_after_strainer: DynamicPressure::from_bar(dynamic - strainer_drop)?,
            regime,
        })
    }

    fn before_the_valve(&self) -> impl Iterator<Item = FlowCoefficient> {
        [Some(self.line), self.inlet_strainer, self.valve_strainer, self.flow_restrictor]
            .into_iter()
            .flatten()
    }

    /// The flow of the choked valve in m³/h: `Kv·F_L·sqrt((p₁ − F_F·p_v)/SG)`, where p₁ is what the
    /// elements before the valve leave of the supply at that same flow.
    fn choked_flow(&self, supply: &Supply, upstream: f64) -> Result<f64, PhysicsError> {
        let recovery =
            within("the pressure recovery factor F_L", self.fill_valve.pressure_recovery, (0.1, 1.0), "1")?;
        let vapour = supply.water.vapour_pressure;
        let ratio_factor = critical_pressure_ratio_factor(vapour, AbsolutePressure::CRITICAL_OF_WATER)?;
        let available =
            supply.static_pressure.absolute(supply.atmosphere)?.bar() - ratio_factor * vapour.bar();
        let valve = self.fill_valve.flow_coefficient.cubic_metres_per_hour() * recovery;
        let resistance = supply.water.relative_density * (valve.powi(-2) + upstream.powi(-2));
        Ok((available.max(0.0) / resistance).sqrt())
    }

    /// Gauges read the supply up to the first blocked element and nothing after it.
    fn at_rest(&self, supply: &Supply) -> Result<FillFlow, PhysicsError> {
        let blocked = |element: FlowCoefficient| element.cubic_metres_per_hour() == 0.0;
        let dynamic = if blocked(self.line) { 0.0 } else { supply.static_pressure.bar() };
        let after = if self.inlet_strainer.is_some_and(blocked) { 0.0 } else { dynamic };
        Ok(FillFlow {
            flow: volume_flow(0.0)?,
            dynamic_pressure: DynamicPressure::from_bar(dynamic)?,
            pressure_after_strainer: DynamicPressure::from_bar(after)?,
            regime: FlowRegime::NoFlow,
        })
    }
}

impl FlowRegulator {
    /// Wide open, the regulator passes its flow at its minimum drop.
    fn wide_open(&self, relative_density: f64) -> Result<FlowCoefficient, PhysicsError> {
        restriction::required(self.flow, self.minimum_drop, relative_density)
    }
}

/// When the watch starts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// At the command, so that the time includes the opening of the valve.
    FromCommand {
        opening: Duration,
    },
    FromFirstWater,
}

impl Clock {
    pub(super) fn opening_seconds(self) -> f64 {
        match self {
            Self::FromCommand { opening } => opening.seconds(),
            Self::FromFirstWater => 0.0,
        }
    }
}

/// Time until the sump is full: `t = t_open + (V_full − V₀)/Q`, without t_open from first water on.
/// With a time-out the answer may be that it was not full by then.
pub fn fill_time(
    flow: VolumeFlow,
    start: Volume,
    full: Volume,
    clock: Clock,
    time_out: Option<Duration>,
) -> Result<Observed<Duration>, PhysicsError> {
    let missing = full.litres() - start.litres();
    if missing <= 0.0 {
        return Err(PhysicsError::AlreadyFull { start: start.litres(), full: full.litres() });
    }
    let seconds = clock.opening_seconds() + missing / flow.litres_per_second();
    match time_out {
        Some(limit) if seconds >= limit.seconds() => Ok(Observed::AtLeast(limit)),
        None if seconds.is_infinite() => Err(PhysicsError::NoFlow),
        _ => Ok(Observed::Exactly(Duration::from_seconds(seconds)?)),
    }
}

/// What a bucket catches in a timed call: `V = Q·(t_c − t_open)`, at least its own volume once it
/// overflows, nothing if the call ends before the valve opens.
///
/// **Common practice, no source**: a start-up call of 10 s to 15 s puts a quarter to a half of a bucket
/// in the bucket, so the bucket's volume is part of the reading.
pub fn caught_in_call(
    flow: VolumeFlow,
    call: Duration,
    opening: Duration,
    bucket: Volume,
) -> Result<Observed<Volume>, PhysicsError> {
    positive("the volume of the bucket", bucket.litres())?;
    let litres = flow.litres_per_second() * (call.seconds() - opening.seconds()).max(0.0);
    if litres >= bucket.litres() {
        Ok(Observed::AtLeast(bucket))
    } else {
        Ok(Observed::Exactly(Volume::from_litres(litres)?))
    }
}

#[cfg(test)]
mod tests;
