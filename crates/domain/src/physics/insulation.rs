//! Insulation resistance against a minimum.
//!
//! Isolate, discharge and prove dead first; the test voltage is dangerous, and electronics are
//! disconnected. Local codes prevail. A damp heating element reads low: dry it and repeat before
//! condemning it.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, within};
use crate::quantity::{InsulationResistance, Temperature, Voltage};

/// How an appliance protects from shock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ProtectionClass {
    /// With protective earth.
    One,
    /// Double or reinforced insulation.
    Two,
    /// Safety extra-low voltage.
    Three,
}

/// What one test asks of one class. Data: a model or a local rule may ask for more.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InsulationMinimum {
    pub class: ProtectionClass,
    /// Heating elements are measured in circuit, which lowers what may be asked.
    pub with_heating_elements: bool,
    pub test_voltage: Voltage,
    pub minimum: InsulationResistance,
}

/// What an insulation reading says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InsulationVerdict {
    Sufficient,
    /// Below the minimum on a heating element, which may be damp: dry, repeat, then judge.
    DryAndRepeat,
    Insufficient,
}

impl InsulationMinimum {
    /// The reading against the minimum; `dried` once the element has been dried and measured again.
    /// An error if the test was made with a lower voltage than asked for: it proves nothing.
    pub fn judge(
        &self,
        reading: InsulationResistance,
        test_voltage: Voltage,
        dried: bool,
    ) -> Result<InsulationVerdict, PhysicsError> {
        within("the test voltage", test_voltage.volts(), (self.test_voltage.volts(), 1000.0), "V")?;
        Ok(if reading >= self.minimum {
            InsulationVerdict::Sufficient
        } else if self.with_heating_elements && !dried {
            InsulationVerdict::DryAndRepeat
        } else {
            InsulationVerdict::Insufficient
        })
    }
}

/// The usual minima of a test after repair: EN 50678 (from memory; confirm before relying on them).
pub fn usual_minima() -> Result<[InsulationMinimum; 4], PhysicsError> {
    let minimum = |class, with_heating_elements, volts, megaohms| -> Result<_, PhysicsError> {
        Ok(InsulationMinimum {
            class,
            with_heating_elements,
            test_voltage: Voltage::from_volts(volts)?,
            minimum: InsulationResistance::from_megaohms(megaohms)?,
        })
    };
    Ok([
        minimum(ProtectionClass::One, false, 500.0, 1.0)?,
        minimum(ProtectionClass::One, true, 500.0, 0.3)?,
        minimum(ProtectionClass::Two, false, 500.0, 2.0)?,
        minimum(ProtectionClass::Three, false, 250.0, 0.25)?,
    ])
}

/// Brought to 40 °C by halving for each 10 K: `R₄₀ = R_T·0.5^((40 − T)/10)`, 10 °C to 80 °C. A rule of
/// thumb for windings (IEEE 43, from memory), good for comparing readings, not for limits.
pub fn at_40_celsius(
    reading: InsulationResistance,
    temperature: Temperature,
) -> Result<InsulationResistance, PhysicsError> {
    let celsius = within("the temperature of the winding", temperature.celsius(), (10.0, 80.0), "Cel")?;
    Ok(InsulationResistance::from_megaohms(reading.megaohms() * 0.5_f64.powf((40.0 - celsius) / 10.0))?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_damp_element_is_dried_before_it_is_condemned() {
        let [earthed, heated, ..] = usual_minima().unwrap();
        let megaohms = |value| InsulationResistance::from_megaohms(value).unwrap();
        let volts = |value| Voltage::from_volts(value).unwrap();
        let judge = |rule: InsulationMinimum, reading, dried| {
            rule.judge(megaohms(reading), volts(500.0), dried).unwrap()
        };
        assert_eq!(judge(earthed, 1.0, false), InsulationVerdict::Sufficient);
        assert_eq!(judge(earthed, 0.9, false), InsulationVerdict::Insufficient);
        assert_eq!(judge(heated, 0.2, false), InsulationVerdict::DryAndRepeat);
        assert_eq!(judge(heated, 0.2, true), InsulationVerdict::Insufficient);
        assert!(earthed.judge(megaohms(5.0), volts(250.0), false).is_err(), "too low a test voltage");
    }
}
