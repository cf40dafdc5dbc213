use serde::{Deserialize, Serialize};

/// A stage of heating that every cycle of a machine passes, by its rank. Procedures and fault catalogues
/// name the stage; how hot it is, the model says ([`super::Model::stage_cel`]), so one procedure serves
/// machines whose stages differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WashStage {
    First,
    Second,
    Third,
}

impl WashStage {
    pub const ALL: [Self; 3] = [Self::First, Self::Second, Self::Third];

    /// As it is written: `first`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::Second => "second",
            Self::Third => "third",
        }
    }

    /// Its place among the model's stages, from 0.
    pub const fn index(self) -> usize {
        self as usize
    }
}
