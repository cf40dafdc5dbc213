use serde::{Deserialize, Serialize};

use crate::quantity::{QuantityError, QuantityKind};
use crate::text::Key;

/// What a limit or a typical value speaks of: a step of a procedure, or a statistic of the series that
/// the step records.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    pub procedure: Key,
    pub step: Key,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub statistic: Option<SeriesStatistic>,
}

impl Measurement {
    /// The value that a step measures. The keys are constants of the built-in catalogue.
    #[expect(clippy::expect_used, reason = "callers pass literals; a wrong one fails in their first test")]
    pub fn value(procedure: &'static str, step: &'static str) -> Self {
        Self {
            procedure: Key::new(procedure).expect("a procedure's key"),
            step: Key::new(step).expect("a step's key"),
            statistic: None,
        }
    }

    /// A statistic of the series that a step records.
    pub fn statistic(procedure: &'static str, step: &'static str, statistic: SeriesStatistic) -> Self {
        Self { statistic: Some(statistic), ..Self::value(procedure, step) }
    }
}

/// What a recorded flow is reduced to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SeriesStatistic {
    /// Flow at the start.
    FirstFlow,
    /// Time to the first fall below 90 % of the start, censored at the run's end.
    FirstFall,
    /// Mean of the last fifth of the run as a share of the first flow.
    LastFifthShare,
}

impl SeriesStatistic {
    pub const ALL: [Self; 3] = [Self::FirstFlow, Self::FirstFall, Self::LastFifthShare];

    pub const fn key(self) -> &'static str {
        match self {
            Self::FirstFlow => "first_flow",
            Self::FirstFall => "first_fall",
            Self::LastFifthShare => "last_fifth_share",
        }
    }

    /// What the statistic measures, given what the series records.
    pub const fn quantity(self, of_series: QuantityKind) -> QuantityKind {
        match self {
            Self::FirstFlow => of_series,
            Self::FirstFall => QuantityKind::Duration,
            Self::LastFifthShare => QuantityKind::Ratio,
        }
    }
}

/// Limits on one measurement; a missing side is unlimited.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FunctionalLimit {
    pub of: Measurement,
    pub quantity: QuantityKind,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper: Option<f64>,
    /// UCUM code.
    pub unit: String,
}

impl FunctionalLimit {
    /// The limits in the canonical unit of the quantity.
    pub fn canonical(&self) -> Result<Bounds, QuantityError> {
        let convert =
            |bound: Option<f64>| bound.map(|b| self.quantity.to_canonical(b, &self.unit)).transpose();
        Ok(Bounds { lower: convert(self.lower)?, upper: convert(self.upper)? })
    }
}

/// A healthy value and the range that healthy machines keep, at the reference conditions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypicalValue {
    pub of: Measurement,
    pub quantity: QuantityKind,
    pub value: f64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper: Option<f64>,
    /// UCUM code.
    pub unit: String,
}

impl TypicalValue {
    /// Value and range in the canonical unit of the quantity.
    pub fn canonical(&self) -> Result<(f64, Bounds), QuantityError> {
        let convert = |value: f64| self.quantity.to_canonical(value, &self.unit);
        let lower = self.lower.map(convert).transpose()?;
        let upper = self.upper.map(convert).transpose()?;
        Ok((convert(self.value)?, Bounds { lower, upper }))
    }
}

/// Lower and upper end, either of which may be open.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bounds {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper: Option<f64>,
}

impl Bounds {
    pub const fn at_most(upper: f64) -> Self {
        Self { lower: None, upper: Some(upper) }
    }

    pub const fn at_least(lower: f64) -> Self {
        Self { lower: Some(lower), upper: None }
    }

    pub const fn between(lower: f64, upper: f64) -> Self {
        Self { lower: Some(lower), upper: Some(upper) }
    }

    pub const fn is_open(self) -> bool {
        self.lower.is_none() && self.upper.is_none()
    }

    /// Whether they can be held against: finite, and the lower not above the upper.
    pub fn are_sound(self) -> bool {
        let finite = [self.lower, self.upper].into_iter().flatten().all(f64::is_finite);
        let reversed = matches!((self.lower, self.upper), (Some(lower), Some(upper)) if lower > upper);
        finite && !reversed
    }

    pub fn contains(self, value: f64) -> bool {
        self.lower.is_none_or(|lower| value >= lower) && self.upper.is_none_or(|upper| value <= upper)
    }
}

/// What water the model takes. A missing entry is not limited.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WaterLimits {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hardness_mg_per_l_caco3: Option<Bounds>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub conductivity_us_per_cm: Option<Bounds>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub chloride_mg_per_l: Option<Bounds>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ph: Option<Bounds>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub langelier_index: Option<Bounds>,
}

impl WaterLimits {
    /// What these limits ask of the readings of the water test.
    pub fn functional_limits(&self) -> Vec<FunctionalLimit> {
        let of_readings = [
            ("hardness", QuantityKind::Hardness, "mg/L", self.hardness_mg_per_l_caco3),
            ("conductivity", QuantityKind::Conductivity, "uS/cm", self.conductivity_us_per_cm),
            ("chloride", QuantityKind::MassConcentration, "mg/L", self.chloride_mg_per_l),
            ("ph", QuantityKind::Ph, "[pH]", self.ph),
        ];
        let limit = |(step, quantity, unit, bounds): (&'static str, _, &str, Option<Bounds>)| {
            let Bounds { lower, upper } = bounds?;
            let of = Measurement::value("water_quality", step);
            Some(FunctionalLimit { of, quantity, lower, upper, unit: unit.into() })
        };
        of_readings.into_iter().filter_map(limit).collect()
    }

    /// Each limit with the name of its field.
    pub fn entries(&self) -> [(&'static str, Option<Bounds>); 5] {
        [
            ("hardness_mg_per_l_caco3", self.hardness_mg_per_l_caco3),
            ("conductivity_us_per_cm", self.conductivity_us_per_cm),
            ("chloride_mg_per_l", self.chloride_mg_per_l),
            ("ph", self.ph),
            ("langelier_index", self.langelier_index),
        ]
    }
}
