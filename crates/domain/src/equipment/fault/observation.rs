use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Subsystem;
use crate::equipment::{Measurement, WashStage};
use crate::quantity::{QuantityKind, Scale};
use crate::text::Key;

/// Names what is observed: `procedure/step`, or `procedure/step/statistic` of a recorded series. The
/// questions of the intake belong to the procedure `intake`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String")]
pub struct ObservationKey(String);

impl ObservationKey {
    pub fn new(text: impl Into<String>) -> Result<Self, NotAnObservationKey> {
        let text = text.into();
        let parts: Vec<&str> = text.split('/').collect();
        let is_key = (2..=3).contains(&parts.len()) && parts.iter().all(|part| Key::new(*part).is_ok());
        if is_key { Ok(Self(text)) } else { Err(NotAnObservationKey) }
    }

    pub fn as_str(&self) -> &str {
        &self.0
    }

    pub fn procedure(&self) -> &str {
        self.0.split('/').next().unwrap_or_default()
    }

    pub fn step(&self) -> &str {
        self.0.split('/').nth(1).unwrap_or_default()
    }
}

/// Why a text names no observation.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("an observation is named procedure/step or procedure/step/statistic, each part a key")]
pub struct NotAnObservationKey;

impl TryFrom<String> for ObservationKey {
    type Error = NotAnObservationKey;

    fn try_from(text: String) -> Result<Self, NotAnObservationKey> {
        Self::new(text)
    }
}

impl From<ObservationKey> for String {
    fn from(key: ObservationKey) -> Self {
        key.0
    }
}

impl From<&Measurement> for ObservationKey {
    fn from(measurement: &Measurement) -> Self {
        let statistic = measurement.statistic.map(|statistic| {
            use crate::equipment::SeriesStatistic::{FirstFall, FirstFlow, LastFifthShare};
            match statistic {
                FirstFlow => "/first_flow",
                FirstFall => "/first_fall",
                LastFifthShare => "/last_fifth_share",
            }
        });
        Self(format!("{}/{}{}", measurement.procedure, measurement.step, statistic.unwrap_or_default()))
    }
}

impl std::fmt::Display for ObservationKey {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(&self.0)
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_false(value: &bool) -> bool {
    !*value
}

/// A reading with a number: what the circuit predicts for it, and how far readings stray.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeasurementModel {
    pub key: ObservationKey,
    pub quantity: QuantityKind,
    pub reads: Reads,
    /// The scale on which readings stray evenly about the prediction.
    pub scale: Scale,
    /// How far the prediction itself may be off, as a standard deviation on that scale.
    pub model_error: f64,
    /// Readings outside are taken as at the end of the range; a misread value lies anywhere within.
    pub range: (f64, f64),
    /// Standard uncertainty where a reading does not bring its own, on the scale.
    pub usual_uncertainty: f64,
    #[serde(default)]
    pub misread: Misread,
    /// It is read on a part itself, not on what the machine does: what nobody described may do anything to a
    /// time or a flow, but leaves the other parts' own values as they are.
    #[serde(default, skip_serializing_if = "is_false")]
    pub of_part: bool,
    /// If it is judged and not measured: the range of values for which each choice stands, in the
    /// canonical unit.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub judged: BTreeMap<Key, (f64, f64)>,
}

/// How often a value is misread or mistyped, and where it then lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Misread {
    /// ε: share of readings that are slips.
    pub share: f64,
    /// Share of the slips that lie near the truth, as those of what is timed, poured or judged by hand do;
    /// the others lie anywhere in the range.
    pub near: f64,
}

impl Default for Misread {
    fn default() -> Self {
        Self { share: 0.03, near: 0.0 }
    }
}

impl MeasurementModel {
    /// Standard deviation, on the scale, of a slip that lies near the truth: a factor of 1.5, or a tenth of
    /// the range.
    pub fn near_slip(&self) -> f64 {
        match self.scale {
            Scale::Logarithmic => 0.4,
            Scale::Linear => 0.1 * (self.range.1 - self.range.0),
        }
    }
}

/// What a measurement reads, in the canonical unit of its quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reads {
    /// At the tap ahead of the inlet strainer, without flow.
    StaticPressure,
    /// At the same tap during the fill.
    DynamicPressure,
    /// After the inlet strainer during the fill.
    PressureAfterStrainer,
    /// From first water to the full mark.
    FillTime,
    /// Caught in a timed call of water.
    CaughtVolume,
    /// Standing in the sump after an ordinary fill.
    FilledVolume,
    FirstFlow,
    /// Time to the first fall below 90 % of the first flow.
    FirstFall,
    /// Mean of the last fifth of the run as a share of the first flow.
    LastFifthShare,
    MotorCurrent,
    DrainTime,
    /// From the model's water to a stage of its wash.
    HeatingTime {
        stage: WashStage,
    },
    SiteVoltage,
    /// A value of its own: `healthy` on a sound machine, changed by the effects of the faults of one
    /// subsystem. If `unpowered` is given, that is read while the controls do not reach the subsystem.
    Own {
        subsystem: Subsystem,
        healthy: f64,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        unpowered: Option<f64>,
    },
}

impl Reads {
    pub const fn subsystem(&self) -> Subsystem {
        match self {
            Self::StaticPressure => Subsystem::WaterSupply,
            Self::DynamicPressure | Self::PressureAfterStrainer | Self::FillTime | Self::CaughtVolume => {
                Subsystem::Fill
            }
            Self::FilledVolume => Subsystem::Sump,
            Self::FirstFlow | Self::FirstFall | Self::LastFifthShare | Self::MotorCurrent => Subsystem::Wash,
            Self::DrainTime => Subsystem::Drain,
            Self::HeatingTime { .. } => Subsystem::Heat,
            Self::SiteVoltage => Subsystem::PowerSupply,
            Self::Own { subsystem, .. } => *subsystem,
        }
    }
}

/// A reading that is one of a list, and how truly it is read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Inspection {
    pub key: ObservationKey,
    /// From what a sound machine shows to what overrides everything else.
    pub choices: Vec<Key>,
    /// For each true choice, the probabilities of reading each choice; each row sums to 1.
    pub confusion: Vec<Vec<f64>>,
    /// Choices that nobody sees by a slip: torn, missing, wet, gnawed, open. Who sees something rare and
    /// grave looks twice, so that a sound part is taken for it the more seldom the rarer it is
    /// ([`FaultCatalogue::read_as`](super::FaultCatalogue::read_as)).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub gross: Vec<Key>,
    /// It is a look at a part itself, not at what the machine does.
    #[serde(default, skip_serializing_if = "is_false")]
    pub of_part: bool,
    /// How a number is turned into a choice, if it is read as a number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bands: Option<Bands>,
    /// What the state of the controls or of the door shows here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub follows: Vec<Follows>,
}

impl Inspection {
    pub fn choice(&self, key: &Key) -> Option<usize> {
        self.choices.iter().position(|choice| choice == key)
    }
}

/// Ranges of a number: below the first limit, between each two, above the last.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bands {
    pub quantity: QuantityKind,
    /// Ascending, in the canonical unit.
    pub limits: Vec<f64>,
    /// One more than limits.
    pub choices: Vec<Key>,
}

impl Bands {
    pub fn choice(&self, value: f64) -> Option<&Key> {
        self.choices.get(self.limits.iter().filter(|limit| value > **limit).count())
    }
}

/// What is on or off as a whole, and shows when it is off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Switch {
    /// Whether the control output reaches the fill valve, the wash motor or the heating.
    FillOutput,
    WashOutput,
    HeatOutput,
    /// Whether the machine knows that its door is shut.
    DoorMade,
    /// Whether the wash motor is fed: its output reaches it and the door is made.
    WashPowered,
}

impl Switch {
    /// The subsystem with which an inspection that follows it is weighed.
    pub const fn subsystem(self) -> Subsystem {
        match self {
            Self::FillOutput | Self::WashOutput | Self::HeatOutput => Subsystem::Control,
            Self::DoorMade => Subsystem::Door,
            Self::WashPowered => Subsystem::Wash,
        }
    }
}

/// When the switch is off, the inspection shows `choice` with this probability.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Follows {
    /// Catalogues that were stored under the name `parameter` stay readable.
    #[serde(alias = "parameter")]
    pub switch: Switch,
    pub choice: Key,
    pub probability: f64,
}
