//! A company's own machine from its plate: the model, its limits and typical values, the procedures that fit,
//! and a catalogue of faults out of the general one by position. A draft is a beginning that a person reads,
//! changes and takes into the catalogue; nothing of it is kept by itself.
//!
//! General knowledge is that of the built-in catalogues, whose rates are reasoned guesses (common practice, no
//! source), and of a table of how kinds of machines differ; what a plate does not say (how the drop
//! of pressure shares out, how a pump's head falls) is taken in the proportions of the demo combi. Rates and
//! known-good values are then learned from the company's own jobs.

mod circuit;
mod elements;
mod faults;
mod general;
mod likeness;
mod limits;
mod plate;

pub use plate::{Plate, PlateHeater};

use std::collections::BTreeSet;

use crate::equipment::{FaultCatalogue, Model};
use crate::procedure::{Procedure, built_in_procedures};
use crate::violation::Violation;
use crate::vocabulary::Position;
use likeness::Likeness;

/// A valid beginning for a machine that nobody has described yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    pub model: Model,
    /// Those of the service that have something to say about the machine.
    pub procedures: Vec<&'static Procedure>,
    pub faults: FaultCatalogue,
    /// Positions of the machine of which nothing general is known to fail: whoever knows adds a fault.
    pub without_faults: BTreeSet<Position>,
}

impl Draft {
    /// All that is missing on the plate or impossible is named at once, with a pointer into it and what would
    /// be right.
    pub fn of(plate: &Plate) -> Result<Self, Vec<Violation>> {
        let mut model = circuit::model(plate)?;
        let likeness = Likeness::new(plate, &model);
        let (own, typical) =
            (limits::functional(plate, &model, &likeness), limits::typical(&model, &likeness));
        let faults = faults::general(&model, &likeness);
        (model.functional_limits, model.typical_values) = (own, typical);
        limits::hold_for_a_sound_machine(plate, &model)?;
        let procedures =
            built_in_procedures().iter().filter(|procedure| procedure.applies_to(&model)).collect();
        let with_faults: BTreeSet<Position> = faults.faults.iter().map(|fault| fault.position).collect();
        let without_faults = model.positions.difference(&with_faults).copied().collect();
        let within = |part: &'static str| {
            move |of: Violation| Violation { pointer: format!("{part}{}", of.pointer), ..of }
        };
        let of_model = model.validate().err().unwrap_or_default().into_iter().map(within("/model"));
        let of_faults = faults.validate(&model).err().unwrap_or_default().into_iter().map(within("/faults"));
        let violations: Vec<_> = of_model.chain(of_faults).collect();
        if violations.is_empty() {
            Ok(Self { model, procedures, faults, without_faults })
        } else {
            Err(violations)
        }
    }
}
