//! What is measured. Every value is a finite number in the canonical unit of its [`QuantityKind`];
//! units travel as case-sensitive UCUM codes (Unified Code for Units of Measure, 2.1), and what a
//! person read, in the unit in which it was read, is kept beside the canonical value ([`AsRead`]).
//!
//! Quantities that look alike but must not be mixed are types of their own: static and dynamic gauge
//! pressure, absolute pressure, a temperature and a temperature interval, resistance and insulation
//! resistance.
//!
//! ```
//! use domain::quantity::{DynamicPressure, QuantityKind, Temperature, TemperatureInterval};
//! let supply = DynamicPressure::read(40.0, "[psi]").unwrap();
//! assert!((supply.bar() - 2.757_903).abs() < 1e-6);
//! let stage = Temperature::read(197.6, "[degF]").unwrap();
//! assert!((stage.celsius() - 92.0).abs() < 1e-9);
//! // An uncertainty of a temperature is an interval: it takes the factor without the offset.
//! assert_eq!(QuantityKind::Temperature.interval_to_canonical(1.8, "[degF]").unwrap(), 1.0);
//! assert!(TemperatureInterval::read(9.0, "[degF]").unwrap().kelvin() - 5.0 < 1e-9);
//! ```
//!
//! A dynamic pressure is no static pressure:
//! ```compile_fail,E0308
//! use domain::quantity::{DynamicPressure, StaticPressure};
//! let p: StaticPressure = DynamicPressure::from_bar(2.8).unwrap();
//! ```
//!
//! A gauge pressure becomes absolute only by naming the pressure of the air around it:
//! ```compile_fail,E0308
//! use domain::quantity::{AbsolutePressure, StaticPressure};
//! let p: AbsolutePressure = StaticPressure::from_bar(3.0).unwrap();
//! ```
//!
//! Two temperatures cannot be added; a temperature and an interval can:
//! ```compile_fail,E0308
//! use domain::quantity::Temperature;
//! let a = Temperature::from_celsius(15.0).unwrap();
//! let sum = a.plus(Temperature::from_celsius(5.0).unwrap());
//! ```
//!
//! Insulation is not measured with the test of a winding:
//! ```compile_fail,E0308
//! use domain::quantity::{InsulationResistance, Resistance};
//! let r: Resistance = InsulationResistance::from_megaohms(2.0).unwrap();
//! ```

mod as_read;
mod electrical;
mod flow;
mod kind;
mod mechanical;
mod pressure;
mod range;
mod temperature;
mod unit;
mod water;

pub use as_read::{AsRead, AsReadError};
pub use electrical::{Capacitance, Current, Frequency, InsulationResistance, Power, Resistance, Voltage};
pub use flow::{FlowCoefficient, Volume, VolumeFlow};
pub use kind::{QuantityKind, Scale};
pub use mechanical::{Altitude, Count, Duration, Length, Mass, Ratio, RotationalSpeed};
pub use pressure::{AbsolutePressure, DynamicPressure, PressureDifference, StaticPressure};
pub use range::{Meant, Ranges};
pub use temperature::{Temperature, TemperatureInterval};
pub use water::{Alkalinity, Conductivity, Hardness, HardnessScale, MassConcentration, Ph};

/// Why a number with a unit is no value of the quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    #[error("{kind} takes the UCUM codes {accepted}, not \"{code}\" (case counts)")]
    UnitDoesNotFit { kind: QuantityKind, code: String, accepted: String },
    #[error("{kind} must be a finite number")]
    NotFinite { kind: QuantityKind },
    #[error("{kind} must be at least {minimum} {unit}, not {value}")]
    TooSmall { kind: QuantityKind, value: f64, minimum: f64, unit: &'static str },
    #[error("{kind} must be at most {maximum} {unit}, not {value}")]
    TooLarge { kind: QuantityKind, value: f64, maximum: f64, unit: &'static str },
    #[error("an uncertainty or a difference of {kind} is a finite number of at least 0")]
    NegativeInterval { kind: QuantityKind },
    #[error("an uncertainty or a difference of {kind} is at most as wide as all that {kind} can be")]
    WiderThanItsRange { kind: QuantityKind },
}

/// Declares a quantity: a number in the canonical unit of its kind, checked when it is made.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $from:ident, $get:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, serde::Serialize, serde::Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            pub const KIND: $crate::quantity::QuantityKind = $crate::quantity::QuantityKind::$name;

            /// From a number in the canonical unit.
            pub fn $from(value: f64) -> Result<Self, $crate::quantity::QuantityError> {
                Self::KIND.check(value).map(Self)
            }

            /// From a number as read, in a unit given by its UCUM code.
            pub fn read(value: f64, ucum_code: &str) -> Result<Self, $crate::quantity::QuantityError> {
                Self::KIND.to_canonical(value, ucum_code).map(Self)
            }

            /// The number in the canonical unit.
            pub fn $get(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $name {
            type Error = $crate::quantity::QuantityError;

            fn try_from(value: f64) -> Result<Self, $crate::quantity::QuantityError> {
                Self::$from(value)
            }
        }

        impl From<$name> for f64 {
            fn from(quantity: $name) -> Self {
                quantity.0
            }
        }
    };
}
use quantity;

#[cfg(test)]
mod tests;
