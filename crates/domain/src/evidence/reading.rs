use serde::{Deserialize, Serialize};

use super::Instrument;
use crate::quantity::AsRead;
use crate::text::Key;

/// What one step yielded: exactly one of value, choice and series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    pub step: Key,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Measured>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<Key>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<Series>,
}

/// A number as it was read, and what is known of its quality.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    #[serde(flatten)]
    pub as_read: AsRead,
    /// In the unit as read; computed from the instrument where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub standard_uncertainty: Option<f64>,
    /// The number only bounds the value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub censored: Option<Censored>,
    /// The number is the mean of repeated readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeats: Option<Repeats>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Censored {
    /// Still running when stopped, a full bucket, the gauge's upper end.
    AtLeast,
    /// The gauge's lower end.
    AtMost,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Repeats {
    pub count: u32,
    /// Sample standard deviation of the single readings, in the unit as read.
    pub standard_deviation: f64,
}

/// A quantity recorded over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Series {
    pub values: Vec<f64>,
    /// Seconds from the command, rising.
    pub times_s: Vec<f64>,
    /// UCUM code of the values.
    pub unit: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
}

impl Reading {
    pub fn value(step: Key, value: Measured) -> Self {
        Self { step, value: Some(value), choice: None, series: None }
    }

    pub fn choice(step: Key, choice: Key) -> Self {
        Self { step, value: None, choice: Some(choice), series: None }
    }

    pub fn series(step: Key, series: Series) -> Self {
        Self { step, value: None, choice: None, series: Some(series) }
    }
}

impl Measured {
    /// A plain number with nothing known beyond it.
    pub const fn new(as_read: AsRead) -> Self {
        Self { as_read, standard_uncertainty: None, censored: None, repeats: None, instrument: None }
    }
}
