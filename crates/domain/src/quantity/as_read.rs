use serde::{Deserialize, Serialize};

use super::{Hardness, HardnessScale, QuantityError, QuantityKind};
use crate::text::Text;

/// A value as a person read it: the text on the display, the number it stands for, and its unit. The
/// canonical value is derived from it and never replaces it.
///
/// ```
/// use domain::quantity::{AsRead, HardnessScale, QuantityKind};
/// let read = AsRead::new("36,4", 36.4, "[psi]").unwrap();
/// assert!((read.canonical(QuantityKind::DynamicPressure).unwrap() - 2.509_692).abs() < 1e-6);
/// assert!(read.canonical(QuantityKind::Duration).is_err());
///
/// let read = AsRead::degrees_of_hardness("14 °dH", 14.0, HardnessScale::GermanDegree).unwrap();
/// assert!((read.canonical(QuantityKind::Hardness).unwrap() - 2.4966).abs() < 1e-4);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AsRead {
    pub text: Text<1, 100>,
    pub value: f64,
    /// UCUM code; `1` where `hardness_scale` says the degree.
    pub unit: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hardness_scale: Option<HardnessScale>,
}

/// Why a value as read has no canonical value.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AsReadError {
    #[error("the text as read {0}")]
    Text(#[from] crate::text::TextError),
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    #[error("degrees of hardness belong to hardness alone, with the unit \"1\"")]
    ScaleDoesNotFit,
}

impl AsRead {
    pub fn new(text: &str, value: f64, ucum_code: &str) -> Result<Self, AsReadError> {
        Ok(Self { text: Text::new(text)?, value, unit: ucum_code.to_owned(), hardness_scale: None })
    }

    pub fn degrees_of_hardness(text: &str, value: f64, scale: HardnessScale) -> Result<Self, AsReadError> {
        Ok(Self { text: Text::new(text)?, value, unit: "1".to_owned(), hardness_scale: Some(scale) })
    }

    /// The value in the canonical unit of the kind that the procedure asked for.
    pub fn canonical(&self, kind: QuantityKind) -> Result<f64, AsReadError> {
        match self.hardness_scale {
            None => Ok(kind.to_canonical(self.value, &self.unit)?),
            Some(scale) if kind == QuantityKind::Hardness && self.unit == "1" => {
                Ok(Hardness::from_degrees(self.value, scale)?.millimoles_per_litre())
            }
            Some(_) => Err(AsReadError::ScaleDoesNotFit),
        }
    }
}
