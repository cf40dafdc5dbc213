use serde::{Deserialize, Serialize};

use crate::text::{Key, Words};

/// Why a grading is inconclusive.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Reason {
    NoLimit,
    InstrumentTooCoarse {
        standard_uncertainty: f64,
        allowed: f64,
    },
    CalibrationLongExpired,
    /// The bound that was read lies on the wrong side of the limit to settle it.
    StoppedTooEarly,
    NotRead {
        procedure: Key,
        step: Key,
    },
    PrerequisiteFailed {
        procedure: Key,
        step: Key,
    },
    PrerequisiteInconclusive {
        procedure: Key,
        step: Key,
    },
    NotConfirmed {
        statement: Words,
    },
    SumpLevelNotRead,
    SumpUnderFilled {
        level_l: f64,
        needed_l: f64,
    },
    NothingFlowed,
    NotCorrectable {
        detail: String,
    },
}

impl std::fmt::Display for Reason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoLimit => f.write_str("neither the model nor the appliance's record has a limit for it"),
            Self::InstrumentTooCoarse { standard_uncertainty, allowed } => write!(
                f,
                "the instrument is too coarse for these limits (standard uncertainty {standard_uncertainty:.3}, at \
                 most {allowed:.3} would do)"
            ),
            Self::CalibrationLongExpired => f.write_str(
                "the instrument's calibration ran out more than a year before: read again with one in date",
            ),
            Self::StoppedTooEarly => {
                f.write_str("the observation ended before the limit was reached: go on for longer")
            }
            Self::NotRead { procedure, step } => {
                write!(f, "{} was not read ({})", words(step), words(procedure))
            }
            Self::PrerequisiteFailed { procedure, step } => {
                write!(f, "{} failed first ({}): mend that and repeat", words(step), words(procedure))
            }
            Self::PrerequisiteInconclusive { procedure, step } => {
                write!(f, "{} is itself inconclusive ({})", words(step), words(procedure))
            }
            Self::NotConfirmed { statement } => {
                write!(f, "nobody confirmed: {}", statement.as_str().trim_end_matches('.'))
            }
            Self::SumpLevelNotRead => f.write_str("the water in the sump before the run was not read"),
            Self::SumpUnderFilled { level_l, needed_l } => write!(
                f,
                "the sump held {level_l:.2} L before the run and full flow needs {needed_l:.2} L, so a good pump \
                 would starve too: fill it to the mark and repeat"
            ),
            Self::NothingFlowed => {
                f.write_str("nothing flowed at the start, so there is nothing to compare with")
            }
            Self::NotCorrectable { detail } => {
                write!(f, "it cannot be brought to reference conditions: {detail}")
            }
        }
    }
}

fn words(key: &Key) -> String {
    key.as_str().replace('_', " ")
}
