use serde::{Deserialize, Serialize};

use super::{WaterSample, WaterValue};
use crate::equipment::{Bounds, WaterLimits};
use crate::word_list;

word_list! {
    /// How a value stands to its limits.
    pub enum Standing {
        Within = "within",
        Below = "below",
        Above = "above",
        /// The model limits it, and the sample does not say.
        NotKnown = "not_known",
    }
}

/// One value of a sample against one limit of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WaterFinding {
    pub of: WaterValue,
    pub value: Option<f64>,
    pub limits: Bounds,
    pub standing: Standing,
    /// The finding in plain words.
    pub sentence: String,
}

/// The sample against every limit that the model states, in the order of the model's list. Values on a
/// limit are within it.
pub fn compare(sample: &WaterSample, limits: &WaterLimits) -> Vec<WaterFinding> {
    [
        (WaterValue::Hardness, limits.hardness_mg_per_l_caco3),
        (WaterValue::Conductivity, limits.conductivity_us_per_cm),
        (WaterValue::Chloride, limits.chloride_mg_per_l),
        (WaterValue::Ph, limits.ph),
        (WaterValue::LangelierIndex, limits.langelier_index),
    ]
    .into_iter()
    .filter_map(|(of, limits)| {
        limits.filter(|bounds| !bounds.is_open()).map(|bounds| find(sample, of, bounds))
    })
    .collect()
}

fn find(sample: &WaterSample, of: WaterValue, limits: Bounds) -> WaterFinding {
    let value = sample.value(of);
    let standing = match value {
        None => Standing::NotKnown,
        Some(value) if limits.lower.is_some_and(|lower| value < lower) => Standing::Below,
        Some(value) if limits.upper.is_some_and(|upper| value > upper) => Standing::Above,
        Some(_) => Standing::Within,
    };
    let sentence = sentence(sample, of, value, limits, standing);
    WaterFinding { of, value, limits, standing, sentence }
}

fn sentence(
    sample: &WaterSample,
    of: WaterValue,
    value: Option<f64>,
    limits: Bounds,
    standing: Standing,
) -> String {
    let (title, limits) = (of.title(), limits_in_words(of, limits));
    let Some(value) = value else {
        let why = match of {
            WaterValue::LangelierIndex | WaterValue::RyznarIndex => {
                sample.indices().err().map_or_else(String::new, |reason| format!(" ({reason})"))
            }
            _ => String::new(),
        };
        return format!("The {title} is not known{why}; the model takes {limits}.");
    };
    let value = with_unit(of, value);
    match standing {
        Standing::Within | Standing::NotKnown => {
            format!("The {title} is {value}; the model takes {limits}.")
        }
        Standing::Below | Standing::Above => {
            let consequence = consequence(of, standing == Standing::Above);
            format!("The {title} is {value}, but the model takes {limits}: {consequence}.")
        }
    }
}

fn limits_in_words(of: WaterValue, limits: Bounds) -> String {
    match (limits.lower, limits.upper) {
        (Some(lower), Some(upper)) => format!("{} to {}", number(lower), with_unit(of, upper)),
        (Some(lower), None) => format!("at least {}", with_unit(of, lower)),
        (None, Some(upper)) => format!("at most {}", with_unit(of, upper)),
        (None, None) => "any".to_owned(),
    }
}

/// **Common practice, no source.**
fn consequence(of: WaterValue, above: bool) -> &'static str {
    match (of, above) {
        (WaterValue::Hardness, true) => "scale will form, so look at the treatment",
        (WaterValue::Hardness, false) => "it is softer than the model wants",
        (WaterValue::Conductivity, true) => {
            "it carries more salts than the model wants, so look at the treatment"
        }
        (WaterValue::Conductivity, false) => "probes that sense water by its conductivity may not see it",
        (WaterValue::Chloride, true) => "stainless steel may be attacked, the more so when hot",
        (WaterValue::Chloride, false) => "it holds less than the model wants",
        (WaterValue::Ph, true) => "it is more alkaline than the model wants",
        (WaterValue::Ph, false) => "acid water attacks metals",
        (WaterValue::LangelierIndex, true) | (WaterValue::RyznarIndex, false) => "the water lays down scale",
        (WaterValue::LangelierIndex, false) | (WaterValue::RyznarIndex, true) => {
            "the water dissolves scale and may attack metals"
        }
    }
}

fn with_unit(of: WaterValue, value: f64) -> String {
    match of.unit() {
        "" => number(value),
        unit => format!("{} {unit}", number(value)),
    }
}

/// Three digits are more than a kit reads.
fn number(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 10.0 => 1,
        _ => 2,
    };
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}
