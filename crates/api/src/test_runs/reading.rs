use domain::evidence;
use domain::quantity::{AsRead, HardnessScale as Scale};
use domain::text::{Key, Text};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::instrument::Instrument;
use crate::schema;

/// What one step yielded: exactly one of value, choice and series.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// A step of the procedure.
    #[schema(value_type = schema::Key)]
    pub step: Key,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<MeasuredValue>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<schema::Key>)]
    pub choice: Option<Key>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<Series>,
}

/// A number as it was read, its unit, and what is known of its quality.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredValue {
    #[schema(example = 12.7)]
    value: f64,
    /// UCUM code, case-sensitive: `s`, `bar`, `[psi]`, `L/min`, `Cel`, …
    #[schema(min_length = 1, max_length = 32, example = "s")]
    unit: String,
    /// What the display showed, where it was not just the number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>, min_length = 1, max_length = 100)]
    text: Option<Text<1, 100>>,
    /// Standard uncertainty in the same unit; follows from the instrument where it is absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    uncertainty: Option<f64>,
    /// The number only bounds the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    censored: Option<Censored>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    repeats: Option<Repeats>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<Instrument>,
    /// For a hardness in degrees, which have no UCUM code: the unit is then `1`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    hardness_scale: Option<HardnessScale>,
}

/// How a value is bounded.
#[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Censored {
    /// Still running when stopped, a full bucket, the gauge's upper end.
    AtLeast,
    /// The gauge's lower end.
    AtMost,
}

impl From<evidence::Censored> for Censored {
    fn from(censored: evidence::Censored) -> Self {
        match censored {
            evidence::Censored::AtLeast => Self::AtLeast,
            evidence::Censored::AtMost => Self::AtMost,
        }
    }
}

/// The number is the mean of repeated readings.
#[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Repeats {
    #[schema(minimum = 2, maximum = 1000)]
    count: u32,
    /// Sample standard deviation of the single readings, in the unit as read.
    #[schema(minimum = 0)]
    standard_deviation: f64,
}

/// Degrees of hardness.
#[expect(clippy::enum_variant_names, reason = "the degrees' names")]
#[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum HardnessScale {
    GermanDegree,
    FrenchDegree,
    EnglishDegree,
}

impl From<HardnessScale> for Scale {
    fn from(scale: HardnessScale) -> Self {
        match scale {
            HardnessScale::GermanDegree => Self::GermanDegree,
            HardnessScale::FrenchDegree => Self::FrenchDegree,
            HardnessScale::EnglishDegree => Self::EnglishDegree,
        }
    }
}

impl From<Scale> for HardnessScale {
    fn from(scale: Scale) -> Self {
        match scale {
            Scale::GermanDegree => Self::GermanDegree,
            Scale::FrenchDegree => Self::FrenchDegree,
            Scale::EnglishDegree => Self::EnglishDegree,
        }
    }
}

/// A quantity recorded over time.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Series {
    #[schema(max_items = 100_000)]
    values: Vec<f64>,
    /// Seconds from the command, rising.
    #[schema(max_items = 100_000)]
    times_s: Vec<f64>,
    /// UCUM code of the values.
    #[schema(min_length = 1, max_length = 32, example = "L/min")]
    unit: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    instrument: Option<Instrument>,
}

impl From<MeasuredValue> for evidence::Measured {
    fn from(value: MeasuredValue) -> Self {
        Self {
            as_read: AsRead {
                text: value.text.unwrap_or_else(|| number_as_text(value.value)),
                value: value.value,
                unit: value.unit,
                hardness_scale: value.hardness_scale.map(Into::into),
            },
            standard_uncertainty: value.uncertainty,
            censored: value.censored.map(|censored| match censored {
                Censored::AtLeast => evidence::Censored::AtLeast,
                Censored::AtMost => evidence::Censored::AtMost,
            }),
            repeats: value.repeats.map(|repeats| evidence::Repeats {
                count: repeats.count,
                standard_deviation: repeats.standard_deviation,
            }),
            instrument: value.instrument.map(Into::into),
        }
    }
}

/// The number as the text read. Its shortest form has far fewer than a hundred characters, save at the
/// ends of the range of numbers, where the exponent form is used.
pub fn number_as_text(value: f64) -> Text<1, 100> {
    let plain = value.to_string();
    let text = if plain.len() <= 100 { plain } else { format!("{value:e}") };
    #[expect(clippy::expect_used, reason = "the exponent form of a number has at most 24 characters")]
    Text::new(text).expect("a number's text")
}

impl From<evidence::Measured> for MeasuredValue {
    fn from(value: evidence::Measured) -> Self {
        Self {
            value: value.as_read.value,
            unit: value.as_read.unit,
            text: Some(value.as_read.text),
            uncertainty: value.standard_uncertainty,
            censored: value.censored.map(|censored| match censored {
                evidence::Censored::AtLeast => Censored::AtLeast,
                evidence::Censored::AtMost => Censored::AtMost,
            }),
            repeats: value.repeats.map(|repeats| Repeats {
                count: repeats.count,
                standard_deviation: repeats.standard_deviation,
            }),
            instrument: value.instrument.map(Into::into),
            hardness_scale: value.as_read.hardness_scale.map(Into::into),
        }
    }
}

impl From<Reading> for evidence::Reading {
    fn from(reading: Reading) -> Self {
        Self {
            step: reading.step,
            value: reading.value.map(Into::into),
            choice: reading.choice,
            series: reading.series.map(|series| evidence::Series {
                values: series.values,
                times_s: series.times_s,
                unit: series.unit,
                instrument: series.instrument.map(Into::into),
            }),
        }
    }
}

impl From<evidence::Reading> for Reading {
    fn from(reading: evidence::Reading) -> Self {
        Self {
            step: reading.step,
            value: reading.value.map(Into::into),
            choice: reading.choice,
            series: reading.series.map(|series| Series {
                values: series.values,
                times_s: series.times_s,
                unit: series.unit,
                instrument: series.instrument.map(Into::into),
            }),
        }
    }
}
