use std::collections::BTreeMap;

use super::{GradingError, GradingInput};
use crate::evidence::{Reading, TestRun, current};
use crate::procedure::{Procedure, Step};
use crate::text::Key;

/// The evidence that counts: the current runs of the epoch in taken order, and the latest reading of
/// each step.
pub(super) struct EvidenceIndex<'a> {
    pub runs: Vec<(&'a TestRun, &'a Procedure)>,
    procedures: BTreeMap<(&'a Key, u32), &'a Procedure>,
    newest: BTreeMap<&'a Key, &'a Procedure>,
    latest: BTreeMap<(&'a Key, &'a Key), Found<'a>>,
    /// What other machines' runs say of the building.
    elsewhere: BTreeMap<(&'a Key, &'a Key), Found<'a>>,
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
        let mut index = Self {
            runs: Vec::new(),
            procedures: input.procedures.iter().map(|known| ((&known.key, known.version), known)).collect(),
            newest: BTreeMap::new(),
            latest: BTreeMap::new(),
            elsewhere: BTreeMap::new(),
        };
        // Ascending versions, so that the last one stays.
        index.newest = index.procedures.iter().map(|((key, _), procedure)| (*key, *procedure)).collect();
        for run in current(input.runs).into_iter().filter(|run| run.epoch == input.epoch) {
            let procedure = index.procedure_of(run)?;
            for reading in &run.readings {
                let step = step_of(procedure, &reading.step)?;
                index.latest.insert((&procedure.key, &step.key), Found { run, step, reading });
            }
            index.runs.push((run, procedure));
        }
        for run in current(input.site_runs) {
            let procedure = index.procedure_of(run)?;
            for reading in &run.readings {
                let step = step_of(procedure, &reading.step)?;
                if !step.about.is_empty() && step.about.iter().all(|position| position.is_external()) {
                    index.elsewhere.insert((&procedure.key, &step.key), Found { run, step, reading });
                }
            }
        }
        Ok(index)
    }

    /// The version of the procedure that the run names.
    pub fn procedure_of(&self, run: &TestRun) -> Result<&'a Procedure, GradingError> {
        let known = self.procedures.get(&(&run.procedure.key, run.procedure.version)).copied();
        known.ok_or_else(|| GradingError::UnknownProcedure {
            test_run: run.id,
            procedure: run.procedure.clone(),
        })
    }

    /// The newest version of a procedure.
    pub fn newest(&self, key: &Key) -> Option<&'a Procedure> {
        self.newest.get(key).copied()
    }

    pub fn latest(&self, procedure: &Key, step: &Key) -> Option<Found<'a>> {
        self.latest.get(&(procedure, step)).copied()
    }

    /// The latest that another machine's runs say of the building by this step.
    pub fn elsewhere(&self, procedure: &Key, step: &Key) -> Option<Found<'a>> {
        self.elsewhere.get(&(procedure, step)).copied()
    }
}

pub(super) fn step_of<'a>(procedure: &'a Procedure, key: &Key) -> Result<&'a Step, GradingError> {
    let unknown = || GradingError::UnknownStep { procedure: procedure.id(), step: key.clone() };
    procedure.step(key).ok_or_else(unknown)
}
