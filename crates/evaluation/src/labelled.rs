//! Cases with the truth behind them, from both tiers, in the form in which the engine takes them.

use std::collections::{BTreeMap, BTreeSet};

use domain::diagnosis::{
    Case, Intake, Number, Observation, Observed, RankedSet, ReadingConditions, Standing, Tables, diagnose,
    gather,
};
use domain::equipment::{FaultCatalogue, ObservationKey, Subsystem};
use domain::evidence::TestRun;
use domain::procedure::Procedure;
use domain::text::Key;
use domain::vocabulary::Symptom;
use simulator::cases::catalogue::{CatalogueCase, Seen};
use simulator::cases::physical::{Behind, PhysicalCase};

/// One call with its whole checklist and what was truly wrong.
#[derive(Debug, Clone)]
pub struct Labelled {
    pub case: Case,
    pub truth: Truth,
    /// The case of tier A as it was drawn, for the ideal observer.
    pub drawn: Option<CatalogueCase>,
    /// What the caller of a case of tier B said, and the machine behind it.
    pub company: Option<(Intake, Behind)>,
}

#[derive(Debug, Clone, Default)]
pub struct Truth {
    pub faults: BTreeSet<Key>,
    pub other_in: BTreeSet<Subsystem>,
}

impl Labelled {
    /// The case as far as these procedures and the intake tell.
    pub fn after(&self, done: &BTreeSet<Key>) -> Case {
        let told = |observation: &&Observation| {
            let procedure = observation.key.procedure();
            procedure == INTAKE || done.iter().any(|key| key.as_str() == procedure)
        };
        Case {
            observations: self.case.observations.iter().filter(told).cloned().collect(),
            done: done.clone(),
            ..self.case.clone()
        }
    }
}

pub const INTAKE: &str = "intake";

/// A name for what stands together: look-alikes under one name, and in a subsystem with something that
/// nobody described that alone.
pub type Label = BTreeSet<String>;

/// How sets of faults are named.
pub struct Naming<'a> {
    catalogue: &'a FaultCatalogue,
    alike: BTreeMap<Key, Key>,
    pub groups: Vec<Vec<Key>>,
}

impl<'a> Naming<'a> {
    pub fn new(tables: &'a Tables) -> Self {
        let groups: Vec<Vec<Key>> =
            diagnose(tables, &Case::default()).look_alikes.into_iter().map(|group| group.faults).collect();
        let alike = groups
            .iter()
            .flat_map(|group| group.iter().map(|fault| (fault.clone(), group[0].clone())))
            .collect();
        Self { catalogue: tables.catalogue(), alike, groups }
    }

    /// The fault, or the first of its look-alikes.
    pub fn one<'k>(&'k self, fault: &'k Key) -> &'k Key {
        self.alike.get(fault).unwrap_or(fault)
    }

    pub fn of_truth(&self, truth: &Truth) -> Label {
        self.of(truth.faults.iter(), &truth.other_in)
    }

    pub fn of_set(&self, set: &RankedSet) -> Label {
        let other_in = set.other_in.iter().copied().collect();
        self.of(set.faults.iter().chain(&set.external_states), &other_in)
    }

    fn of<'k>(&'k self, faults: impl Iterator<Item = &'k Key>, other_in: &BTreeSet<Subsystem>) -> Label {
        let told = |fault: &&Key| {
            let subsystem = self.catalogue.fault(fault.as_str()).map(|fault| fault.subsystem);
            subsystem.is_none_or(|subsystem| !other_in.contains(&subsystem))
        };
        let mut label: Label = faults.filter(told).map(|fault| self.one(fault).to_string()).collect();
        label.extend(other_in.iter().map(|subsystem| format!("other in {subsystem:?}")));
        label
    }
}

/// A case of tier A.
pub fn from_catalogue(drawn: &CatalogueCase) -> Labelled {
    let observations: Vec<Observation> = drawn
        .observations
        .iter()
        .map(|observation| Observation {
            test_run: None,
            key: observation.key.clone(),
            seen: match &observation.seen {
                Seen::Value(value) => Observed::Value(Number { value: *value, uncertainty: None }),
                Seen::AtLeast(value) => Observed::AtLeast(Number { value: *value, uncertainty: None }),
                Seen::Choice(choice) => Observed::Choice(key(choice)),
            },
            unit: None,
            conditions: ReadingConditions {
                level_before_l: observation.level_before_l,
                run_s: observation.run_s,
                ..ReadingConditions::default()
            },
        })
        .collect();
    let truth = Truth {
        faults: drawn.truth.iter().filter_map(|of| of.fault.as_deref().map(key)).collect(),
        other_in: drawn.truth.iter().filter(|of| of.fault.is_none()).map(|of| of.subsystem).collect(),
    };
    let done = procedures_of(&observations);
    let case = Case { complaint: Some(drawn.complaint), observations, done, ..Case::default() };
    Labelled { case, truth, drawn: Some(drawn.clone()), company: None }
}

/// A case of tier B.
pub fn from_company(case: &PhysicalCase, procedures: &[Procedure]) -> Labelled {
    let answer = |(question, answer): &(&str, &str)| {
        let question = question.strip_prefix("intake/").unwrap_or(question);
        (key(question), key(answer))
    };
    let intake = Intake {
        complaint: case.complaint.parse::<Symptom>().ok(),
        answers: case.intake.iter().map(answer).collect(),
    };
    let behind = case.behind.clone();
    let truth = Truth {
        faults: case.truth.iter().map(|label| key(label.fault)).collect(),
        other_in: BTreeSet::new(),
    };
    let case = gathered(&intake, &case.runs, procedures);
    Labelled { case, truth, drawn: None, company: behind.map(|behind| (intake, behind)) }
}

pub fn gathered(intake: &Intake, runs: &[TestRun], procedures: &[Procedure]) -> Case {
    gather(intake, runs, procedures, &Standing::default()).case
}

fn procedures_of(observations: &[Observation]) -> BTreeSet<Key> {
    let procedure = |key: &ObservationKey| key.procedure().to_owned();
    observations
        .iter()
        .map(|observation| procedure(&observation.key))
        .filter(|procedure| procedure != INTAKE)
        .map(|procedure| key(&procedure))
        .collect()
}

#[expect(clippy::expect_used, reason = "the simulator's codes are keys of the catalogue")]
fn key(code: &str) -> Key {
    Key::new(code).expect("a key")
}
