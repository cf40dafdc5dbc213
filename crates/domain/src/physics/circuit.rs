//! Alternating current in coils, elements and capacitors.
//!
//! Source: Ohm's law and the phasors of sinusoidal current, textbook. Readings are taken by qualified
//! persons; a capacitor is discharged through a resistor and proven empty before it is touched.

use std::f64::consts::TAU;

use super::{PhysicsError, positive};
use crate::quantity::{Capacitance, Current, Frequency, Power, Ratio, Resistance, Voltage};

/// A coil on alternating voltage, with the losses of its copper alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coil {
    /// `Z = U/I`.
    pub impedance: Resistance,
    /// `X = sqrt(Z² − R²)`.
    pub reactance: Resistance,
    /// `L = X/(2πf)`, in henry.
    pub inductance: f64,
    /// `P = I²·R`.
    pub power: Power,
    /// `R/Z`.
    pub power_factor: Ratio,
}

/// The coil from what is read of it; an error if its resistance exceeds its impedance, for then one of
/// the readings is wrong. Iron losses are neglected, so the power is a lower estimate.
pub fn coil(
    voltage: Voltage,
    current: Current,
    resistance: Resistance,
    frequency: Frequency,
) -> Result<Coil, PhysicsError> {
    let impedance = positive("the voltage", voltage.volts())? / positive("the current", current.amperes())?;
    let ohms = super::within("the resistance of the coil", resistance.ohms(), (0.0, impedance), "Ohm")?;
    let reactance = (impedance * impedance - ohms * ohms).sqrt();
    Ok(Coil {
        impedance: Resistance::from_ohms(impedance)?,
        reactance: Resistance::from_ohms(reactance)?,
        inductance: reactance / (TAU * positive("the frequency", frequency.hertz())?),
        power: Power::from_watts(current.amperes().powi(2) * ohms)?,
        power_factor: Ratio::from_fraction(ohms / impedance)?,
    })
}

/// `C = I/(2π·f·U)` of a capacitor in operation.
pub fn capacitance(
    voltage: Voltage,
    current: Current,
    frequency: Frequency,
) -> Result<Capacitance, PhysicsError> {
    let volts = positive("the voltage", voltage.volts())?;
    let hertz = positive("the frequency", frequency.hertz())?;
    Ok(Capacitance::from_microfarads(current.amperes() / (TAU * hertz * volts) * 1e6)?)
}

/// `R = U²/P` of an ohmic element at its rating.
pub fn element_resistance(rated_voltage: Voltage, rated_power: Power) -> Result<Resistance, PhysicsError> {
    let watts = positive("the rated power", rated_power.watts())?;
    Ok(Resistance::from_ohms(rated_voltage.volts().powi(2) / watts)?)
}

/// `I = P/U` of an ohmic element.
pub fn element_current(voltage: Voltage, power: Power) -> Result<Current, PhysicsError> {
    Ok(Current::from_amperes(power.watts() / positive("the voltage", voltage.volts())?)?)
}

/// What an ohmmeter reads between two line terminals of three equal elements in delta.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeltaTerminals {
    /// All elements whole: `2R/3` on each of the three pairs.
    pub whole: Resistance,
    /// One element open, on each of the two pairs with a whole element between them: `R`.
    pub beside_the_open_element: Resistance,
    /// One element open, on the pair across it: `2R`.
    pub across_the_open_element: Resistance,
}

/// The readings to expect, dead and disconnected, from the resistance of one element.
pub fn delta_terminals(element: Resistance) -> Result<DeltaTerminals, PhysicsError> {
    let ohms = element.ohms();
    Ok(DeltaTerminals {
        whole: Resistance::from_ohms(ohms * 2.0 / 3.0)?,
        beside_the_open_element: element,
        across_the_open_element: Resistance::from_ohms(2.0 * ohms)?,
    })
}
