//! Readings brought to reference conditions, with the uncertainty that this adds.
//!
//! The law is that of the part (turbulent flow through fixed restrictions, an ohmic heater); the
//! ranges in which it is trusted are **common practice, no source**.

use super::fill::{Clock, FlowRegime};
use super::{PhysicsError, positive, within};
use crate::quantity::{Duration, DynamicPressure, Power, Voltage, Volume};

/// Pressures from a third to twice the reference are corrected, others are too far from it.
pub const PRESSURE_RATIO: (f64, f64) = (0.33, 2.0);
/// Voltages from 80 % to 115 % of the reference are corrected.
pub const VOLTAGE_RATIO: (f64, f64) = (0.80, 1.15);

/// A value with its standard uncertainty, in the same unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Uncertain<Q> {
    pub value: Q,
    pub standard_uncertainty: f64,
}

impl<Q> Uncertain<Q> {
    fn checked_uncertainty(&self) -> Result<f64, PhysicsError> {
        within("the standard uncertainty", self.standard_uncertainty, (0.0, f64::MAX), "the value's unit")
    }
}

/// A fill time at the reference pressure: `t_ref = t_open + (t − t_open)·r`, `r = sqrt(p/p_ref)`, p the
/// dynamic gauge pressure during the fill.
///
/// Uncertainty (GUM, JCGM 100:2008, 5.1.2): `u² = (r·u_t)² + ((t − t_open)·r·u_p/(2p))²`, which for
/// t_open = 0 is `(u/t_ref)² = (u_t/t)² + (u_p/2p)²`. Errors outside the pressure ratios of
/// [`PRESSURE_RATIO`], through a regulator, and where the valve chokes or is not turbulent.
///
/// ```
/// use domain::physics::correction::{Uncertain, fill_time_at_reference_pressure};
/// use domain::physics::fill::{Clock, FlowRegime};
/// use domain::quantity::{Duration, DynamicPressure};
/// let read = Uncertain { value: Duration::from_seconds(22.013).unwrap(), standard_uncertainty: 0.5 };
/// let during = Uncertain { value: DynamicPressure::from_bar(0.944).unwrap(), standard_uncertainty: 0.05 };
/// let reference = DynamicPressure::from_bar(2.831).unwrap();
/// let healthy = fill_time_at_reference_pressure(
///     read, Clock::FromFirstWater, during, reference, FlowRegime::Turbulent,
/// ).unwrap();
/// assert!((healthy.value.seconds() - 12.71).abs() < 0.01);
/// assert!((healthy.standard_uncertainty - 0.443).abs() < 0.001);
/// ```
pub fn fill_time_at_reference_pressure(
    time: Uncertain<Duration>,
    clock: Clock,
    during: Uncertain<DynamicPressure>,
    reference: DynamicPressure,
    regime: FlowRegime,
) -> Result<Uncertain<Duration>, PhysicsError> {
    let flowing = time.value.seconds() - clock.opening_seconds();
    positive("the fill time after the valve has opened", flowing)?;
    let root = square_root_of_ratio(during.value, reference, regime)?;
    let by_pressure = flowing * root * relative_half(during)?;
    Ok(Uncertain {
        value: Duration::from_seconds(clock.opening_seconds() + flowing * root)?,
        standard_uncertainty: (root * time.checked_uncertainty()?).hypot(by_pressure),
    })
}

/// The catch of a timed call at the reference pressure: `V_ref = V·sqrt(p_ref/p)`,
/// `(u/V_ref)² = (u_V/V)² + (u_p/2p)²`. Ranges and errors as for the fill time; a catch that
/// overflowed is no value and cannot be corrected.
pub fn catch_at_reference_pressure(
    caught: Uncertain<Volume>,
    during: Uncertain<DynamicPressure>,
    reference: DynamicPressure,
    regime: FlowRegime,
) -> Result<Uncertain<Volume>, PhysicsError> {
    let root = square_root_of_ratio(during.value, reference, regime)?;
    let value = caught.value.litres() / root;
    Ok(Uncertain {
        value: Volume::from_litres(value)?,
        standard_uncertainty: (caught.checked_uncertainty()? / root).hypot(value * relative_half(during)?),
    })
}

/// A heating time at the reference voltage of an ohmic heater under a constant loss:
/// `t_ref = t·(P·r − P_loss)/(P − P_loss)`, `r = (U/U_ref)²`, P the power at the reference voltage.
///
/// Uncertainty: `u² = (u_t·t_ref/t)² + (t·P·2r·u_U/(U·(P − P_loss)))²`. Errors outside
/// [`VOLTAGE_RATIO`], and where the loss takes all of the power.
pub fn heating_time_at_reference_voltage(
    time: Uncertain<Duration>,
    during: Uncertain<Voltage>,
    reference: Voltage,
    power_at_reference: Power,
    loss: Power,
) -> Result<Uncertain<Duration>, PhysicsError> {
    let (power, loss) = (power_at_reference.watts(), loss.watts());
    let volts = during.value.volts();
    let ratio = within(
        "the ratio of the voltage to its reference",
        volts / positive("the reference voltage", reference.volts())?,
        VOLTAGE_RATIO,
        "1",
    )?
    .powi(2);
    let net = positive("the power less the loss at the voltage read", power * ratio - loss)?;
    let factor = net / (positive("the power less the loss", power - loss)?);
    let by_voltage =
        time.value.seconds() * power * 2.0 * ratio / (power - loss) * during.checked_uncertainty()? / volts;
    Ok(Uncertain {
        value: Duration::from_seconds(time.value.seconds() * factor)?,
        standard_uncertainty: (time.checked_uncertainty()? * factor).hypot(by_voltage),
    })
}

fn square_root_of_ratio(
    during: DynamicPressure,
    reference: DynamicPressure,
    regime: FlowRegime,
) -> Result<f64, PhysicsError> {
    match regime {
        FlowRegime::Turbulent => {}
        FlowRegime::Regulated => return Err(PhysicsError::Regulated),
        FlowRegime::Choked => return Err(PhysicsError::Choked),
        FlowRegime::NoFlow => return Err(PhysicsError::NoFlow),
        FlowRegime::NotTurbulent { reynolds_number } => {
            return Err(PhysicsError::NotTurbulent { reynolds_number });
        }
    }
    let ratio = during.bar() / positive("the reference pressure", reference.bar())?;
    Ok(within("the ratio of the pressure to its reference", ratio, PRESSURE_RATIO, "1")?.sqrt())
}

/// `u_p/(2p)`.
fn relative_half(pressure: Uncertain<DynamicPressure>) -> Result<f64, PhysicsError> {
    Ok(pressure.checked_uncertainty()? / (2.0 * pressure.value.bar()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(seconds: f64, standard_uncertainty: f64) -> Uncertain<Duration> {
        Uncertain { value: Duration::from_seconds(seconds).unwrap(), standard_uncertainty }
    }

    fn pressure(bar: f64, standard_uncertainty: f64) -> Uncertain<DynamicPressure> {
        Uncertain { value: DynamicPressure::from_bar(bar).unwrap(), standard_uncertainty }
    }

    fn fill(t: f64, clock: Clock, p: f64, regime: FlowRegime) -> Result<Uncertain<Duration>, PhysicsError> {
        let reference = DynamicPressure::from_bar(2.0).unwrap();
        fill_time_at_reference_pressure(time(t, 0.3), clock, pressure(p, 0.1), reference, regime)
    }

    #[test]
    fn at_the_reference_nothing_changes_but_the_uncertainty() {
        let corrected = fill(12.0, Clock::FromFirstWater, 2.0, FlowRegime::Turbulent).unwrap();
        assert!((corrected.value.seconds() - 12.0).abs() < 1e-12);
        assert!((corrected.standard_uncertainty - 0.3_f64.hypot(12.0 * 0.1 / 4.0)).abs() < 1e-12);
    }

    #[test]
    fn the_uncertainty_is_that_of_small_differences() {
        let opening = Duration::from_seconds(0.4).unwrap();
        let clock = Clock::FromCommand { opening };
        let reference = DynamicPressure::from_bar(2.0).unwrap();
        let at = |t, p| {
            fill_time_at_reference_pressure(
                time(t, 0.0),
                clock,
                pressure(p, 0.0),
                reference,
                FlowRegime::Turbulent,
            )
            .unwrap()
            .value
            .seconds()
        };
        let by_time = (at(15.001, 1.3) - at(14.999, 1.3)) / 0.002 * 0.3;
        let by_pressure = (at(15.0, 1.301) - at(15.0, 1.299)) / 0.002 * 0.1;
        let corrected = fill(15.0, clock, 1.3, FlowRegime::Turbulent).unwrap();
        assert!((corrected.standard_uncertainty - by_time.hypot(by_pressure)).abs() < 1e-6);
    }

    #[test]
    fn outside_its_range_it_refuses() {
        let clock = Clock::FromFirstWater;
        assert!(matches!(
            fill(12.0, clock, 0.6, FlowRegime::Turbulent),
            Err(PhysicsError::OutOfRange { .. })
        ));
        assert!(matches!(
            fill(12.0, clock, 4.1, FlowRegime::Turbulent),
            Err(PhysicsError::OutOfRange { .. })
        ));
        assert_eq!(fill(12.0, clock, 2.0, FlowRegime::Regulated), Err(PhysicsError::Regulated));
        assert_eq!(fill(12.0, clock, 2.0, FlowRegime::Choked), Err(PhysicsError::Choked));
        let opening = Duration::from_seconds(13.0).unwrap();
        let reference = DynamicPressure::from_bar(2.0).unwrap();
        let nonsense = time(12.0, f64::NAN);
        let during = pressure(2.0, 0.1);
        assert!(
            fill_time_at_reference_pressure(nonsense, clock, during, reference, FlowRegime::Turbulent)
                .is_err()
        );
        assert!(fill(12.0, Clock::FromCommand { opening }, 2.0, FlowRegime::Turbulent).is_err());
    }

    #[test]
    fn a_catch_is_corrected_the_other_way_round() {
        let caught = Uncertain { value: Volume::from_litres(1.542).unwrap(), standard_uncertainty: 0.1 };
        let reference = DynamicPressure::from_bar(2.8313).unwrap();
        let corrected =
            catch_at_reference_pressure(caught, pressure(0.94375, 0.05), reference, FlowRegime::Turbulent)
                .unwrap();
        assert!((corrected.value.litres() - 2.670).abs() < 0.002);
    }

    /// 340.9 s at 207 V and 271.5 s at 230 V, of the demo model: 9 kW, 0.6 kW of loss.
    #[test]
    fn heating_slow_on_low_voltage_is_healthy_at_the_reference() {
        let volts = |volts, standard_uncertainty| Uncertain {
            value: Voltage::from_volts(volts).unwrap(),
            standard_uncertainty,
        };
        let watts = |watts| Power::from_watts(watts).unwrap();
        let at = |t, u| {
            let reference = Voltage::from_volts(230.0).unwrap();
            heating_time_at_reference_voltage(
                time(t, 3.0),
                volts(u, 2.0),
                reference,
                watts(9000.0),
                watts(600.0),
            )
        };
        let corrected = at(340.9, 207.0).unwrap();
        assert!((corrected.value.seconds() - 271.5).abs() < 0.1);
        let by_voltage =
            (at(340.9, 207.01).unwrap().value.seconds() - at(340.9, 206.99).unwrap().value.seconds()) / 0.02
                * 2.0;
        let by_time: f64 = 3.0 * 271.5 / 340.9;
        assert!((corrected.standard_uncertainty - by_time.hypot(by_voltage)).abs() < 1e-3);
        assert!(at(340.9, 170.0).is_err(), "too far from the reference");
    }
}
