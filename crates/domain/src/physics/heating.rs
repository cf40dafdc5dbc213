//! How long heating takes.
//!
//! Source: energy balance of a body of one temperature, textbook; the power left by wiring from the
//! circuits of equal elements.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, positive};
use crate::equipment::HeaterWiring;
use crate::quantity::{Duration, Power, Temperature, Voltage};

/// Ohmic elements and the body that they heat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Heater {
    /// Number of equal elements.
    pub elements: u32,
    pub wiring: HeaterWiring,
    /// Of all elements together.
    pub rated_power: Power,
    pub rated_voltage: Voltage,
    /// Taken as constant.
    pub loss: Power,
    /// Σmc of metal and water, J/K.
    pub heat_capacity: f64,
}

/// What works of a heater.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeaterState {
    Whole,
    /// One element no longer conducts.
    ElementOpen,
    /// One phase of the supply is missing.
    PhaseLost,
}

impl Heater {
    /// Power at this voltage, `P = P_rated·(U/U_rated)²`, times the share that the state leaves.
    pub fn power(&self, voltage: Voltage, state: HeaterState) -> Result<Power, PhysicsError> {
        let ratio = voltage.volts() / positive("the rated voltage", self.rated_voltage.volts())?;
        let share = share_of_power(self.wiring, self.elements, state)?;
        Ok(Power::from_watts(self.rated_power.watts() * ratio.powi(2) * share)?)
    }

    /// Time from one temperature to another with the model's constant loss.
    pub fn time(
        &self,
        from: Temperature,
        to: Temperature,
        voltage: Voltage,
        state: HeaterState,
    ) -> Result<Duration, PhysicsError> {
        time_with_constant_loss(self.heat_capacity, self.power(voltage, state)?, self.loss, from, to)
    }
}

/// Share of the power left. n equal elements: one open leaves (n − 1)/n in star with neutral, in delta
/// and on a single phase, where each has its own voltage; of three in star without neutral the two left
/// are in series between two phases: 1/2. A phase lost leaves 2/3 in star with neutral, 1/2 in star
/// without and in delta, nothing on a single phase.
pub fn share_of_power(wiring: HeaterWiring, elements: u32, state: HeaterState) -> Result<f64, PhysicsError> {
    let three_phase = wiring != HeaterWiring::SinglePhase;
    if elements == 0 || (three_phase && !elements.is_multiple_of(3)) {
        return Err(PhysicsError::ElementsDoNotFit { elements });
    }
    match (state, wiring) {
        (HeaterState::Whole, _) => Ok(1.0),
        (HeaterState::ElementOpen, HeaterWiring::StarWithoutNeutral) if elements == 3 => Ok(0.5),
        (HeaterState::ElementOpen, HeaterWiring::StarWithoutNeutral) => {
            Err(PhysicsError::ElementsDoNotFit { elements })
        }
        (HeaterState::ElementOpen, _) => Ok(1.0 - f64::from(elements).recip()),
        (HeaterState::PhaseLost, HeaterWiring::StarWithNeutral) => Ok(2.0 / 3.0),
        (HeaterState::PhaseLost, HeaterWiring::StarWithoutNeutral | HeaterWiring::Delta) => Ok(0.5),
        (HeaterState::PhaseLost, HeaterWiring::SinglePhase) => Ok(0.0),
    }
}

/// `t = C·(T₁ − T₀)/(P − P_loss)`, C in J/K.
///
/// The demo model from 15 °C to 92 °C:
/// ```
/// use domain::physics::heating::time_with_constant_loss;
/// use domain::quantity::{Power, Temperature};
/// let watts = |value| Power::from_watts(value).unwrap();
/// let celsius = |value| Temperature::from_celsius(value).unwrap();
/// let heat_capacity = 35.0 * 500.0 + 2.9 * 4180.0;
/// let time = time_with_constant_loss(heat_capacity, watts(9000.0), watts(600.0), celsius(15.0), celsius(92.0));
/// assert!((time.unwrap().seconds() - 271.5).abs() < 0.1);
/// ```
pub fn time_with_constant_loss(
    heat_capacity: f64,
    power: Power,
    loss: Power,
    from: Temperature,
    to: Temperature,
) -> Result<Duration, PhysicsError> {
    let rise = checked_rise(from, to)?;
    let net = power.watts() - loss.watts();
    if net <= 0.0 {
        return Err(PhysicsError::LossTakesThePower { power: power.watts(), loss: loss.watts() });
    }
    Ok(Duration::from_seconds(positive("the heat capacity", heat_capacity)? * rise / net)?)
}

/// `t = C/(UA)·ln[(P − UA·(T₀ − T_a))/(P − UA·(T₁ − T_a))]`: the loss grows with the temperature above
/// that of the surroundings. C in J/K, UA in W/K.
pub fn time_with_conductance(
    heat_capacity: f64,
    conductance: f64,
    power: Power,
    from: Temperature,
    to: Temperature,
    surroundings: Temperature,
) -> Result<Duration, PhysicsError> {
    checked_rise(from, to)?;
    let capacity = positive("the heat capacity", heat_capacity)?;
    let conductance = positive("the conductance to the surroundings", conductance)?;
    let loss_at = |temperature: Temperature| conductance * temperature.above(surroundings).kelvin();
    let (first, last) = (power.watts() - loss_at(from), power.watts() - loss_at(to));
    if last <= 0.0 {
        return Err(PhysicsError::LossTakesThePower { power: power.watts(), loss: loss_at(to) });
    }
    Ok(Duration::from_seconds(capacity / conductance * (first / last).ln())?)
}

fn checked_rise(from: Temperature, to: Temperature) -> Result<f64, PhysicsError> {
    super::within("the rise of temperature", to.above(from).kelvin(), (0.0, 2000.0), "K")
}

#[cfg(test)]
mod tests {
    use super::HeaterState::{ElementOpen, PhaseLost, Whole};
    use super::HeaterWiring::{Delta, StarWithNeutral, StarWithoutNeutral};
    use super::*;

    fn demo() -> Heater {
        Heater {
            elements: 3,
            wiring: HeaterWiring::StarWithNeutral,
            rated_power: Power::from_watts(9000.0).unwrap(),
            rated_voltage: Voltage::from_volts(400.0).unwrap(),
            loss: Power::from_watts(600.0).unwrap(),
            heat_capacity: 35.0 * 500.0 + 2.9 * 4180.0,
        }
    }

    fn celsius(value: f64) -> Temperature {
        Temperature::from_celsius(value).unwrap()
    }

    /// Worked values of the demo model, 15 °C to 92 °C, calculated independently of this code.
    #[test]
    fn the_worked_heating_times_come_out() {
        let time = |wiring, state, volts| {
            let heater = Heater { wiring, ..demo() };
            let voltage = Voltage::from_volts(volts).unwrap();
            heater.time(celsius(15.0), celsius(92.0), voltage, state).unwrap().seconds()
        };
        for (wiring, state, volts, expected) in [
            (StarWithNeutral, Whole, 400.0, 271.5),
            (StarWithNeutral, ElementOpen, 400.0, 422.4),
            (StarWithNeutral, PhaseLost, 400.0, 422.4),
            (Delta, ElementOpen, 400.0, 422.4),
            (Delta, PhaseLost, 400.0, 584.8),
            (StarWithoutNeutral, ElementOpen, 400.0, 584.8),
            (StarWithoutNeutral, PhaseLost, 400.0, 584.8),
            (StarWithNeutral, Whole, 400.0 * 207.0 / 230.0, 340.9),
        ] {
            let found = time(wiring, state, volts);
            assert!((found - expected).abs() < 0.1, "{wiring:?} {state:?}: {found} against {expected}");
        }
    }

    #[test]
    fn the_two_closed_forms_meet_where_the_loss_hardly_changes() {
        let watts = |value| Power::from_watts(value).unwrap();
        let constant =
            time_with_constant_loss(3e4, watts(9000.0), watts(600.0), celsius(60.0), celsius(60.5)).unwrap();
        // 600 W at 60.25 °C in surroundings at 20 °C.
        let conductance = 600.0 / 40.25;
        let growing = time_with_conductance(
            3e4,
            conductance,
            watts(9000.0),
            celsius(60.0),
            celsius(60.5),
            celsius(20.0),
        );
        assert!((constant.seconds() / growing.unwrap().seconds() - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_stage_that_the_power_cannot_reach_is_an_error() {
        let watts = |value| Power::from_watts(value).unwrap();
        assert!(matches!(
            time_with_constant_loss(3e4, watts(600.0), watts(600.0), celsius(15.0), celsius(92.0)),
            Err(PhysicsError::LossTakesThePower { .. })
        ));
        assert!(matches!(
            time_with_conductance(3e4, 20.0, watts(1000.0), celsius(15.0), celsius(92.0), celsius(20.0)),
            Err(PhysicsError::LossTakesThePower { .. })
        ));
        assert!(
            time_with_constant_loss(3e4, watts(9000.0), watts(0.0), celsius(92.0), celsius(15.0)).is_err()
        );
        let six = Heater { elements: 6, wiring: HeaterWiring::StarWithoutNeutral, ..demo() };
        let voltage = six.rated_voltage;
        assert!(six.power(voltage, HeaterState::ElementOpen).is_err());
        assert!(share_of_power(HeaterWiring::Delta, 2, HeaterState::Whole).is_err());
    }
}
