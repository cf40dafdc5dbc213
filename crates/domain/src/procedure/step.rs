use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::danger::Danger;
use crate::equipment::{Model, WashStage};
use crate::quantity::QuantityKind;
use crate::text::{Key, Name, Words};
use crate::vocabulary::{Condition, FailureMode, Position};

/// One thing to do and to read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    pub key: Key,
    pub title: Name,
    pub instruction: Words,
    pub reads: Reads,
    /// The position whose condition it proposes, and behind it those that stand in on models without
    /// it. Empty where the reading only qualifies others, as the volume of a bucket does, or speaks of
    /// the whole machine.
    #[serde(default)]
    pub about: Vec<Position>,
    /// May be left out without a reason.
    #[serde(default)]
    pub optional: bool,
    /// Steps of the same run without which this one means nothing: a catch without its bucket.
    #[serde(default)]
    pub needs_steps: Vec<Key>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interlock_defeat: Option<InterlockDefeat>,
    /// Dangers that are over when this reads healthy, as far as this step can tell.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub looks_for: BTreeSet<Danger>,
    /// The danger of which a measured value beyond the model's limit tells. A choice says it by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signals: Option<Danger>,
}

/// What a step yields.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Reads {
    Measure {
        quantity: QuantityKind,
        /// When the clock starts, for a duration.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        clock: Option<Clock>,
        /// The stage of the wash at which the clock stops. How hot it is, the model says; a model without
        /// it has no such step.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stage: Option<WashStage>,
        /// Where the gauge sits, for a pressure.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tap: Option<PressureTap>,
        /// The end is judged by eye ("full", "runs clear"), which adds to the uncertainty of a time.
        #[serde(default)]
        judged: bool,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        correction: Option<Correction>,
        /// A step of the same run holding the litres that the sump held; below what full flow needs,
        /// this reading means nothing.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sump_level_step: Option<Key>,
        /// A step of the same run whose value this one cannot exceed, such as the bucket's volume.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        capacity_step: Option<Key>,
    },
    Choose {
        choices: Vec<Choice>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sump_level_step: Option<Key>,
    },
    Record {
        quantity: QuantityKind,
        minimum_samples: usize,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        sump_level_step: Option<Key>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    /// From the command to the valve, pump or heater.
    FromCommand,
    /// From the first water seen or heard.
    FromFirstWater,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureTap {
    /// After the supply line: strainer and valve cannot be told apart from here.
    BeforeInletStrainer,
    AfterInletStrainer,
}

/// How a reading is brought to the model's reference conditions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Correction {
    /// A time of filling: falls with the square root of the dynamic pressure.
    FillTime,
    /// A volume caught in a timed call: rises with the square root of the dynamic pressure, and with the
    /// length of the call, where a step of the same run reads it.
    CaughtVolume {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        call_step: Option<Key>,
    },
    /// A time of heating to the step's stage: falls with the power, which goes with the square of the
    /// voltage, less the loss. It starts at the model's water temperature unless a step of the same run
    /// reads it.
    HeatingTime {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        start_step: Option<Key>,
    },
}

/// One entry of a step's list and the condition that it proposes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    pub key: Key,
    pub title: Name,
    pub condition: Condition,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failure_mode: Option<FailureMode>,
    /// The danger of which it tells: the machine is then unsafe.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub signals: Option<Danger>,
}

/// A step that takes a protection away: it needs a second person, ends after a time, and its removal is
/// recorded (ISO 14119 calls a magnet or a bridge on an interlock a defeat).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InterlockDefeat {
    pub what: Words,
    pub time_limit_minutes: u32,
}

impl Step {
    /// Whether the step means anything on this model: it is about nothing in particular, about
    /// something outside the machine, or about a position that the model has; and the model has the
    /// stage that it times, if it times one.
    pub fn applies_to(&self, model: &Model) -> bool {
        let has_stage = self.stage().is_none_or(|stage| model.stage_cel(stage).is_some());
        has_stage && (self.about.is_empty() || self.position(model).is_some())
    }

    /// The stage of the wash that it times.
    pub const fn stage(&self) -> Option<WashStage> {
        match self.reads {
            Reads::Measure { stage, .. } => stage,
            _ => None,
        }
    }

    /// The position whose condition it proposes on this model.
    pub fn position(&self, model: &Model) -> Option<Position> {
        self.about.iter().copied().find(|position| position.is_external() || model.has(*position))
    }

    /// What it measures or records; none where it chooses.
    pub fn quantity(&self) -> Option<QuantityKind> {
        match self.reads {
            Reads::Measure { quantity, .. } | Reads::Record { quantity, .. } => Some(quantity),
            Reads::Choose { .. } => None,
        }
    }

    /// Whether its value is brought to reference conditions before it tells the part's health.
    pub fn is_corrected(&self) -> bool {
        matches!(self.reads, Reads::Measure { correction: Some(_), .. })
    }

    pub fn choice(&self, key: &Key) -> Option<&Choice> {
        match &self.reads {
            Reads::Choose { choices, .. } => choices.iter().find(|choice| choice.key == *key),
            _ => None,
        }
    }

    pub fn sump_level_step(&self) -> Option<&Key> {
        match &self.reads {
            Reads::Measure { sump_level_step, .. }
            | Reads::Choose { sump_level_step, .. }
            | Reads::Record { sump_level_step, .. } => sump_level_step.as_ref(),
        }
    }
}
