//! The water of a site over time: samples, the treatment ahead of the machines, the indices that follow,
//! and what a model's limits say of them.
//!
//! Limits are the model's data ([`WaterLimits`](crate::equipment::WaterLimits)). What a value outside
//! its limit leads to is **common practice, no source**, except where a function says otherwise.

mod comparison;
mod course;
mod hardness_band;

pub use comparison::{Standing, WaterFinding, compare};
pub use course::{TakenSample, TreatmentChange, Trend, treatment_changes, trend};
pub use hardness_band::HardnessBand;

use serde::{Deserialize, Serialize};

use crate::physics::PhysicsError;
use crate::physics::saturation_index::{SaturationIndices, Scaling, dissolved_solids, indices};
use crate::quantity::{Alkalinity, Conductivity, Hardness, MassConcentration, Ph, Temperature};
use crate::word_list;

word_list! {
    /// What stands between the building's water and the machines.
    pub enum Treatment {
        None = "none",
        /// Exchanges calcium and magnesium for sodium.
        Softener = "softener",
        /// A replaceable filter that takes out carbonate hardness, chlorine or both.
        Cartridge = "cartridge",
        ReverseOsmosis = "reverse_osmosis",
        Other = "other",
    }
}

word_list! {
    /// Where a sample was drawn.
    pub enum SamplePoint {
        /// The building's water as it comes.
        BeforeTreatment = "before_treatment",
        /// What reaches the machines.
        AfterTreatment = "after_treatment",
    }
}

word_list! {
    /// What is known of a water, measured or derived.
    pub enum WaterValue {
        Hardness = "hardness",
        Conductivity = "conductivity",
        Chloride = "chloride",
        Ph = "ph",
        LangelierIndex = "langelier_index",
        RyznarIndex = "ryznar_index",
    }
}

/// One sample. What was not measured is absent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaterSample {
    pub sample_point: SamplePoint,
    pub treatment: Treatment,
    #[serde(rename = "hardness_mmol_per_l", default, skip_serializing_if = "Option::is_none")]
    pub hardness: Option<Hardness>,
    /// The share of the hardness due to calcium, where it was analysed.
    #[serde(rename = "calcium_hardness_mmol_per_l", default, skip_serializing_if = "Option::is_none")]
    pub calcium_hardness: Option<Hardness>,
    #[serde(rename = "alkalinity_mg_per_l_caco3", default, skip_serializing_if = "Option::is_none")]
    pub alkalinity: Option<Alkalinity>,
    #[serde(rename = "conductivity_us_per_cm", default, skip_serializing_if = "Option::is_none")]
    pub conductivity: Option<Conductivity>,
    #[serde(rename = "chloride_mg_per_l", default, skip_serializing_if = "Option::is_none")]
    pub chloride: Option<MassConcentration>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<Ph>,
    #[serde(rename = "temperature_cel", default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Temperature>,
}

/// Why a sample gives no index.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoIndex {
    #[error("needs {0}, which was not read")]
    NotRead(&'static str),
    #[error(transparent)]
    Outside(#[from] PhysicsError),
    #[error("the calcium hardness exceeds the total hardness, so one of them is wrong")]
    CalciumExceedsHardness,
}

impl WaterSample {
    /// The indices of Langelier and Ryznar at the sample's own temperature.
    pub fn indices(&self) -> Result<SaturationIndices, NoIndex> {
        self.indices_at(self.temperature.ok_or(NoIndex::NotRead("the temperature"))?)
    }

    /// The indices at another temperature: that of a wash stage, say, where scale forms first.
    ///
    /// Without an analysis of calcium all hardness is taken as calcium, which makes the Langelier index
    /// an upper estimate (by 0.1 to 0.2 in most waters) and the Ryznar index a lower one.
    pub fn indices_at(&self, temperature: Temperature) -> Result<SaturationIndices, NoIndex> {
        let calcium = self.calcium_hardness.or(self.hardness).ok_or(NoIndex::NotRead("the hardness"))?;
        if self.hardness.is_some_and(|hardness| calcium > hardness) {
            return Err(NoIndex::CalciumExceedsHardness);
        }
        let conductivity = self.conductivity.ok_or(NoIndex::NotRead("the conductivity"))?;
        Ok(indices(&Scaling {
            ph: self.ph.ok_or(NoIndex::NotRead("the pH"))?,
            temperature,
            dissolved_solids: dissolved_solids(conductivity)?,
            calcium,
            alkalinity: self.alkalinity.ok_or(NoIndex::NotRead("the alkalinity"))?,
        })?)
    }

    /// A value in the unit of [`WaterValue::unit`], if it was measured or follows from what was.
    pub fn value(&self, value: WaterValue) -> Option<f64> {
        match value {
            WaterValue::Hardness => self.hardness.map(Hardness::milligrams_per_litre_calcium_carbonate),
            WaterValue::Conductivity => self.conductivity.map(Conductivity::microsiemens_per_centimetre),
            WaterValue::Chloride => self.chloride.map(MassConcentration::milligrams_per_litre),
            WaterValue::Ph => self.ph.map(Ph::ph),
            WaterValue::LangelierIndex => self.indices().ok().map(|indices| indices.langelier),
            WaterValue::RyznarIndex => self.indices().ok().map(|indices| indices.ryznar),
        }
    }
}

impl WaterValue {
    /// As it is shown to people; empty for pH and indices.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Hardness => "mg/L as CaCO3",
            Self::Conductivity => "µS/cm",
            Self::Chloride => "mg/L",
            Self::Ph | Self::LangelierIndex | Self::RyznarIndex => "",
        }
    }

    /// As it is called in a sentence.
    pub fn title(self) -> &'static str {
        match self {
            Self::Hardness => "hardness",
            Self::Conductivity => "conductivity",
            Self::Chloride => "chloride",
            Self::Ph => "pH",
            Self::LangelierIndex => "Langelier index",
            Self::RyznarIndex => "Ryznar index",
        }
    }
}

#[cfg(test)]
mod tests;
