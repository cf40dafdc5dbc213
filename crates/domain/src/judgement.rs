//! All that follows from what was read of one order, computed from data that can be carried away: a phone without signal
//! computes from them what the office computes.
//!
//! [`Knowledge`] is the same for all machines of a version of a model and costs a second to make ready; [`Evidence`] is what
//! one order adds.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::danger::{self, Danger, Signs};
use crate::diagnosis::{Diagnosis, Gathered, Intake, Standing, Tables, diagnose, gather};
use crate::equipment::{FaultCatalogue, FunctionalLimit, Measurement, Model};
use crate::evidence::{Doubt, TestRun};
use crate::grading::{Assessment, GradingError, GradingInput, HealthyReference, LearnedReferences, grade};
use crate::procedure::{Precondition, Procedure, ProcedureVersion};
use crate::text::Key;
use crate::violation::Violation;
use crate::vocabulary::Symptom;

/// What is known of a version of a model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Knowledge {
    pub model: Model,
    /// With the numbers that were learned, if any were; none where nobody has described the model's faults.
    pub faults: Option<FaultCatalogue>,
    /// The newest version of each procedure there is, whatever model it applies to.
    pub procedures: Vec<Procedure>,
}

/// What is known of an order beside what was read on it, as it was when an epoch began.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Background {
    pub intake: Intake,
    pub standing: Standing,
    /// Of the kitchen, above the sea.
    pub altitude_m: Option<f64>,
    /// Procedures in which something failed in an earlier epoch.
    pub failed_before: BTreeSet<Key>,
    /// Dangers for which the machine stands under stop-use.
    pub stopped: BTreeSet<Danger>,
    /// Dangers that the call told of.
    pub told: BTreeSet<Danger>,
    /// All of the complaint; those that the vocabulary knows.
    pub symptoms: Vec<Symptom>,
}

impl Background {
    /// The case that follows from it and from the order's runs, of every epoch; `named` are the procedures that they name.
    pub fn case(&self, tables: &Tables, runs: &[TestRun], named: &[Procedure]) -> Gathered {
        let mut gathered = gather(&self.intake, runs, named, &self.standing);
        gathered.case.altitude_m = self.altitude_m;
        gathered.case.failed_before.clone_from(&self.failed_before);
        let procedures: Vec<Procedure> = named.iter().chain(tables.procedures()).cloned().collect();
        gathered.case.dangers = danger::standing(&Signs {
            stopped: &self.stopped,
            told: &self.told,
            symptoms: &self.symptoms,
            runs,
            procedures: &procedures,
            model: tables.model(),
        });
        gathered
    }
}

/// What one order adds to the knowledge of its model.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Evidence {
    /// All of the order, of every epoch, superseded ones and retractions included.
    pub runs: Vec<TestRun>,
    /// Of the kitchen's other machines, near in time ([`GradingInput::site_runs`]).
    pub site_runs: Vec<TestRun>,
    /// Versions that runs name and that are not the newest.
    pub older_procedures: Vec<Procedure>,
    /// Of the appliance's own record.
    pub appliance_limits: Vec<FunctionalLimit>,
    /// What this very machine showed while it was healthy.
    pub own: Vec<(Measurement, HealthyReference)>,
    /// What healthy machines of its model show.
    pub fleet: Vec<(Measurement, HealthyReference)>,
    pub background: Background,
}

impl Evidence {
    /// The epoch in which the machine is now.
    pub fn epoch(&self) -> u32 {
        self.background.standing.epoch
    }
}

/// What follows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Judgement {
    pub assessment: Assessment,
    /// None where nobody has described the model's faults.
    pub diagnosis: Option<Diagnosis>,
    /// Readings that could not be weighed: procedure, step and reason.
    pub unreadable: Vec<(Key, Key, String)>,
}

/// Knowledge made ready.
pub struct Judge {
    model: Model,
    procedures: Vec<Procedure>,
    tables: Option<Tables>,
}

impl Judge {
    /// # Errors
    /// Where the catalogue of faults does not fit the model.
    pub fn new(knowledge: Knowledge) -> Result<Self, Vec<Violation>> {
        let Knowledge { model, faults, procedures } = knowledge;
        let tables = faults.map(|faults| Tables::compile(&faults, &model, &procedures)).transpose()?;
        Ok(Self { model, procedures, tables })
    }

    /// # Errors
    /// Where a run names a procedure or a step that is not there, or a value in no unit of its quantity.
    pub fn judge(&self, evidence: &Evidence) -> Result<Judgement, GradingError> {
        let references = LearnedReferences {
            own: evidence.own.iter().cloned().collect(),
            fleet: evidence.fleet.iter().cloned().collect(),
        };
        let known = evidence.older_procedures.iter().chain(&self.procedures);
        let bench = Bench { known: known.collect() };
        let assessment = grade(&GradingInput {
            model: &self.model,
            procedures: &bench.procedures(evidence),
            runs: &evidence.runs,
            site_runs: &evidence.site_runs,
            epoch: evidence.epoch(),
            appliance_limits: &evidence.appliance_limits,
            references: &references,
        })?;
        let named = bench.named(&evidence.runs);
        let case = self.tables.as_ref().map(|tables| {
            let gathered = evidence.background.case(tables, &evidence.runs, &named);
            (diagnose(tables, &gathered.case), gathered.unreadable)
        });
        let (diagnosis, unreadable) = case.unzip();
        Ok(Judgement { assessment, diagnosis, unreadable: unreadable.unwrap_or_default() })
    }

    /// What is doubtful in a run that may be kept.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn check(&self, run: &TestRun) -> Result<Vec<Doubt>, Vec<Violation>> {
        let Some(procedure) = self.procedures.iter().find(|procedure| procedure.id() == run.procedure) else {
            let detail = format!("{} is not known here", run.procedure);
            return Err(vec![Violation { pointer: "/procedure".to_owned(), detail }]);
        };
        run.validate(procedure, &self.model)?;
        Ok(run.doubts(procedure))
    }
}

/// Chooses the procedures that grading asks for.
struct Bench<'a> {
    known: Vec<&'a Procedure>,
}

impl Bench<'_> {
    fn named<'r>(&self, runs: impl IntoIterator<Item = &'r TestRun>) -> Vec<Procedure> {
        let named: BTreeSet<&ProcedureVersion> = runs.into_iter().map(|run| &run.procedure).collect();
        let find = |named: &&ProcedureVersion| self.known.iter().find(|known| known.id() == **named);
        named.iter().filter_map(find).map(|found| (*found).clone()).collect()
    }

    /// Every version that a run names, and the newest of those that must come before them.
    fn procedures(&self, evidence: &Evidence) -> Vec<Procedure> {
        let mut procedures = self.named(&evidence.runs);
        let come_first: BTreeSet<Key> = procedures.iter().flat_map(comes_first).collect();
        let is_missing = |key: &&Key| procedures.iter().all(|procedure| procedure.key != **key);
        let newest = |key: &Key| {
            let of_key = self.known.iter().filter(|known| known.key == *key);
            of_key.max_by_key(|known| known.version).map(|found| (*found).clone())
        };
        let missing: Vec<Procedure> = come_first.iter().filter(is_missing).filter_map(newest).collect();
        procedures.extend(missing);
        let of_neighbours = self.named(&evidence.site_runs);
        let is_new = |other: &Procedure| procedures.iter().all(|procedure| procedure.id() != other.id());
        let more: Vec<Procedure> = of_neighbours.into_iter().filter(is_new).collect();
        procedures.extend(more);
        procedures
    }
}

/// The procedures that one asks to be read first.
pub fn comes_first(procedure: &Procedure) -> impl Iterator<Item = Key> {
    procedure.preconditions.iter().filter_map(|precondition| match precondition {
        Precondition::Read { procedure, .. } | Precondition::Passed { procedure, .. } => {
            Some(procedure.clone())
        }
        Precondition::Confirmed { .. } => None,
    })
}

#[cfg(test)]
mod tests;
