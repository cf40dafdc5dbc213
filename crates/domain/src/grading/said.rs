use serde::{Deserialize, Serialize};

use crate::equipment::Model;
use crate::procedure::{Choice, Step};

/// What words for a verdict need beside it.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Said {
    /// What the procedure calls the step.
    pub title: String,
    /// How hot the stage is that it times, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage_cel: Option<f64>,
    /// What the procedure calls the choice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<String>,
    /// Whether its value is brought to reference conditions.
    pub is_corrected: bool,
    /// From which it was brought there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure: Option<PressureDuring>,
    /// The dynamic pressure of the reference conditions, bar.
    pub reference_pressure_bar: f64,
}

/// The dynamic pressure while something ran.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PressureDuring {
    pub bar: f64,
    /// Read at another machine of the kitchen.
    pub elsewhere: bool,
}

impl Said {
    pub(super) fn of(
        model: &Model,
        step: &Step,
        choice: Option<&Choice>,
        pressure: Option<PressureDuring>,
    ) -> Self {
        Self {
            title: step.title.to_string(),
            stage_cel: step.stage().and_then(|stage| model.stage_cel(stage)),
            choice: choice.map(|choice| choice.title.to_string()),
            is_corrected: step.is_corrected(),
            pressure,
            reference_pressure_bar: model.reference.dynamic_pressure_bar,
        }
    }
}
