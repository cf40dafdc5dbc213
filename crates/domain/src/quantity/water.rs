use serde::{Deserialize, Serialize};

use super::unit::CALCIUM_CARBONATE;
use super::{QuantityError, quantity};

quantity! {
    /// Electrical conductivity at 25 °C, in µS/cm.
    Conductivity, from_microsiemens_per_centimetre, microsiemens_per_centimetre
}

quantity! {
    /// Mass of a substance in a volume of water, in mg/L.
    MassConcentration, from_milligrams_per_litre, milligrams_per_litre
}

quantity! {
    /// Total hardness, the sum of calcium and magnesium, in mmol/L.
    Hardness, from_millimoles_per_litre, millimoles_per_litre
}

quantity! {
    /// Total alkalinity, in mg/L as CaCO3.
    Alkalinity, from_milligrams_per_litre, milligrams_per_litre
}

quantity! {
    /// The pH of water.
    Ph, from_ph, ph
}

/// The degrees of hardness in use. UCUM has no code for them, so a reading in degrees carries the
/// unit `1` and its scale in a field of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HardnessScale {
    /// 10 mg CaO in a litre.
    GermanDegree,
    /// 10 mg CaCO3 in a litre.
    FrenchDegree,
    /// 1 grain of CaCO3 in an imperial gallon.
    EnglishDegree,
}

impl HardnessScale {
    pub const ALL: [Self; 3] = [Self::GermanDegree, Self::FrenchDegree, Self::EnglishDegree];

    /// As it is called in a sentence.
    pub const fn title(self) -> &'static str {
        match self {
            Self::GermanDegree => "German degrees",
            Self::FrenchDegree => "French degrees",
            Self::EnglishDegree => "English degrees",
        }
    }

    /// mg/L as CaCO3 in one degree.
    fn milligrams_per_litre(self) -> f64 {
        match self {
            // The molar mass of CaO is 40.078 + 15.999 g/mol.
            Self::GermanDegree => 10.0 * CALCIUM_CARBONATE / 56.077,
            Self::FrenchDegree => 10.0,
            Self::EnglishDegree => 64.798_91 / 4.546_09,
        }
    }
}

impl Hardness {
    /// From a number of degrees.
    ///
    /// ```
    /// use domain::quantity::{Hardness, HardnessScale};
    /// let hardness = Hardness::from_degrees(14.0, HardnessScale::GermanDegree).unwrap();
    /// assert!((hardness.milligrams_per_litre_calcium_carbonate() - 249.9).abs() < 0.1);
    /// ```
    pub fn from_degrees(degrees: f64, scale: HardnessScale) -> Result<Self, QuantityError> {
        Self::from_millimoles_per_litre(degrees * scale.milligrams_per_litre() / CALCIUM_CARBONATE)
    }

    /// From an analysis: `Ca/40.078 + Mg/24.305`, both in mg/L.
    pub fn from_calcium_and_magnesium(
        calcium: MassConcentration,
        magnesium: MassConcentration,
    ) -> Result<Self, QuantityError> {
        Self::from_millimoles_per_litre(calcium.0 / 40.078 + magnesium.0 / 24.305)
    }

    pub fn degrees(self, scale: HardnessScale) -> f64 {
        self.milligrams_per_litre_calcium_carbonate() / scale.milligrams_per_litre()
    }

    pub fn milligrams_per_litre_calcium_carbonate(self) -> f64 {
        self.0 * CALCIUM_CARBONATE
    }
}
