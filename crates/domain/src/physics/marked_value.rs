//! Values that come with a tolerance: the voltage of a supply, the capacitance marked on a capacitor.
//! The tolerances are data of the model, the appliance or the marking, never of this code.

use serde::{Deserialize, Serialize};

use super::{PhysicsError, positive, within};
use crate::equipment::Bounds;

/// A nominal value with what it may miss on either side, in percent of itself.
///
/// A supply of 230 V ± 10 % (IEC 60038), and a motor-run capacitor marked ± 5 % (IEC 60252-1 marks the
/// tolerance; 5, 6 and 10 % are **common practice**):
/// ```
/// use domain::physics::marked_value::MarkedValue;
/// let supply = MarkedValue { nominal: 230.0, minus_percent: 10.0, plus_percent: 10.0 };
/// let bounds = supply.bounds().unwrap();
/// assert!(bounds.contains(207.0) && !bounds.contains(206.9));
/// let capacitor = MarkedValue { nominal: 12.5, minus_percent: 5.0, plus_percent: 5.0 };
/// assert!((capacitor.deviation_percent(11.5).unwrap() + 8.0).abs() < 1e-9);
/// assert!(!capacitor.bounds().unwrap().contains(11.5));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MarkedValue {
    pub nominal: f64,
    pub minus_percent: f64,
    pub plus_percent: f64,
}

impl MarkedValue {
    /// The values allowed, in the unit of the nominal value.
    pub fn bounds(&self) -> Result<Bounds, PhysicsError> {
        let nominal = positive("the nominal value", self.nominal)?;
        let minus = within("the tolerance below", self.minus_percent, (0.0, 100.0), "%")?;
        let plus = within("the tolerance above", self.plus_percent, (0.0, 1000.0), "%")?;
        // One rounding each, so that a limit that is a round number is exactly that.
        Ok(Bounds::between(nominal * (100.0 - minus) / 100.0, nominal * (100.0 + plus) / 100.0))
    }

    /// How far a value is from the nominal, in percent of it.
    pub fn deviation_percent(&self, value: f64) -> Result<f64, PhysicsError> {
        Ok((value / positive("the nominal value", self.nominal)? - 1.0) * 100.0)
    }
}
