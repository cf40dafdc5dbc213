//! A reading brought to the model's reference conditions, by the laws of [`crate::physics::correction`].

use super::evidence_index::Found;
use super::prerequisite::own_condition;
use super::uncertainty::{Assessed, assess, assess_as, assess_elsewhere};
use super::verdict::Grader;
use super::{GradingError, PressureDuring, Reason};
use crate::equipment::{FillCircuit, WashStage};
use crate::evidence::{Calibration, TestRun};
use crate::physics::PhysicsError;
use crate::physics::choking::{TURBULENT_FROM, TYPICAL_STYLE_MODIFIER, choked_drop, valve_reynolds_number};
use crate::physics::correction::{
    Uncertain, catch_at_reference_pressure, fill_time_at_reference_pressure,
    heating_time_at_reference_voltage,
};
use crate::physics::fill::{Clock as PhysicsClock, FlowRegime};
use crate::procedure::{Clock, Correction, Precondition, Procedure, Reads, Step};
use crate::quantity::{
    AbsolutePressure, Duration, DynamicPressure, FlowCoefficient, Power, QuantityKind, Voltage, Volume,
    VolumeFlow,
};
use crate::text::Key;

/// A value at reference.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtReference {
    pub value: f64,
    pub standard_uncertainty: f64,
    /// The dynamic pressure from which it was corrected.
    pub dynamic_pressure: Option<PressureDuring>,
}

/// A condition of a run.
#[derive(Clone, Copy)]
struct During {
    read: Assessed,
    elsewhere: bool,
}

/// A value at reference, or why there is none.
pub(super) type Corrected = Result<AtReference, Reason>;

/// Applies the correction that the step names; without one the value stands as it is.
pub(super) fn at_reference(
    grader: &Grader<'_>,
    run: &TestRun,
    procedure: &Procedure,
    step: &Step,
    read: Assessed,
) -> Result<Corrected, GradingError> {
    let Reads::Measure { correction: Some(correction), clock, .. } = &step.reads else {
        let Assessed { value, standard_uncertainty, .. } = read;
        return Ok(Ok(AtReference { value, standard_uncertainty, dynamic_pressure: None }));
    };
    let case = Case { grader, run, procedure };
    match correction {
        Correction::FillTime => case.fill_time(read, *clock),
        Correction::CaughtVolume { call_step } => case.caught_volume(read, call_step.as_ref()),
        Correction::HeatingTime { start_step } => case.heating_time(read, step.stage(), start_step.as_ref()),
    }
}

struct Case<'a> {
    grader: &'a Grader<'a>,
    run: &'a TestRun,
    procedure: &'a Procedure,
}

impl<'a> Case<'a> {
    fn fill_time(&self, read: Assessed, clock: Option<Clock>) -> Result<Corrected, GradingError> {
        let model = self.grader.model;
        let (Some(fill), Some(sump)) = (&model.fill, &model.sump) else { return Ok(Err(no_circuit())) };
        let during = match self.condition(QuantityKind::DynamicPressure)? {
            Ok(pressure) => pressure,
            Err(reason) => return Ok(Err(reason)),
        };
        let correct = || {
            let opening = Duration::from_seconds(fill.opening_time_s)?;
            let clock = match clock {
                Some(Clock::FromCommand) => PhysicsClock::FromCommand { opening },
                _ => PhysicsClock::FromFirstWater,
            };
            let flowing =
                read.value - if clock == PhysicsClock::FromFirstWater { 0.0 } else { fill.opening_time_s };
            let regime = self.regime(fill, during.read.value, sump.full_l / flowing)?;
            let time = uncertain(Duration::from_seconds(read.value)?, read);
            let pressure = uncertain(DynamicPressure::from_bar(during.read.value)?, during.read);
            let reference = DynamicPressure::from_bar(model.reference.dynamic_pressure_bar)?;
            let at = fill_time_at_reference_pressure(time, clock, pressure, reference, regime)?;
            Ok(at_pressure(at.value.seconds(), at.standard_uncertainty, during))
        };
        Ok(correct().map_err(not_correctable))
    }

    fn caught_volume(&self, read: Assessed, call_step: Option<&Key>) -> Result<Corrected, GradingError> {
        let model = self.grader.model;
        let (Some(fill), Some(call)) = (&model.fill, &model.start_up_call) else {
            return Ok(Err(no_circuit()));
        };
        let during = match self.condition(QuantityKind::DynamicPressure)? {
            Ok(pressure) => pressure,
            Err(reason) => return Ok(Err(reason)),
        };
        let call_read = self.step_value(call_step)?;
        let correct = || {
            let flowing_at_reference = call.duration_s - fill.opening_time_s;
            let flowing = call_read.map_or(flowing_at_reference, |call| call.value - fill.opening_time_s);
            if flowing <= 0.0 || flowing_at_reference <= 0.0 {
                return Err(PhysicsError::NoFlow);
            }
            let regime = self.regime(fill, during.read.value, read.value / flowing)?;
            let caught = uncertain(Volume::from_litres(read.value)?, read);
            let pressure = uncertain(DynamicPressure::from_bar(during.read.value)?, during.read);
            let reference = DynamicPressure::from_bar(model.reference.dynamic_pressure_bar)?;
            let at = catch_at_reference_pressure(caught, pressure, reference, regime)?;
            // The same flow over the reference length of the call.
            let factor = flowing_at_reference / flowing;
            let value = at.value.litres() * factor;
            let by_call = call_read.map_or(0.0, |call| value * call.standard_uncertainty / flowing);
            Ok(at_pressure(value, (at.standard_uncertainty * factor).hypot(by_call), during))
        };
        Ok(correct().map_err(not_correctable))
    }

    fn heating_time(
        &self,
        read: Assessed,
        stage: Option<WashStage>,
        start_step: Option<&Key>,
    ) -> Result<Corrected, GradingError> {
        let model = self.grader.model;
        let Some(heater) = &model.heater else {
            return Ok(Err(Reason::NotCorrectable { detail: "the model has no heater".into() }));
        };
        let Some(target) = stage.and_then(|stage| model.stage_cel(stage)) else {
            return Ok(Err(Reason::NotCorrectable { detail: "the model has no such wash stage".into() }));
        };
        let during = match self.condition(QuantityKind::Voltage)? {
            Ok(voltage) => voltage,
            Err(reason) => return Ok(Err(reason)),
        };
        let start = self.step_value(start_step)?;
        let correct = || {
            let power = Power::from_watts(f64::from(heater.elements) * heater.power_per_element_w)?;
            let at = heating_time_at_reference_voltage(
                uncertain(Duration::from_seconds(read.value)?, read),
                uncertain(Voltage::from_volts(during.read.value)?, during.read),
                Voltage::from_volts(model.reference.supply_voltage_v)?,
                power,
                Power::from_watts(heater.loss_w)?,
            )?;
            // Under a constant loss the time goes with the rise of temperature.
            let from = start.map_or(model.reference.water_temperature_cel, |start| start.value);
            let (rise, rise_at_reference) = (target - from, target - model.reference.water_temperature_cel);
            if rise <= 0.0 || rise_at_reference <= 0.0 {
                return Err(PhysicsError::NotPositive { what: "the rise from the start to the stage" });
            }
            let value = at.value.seconds() * rise_at_reference / rise;
            let by_start = start.map_or(0.0, |start| value * start.standard_uncertainty / rise);
            let standard_uncertainty = (at.standard_uncertainty * rise_at_reference / rise).hypot(by_start);
            Ok(AtReference { value, standard_uncertainty, dynamic_pressure: None })
        };
        Ok(correct().map_err(not_correctable))
    }

    /// A condition of the run in the canonical unit: from the run, else from the step that the
    /// procedure's preconditions name, else from that step at another machine of the kitchen.
    fn condition(&self, quantity: QuantityKind) -> Result<Result<During, Reason>, GradingError> {
        let evidence = &self.grader.evidence;
        let asked = self.procedure.preconditions.iter().find_map(|precondition| match precondition {
            Precondition::Read { procedure, step, .. } => {
                let known = evidence.newest(procedure).and_then(|known| known.step(step));
                (known.and_then(Step::quantity) == Some(quantity)).then_some((procedure, step))
            }
            _ => None,
        });
        let value_of = |found: Found<'a>| found.reading.value.as_ref().map(|value| (value, found));
        let during = if let Some(own) = own_condition(self.run, quantity) {
            let name = asked.map_or(&self.procedure.key, |(_, step)| step);
            During { read: assess_as(own, quantity, false, name, self.run.taken_at)?, elsewhere: false }
        } else {
            let Some((procedure, step)) = asked else {
                return Ok(Err(Reason::NotCorrectable { detail: format!("the {quantity} is not known") }));
            };
            if let Some((value, found)) = evidence.latest(procedure, step).and_then(value_of) {
                During { read: assess(value, found.step, found.run.taken_at)?, elsewhere: false }
            } else if let Some((value, found)) = evidence.elsewhere(procedure, step).and_then(value_of) {
                During { read: assess_elsewhere(value, found.step, found.run.taken_at)?, elsewhere: true }
            } else {
                return Ok(Err(Reason::NotRead { procedure: procedure.clone(), step: step.clone() }));
            }
        };
        Ok(if during.read.censored.is_some() {
            Err(Reason::NotCorrectable { detail: format!("of the {quantity} only a bound is known") })
        } else if during.read.calibration == Calibration::LongExpired {
            Err(Reason::CalibrationLongExpired)
        } else {
            Ok(during)
        })
    }

    /// Whether the flow of a fill follows the square root of the pressure: not where a regulator holds it,
    /// nor where the valve chokes or its flow is no longer turbulent. The drop over the valve follows from
    /// the flow that was read and the healthy strainers before it; a dirty strainer leaves less to the
    /// valve, so this errs to choking.
    fn regime(&self, fill: &FillCircuit, during: f64, flow_l_per_s: f64) -> Result<FlowRegime, PhysicsError> {
        if fill.regulator.is_some_and(|regulator| during >= regulator.minimum_pressure_bar) {
            return Ok(FlowRegime::Regulated);
        }
        let flow = flow_l_per_s * 3.6;
        let before =
            [fill.inlet_strainer_kv_m3_per_h, fill.valve_strainer_kv_m3_per_h, fill.restrictor_kv_m3_per_h];
        let lost: f64 = before.into_iter().flatten().map(|kv| (flow / kv).powi(2)).sum();
        let over_valve = during - lost;
        if !over_valve.is_finite() || over_valve <= 0.0 {
            return Ok(FlowRegime::Turbulent);
        }
        let water = self.grader.water.clone()?;
        let upstream = AbsolutePressure::from_bar(over_valve + AbsolutePressure::STANDARD_ATMOSPHERE.bar())?;
        let critical = AbsolutePressure::CRITICAL_OF_WATER;
        let recovery = fill.fill_valve_pressure_recovery;
        if over_valve >= choked_drop(recovery, upstream, water.vapour_pressure, critical)?.bar() {
            return Ok(FlowRegime::Choked);
        }
        // A flow that a sound valve could not pass tells of the reading, not of a wider valve.
        let kv = (flow / over_valve.sqrt()).min(fill.fill_valve_kv_m3_per_h);
        let valve = FlowCoefficient::from_cubic_metres_per_hour(kv)?;
        let flow = VolumeFlow::from_litres_per_minute(flow_l_per_s * 60.0)?;
        let reynolds_number = valve_reynolds_number(valve, recovery, TYPICAL_STYLE_MODIFIER, flow, &water)?;
        Ok(if reynolds_number < TURBULENT_FROM {
            FlowRegime::NotTurbulent { reynolds_number }
        } else {
            FlowRegime::Turbulent
        })
    }

    /// The value of another step of the same run.
    fn step_value(&self, key: Option<&Key>) -> Result<Option<Assessed>, GradingError> {
        let Some(key) = key else { return Ok(None) };
        let value = self.run.reading(key).and_then(|reading| reading.value.as_ref());
        match (value, self.procedure.step(key)) {
            (Some(value), Some(step)) => assess(value, step, self.run.taken_at).map(Some),
            _ => Ok(None),
        }
    }
}

fn at_pressure(value: f64, standard_uncertainty: f64, during: During) -> AtReference {
    let pressure = PressureDuring { bar: during.read.value, elsewhere: during.elsewhere };
    AtReference { value, standard_uncertainty, dynamic_pressure: Some(pressure) }
}

fn uncertain<Q>(value: Q, read: Assessed) -> Uncertain<Q> {
    Uncertain { value, standard_uncertainty: read.standard_uncertainty }
}

fn no_circuit() -> Reason {
    Reason::NotCorrectable { detail: "the model's data lack the circuit that this needs".into() }
}

#[expect(clippy::needless_pass_by_value, reason = "taken by map_err")]
fn not_correctable(error: PhysicsError) -> Reason {
    Reason::NotCorrectable { detail: error.to_string() }
}
