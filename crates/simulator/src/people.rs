//! The people around the machines: cooks who notice late and describe wrongly, technicians who
//! misread, skip, have favourites and forget.

pub mod cook;
pub mod names;

use crate::defect::Defect;
use crate::random::Random;

/// How one technician works.
#[derive(Debug, Clone, PartialEq)]
pub struct Habits {
    /// Chance that a test which should be done is done.
    pub diligence: f64,
    /// How often readings and looks go wrong outright, 1 is usual.
    pub carelessness: f64,
    /// Standard deviation of what a look at a part tells of its severity.
    pub eye: f64,
    /// Reads times long or short, as a factor.
    pub time_bias: f64,
    /// What he believes it is before he has looked, and how often he acts on it.
    pub favourite: Defect,
    pub prejudice: f64,
    /// Chance to be content with the first fault found.
    pub content: f64,
    /// Chance that something is put together wrongly.
    pub clumsiness: f64,
}

impl Habits {
    pub fn drawn(random: &mut Random) -> Self {
        const FAVOURITES: [Defect; 5] = [
            Defect::FillValveWeak,
            Defect::WashPumpFades,
            Defect::OutputDead,
            Defect::RunCapacitorWeak,
            Defect::DrainPumpDead,
        ];
        Self {
            diligence: random.between(0.75, 0.98),
            carelessness: random.between(0.3, 1.7),
            eye: random.between(0.05, 0.15),
            time_bias: random.factor(0.02),
            favourite: *random.pick(&FAVOURITES),
            prejudice: random.between(0.0, 0.06),
            content: random.between(0.05, 0.35),
            clumsiness: random.between(0.002, 0.02),
        }
    }
}
