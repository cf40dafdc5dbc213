use std::collections::BTreeMap;

use super::{GradingError, GradingInput};
use crate::evidence::{Reading, TestRun, current};
use crate::procedure::{Procedure, Step};
use crate::text::Key;

/// The evidence that counts: the current runs of the epoch in taken order, and the latest reading of
/// each step.
pub(super) struct EvidenceIndex<'a> {
    pub runs: Vec<(&'a TestRun, &'a Procedure)>,
    procedures: &'a [Procedure],
    latest: BTreeMap<(&'a Key, &'a Key), Found<'a>>,
}

/// One reading with what it belongs to.
#[derive(Clone, Copy)]
pub(super) struct Found<'a> {
    pub run: &'a TestRun,
    pub step: &'a Step,
    pub reading: &'a Reading,
}

impl<'a> EvidenceIndex<'a> {
    pub fn new(input: &GradingInput<'a>) -> Result<Self, GradingError> {
        let mut index = Self { runs: Vec::new(), procedures: input.procedures, latest: BTreeMap::new() };
        for run in current(input.runs).into_iter().filter(|run| run.epoch == input.epoch) {
            let procedure = index.procedure_of(run)?;
            for reading in &run.readings {
                let step = step_of(procedure, &reading.step)?;
                index.latest.insert((&procedure.key, &step.key), Found { run, step, reading });
            }
            index.runs.push((run, procedure));
        }
        Ok(index)
    }

    /// The version of the procedure that the run names.
    pub fn procedure_of(&self, run: &TestRun) -> Result<&'a Procedure, GradingError> {
        let is_it = |procedure: &&Procedure| {
            procedure.key == run.procedure.key && procedure.version == run.procedure.version
        };
        self.procedures.iter().find(is_it).ok_or_else(|| GradingError::UnknownProcedure {
            test_run: run.id,
            procedure: run.procedure.clone(),
        })
    }

    /// The newest version of a procedure.
    pub fn newest(&self, key: &Key) -> Option<&'a Procedure> {
        self.procedures
            .iter()
            .filter(|procedure| procedure.key == *key)
            .max_by_key(|procedure| procedure.version)
    }

    pub fn latest(&self, procedure: &Key, step: &Key) -> Option<Found<'a>> {
        self.latest.get(&(procedure, step)).copied()
    }
}

pub(super) fn step_of<'a>(procedure: &'a Procedure, key: &Key) -> Result<&'a Step, GradingError> {
    let unknown = || GradingError::UnknownStep { procedure: procedure.id(), step: key.clone() };
    procedure.step(key).ok_or_else(unknown)
}
