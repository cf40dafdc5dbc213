//! A diagnosis of a case that nobody called about. Nothing of it is stored.

use std::collections::BTreeSet;

use domain::danger::Danger;
use domain::diagnosis::{Gathered, Intake, PriorFinding, RunReadings, Standing, gather};
use domain::evidence::{Conditions, Reading};
use domain::procedure::Procedure;
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Symptom;
use store::catalogue;
use store::diagnosis::Diagnosed;

use super::{Numbers, Told, unreadable};
use crate::{Application, Fault, Listed, Refusal};

/// A case to diagnose.
#[derive(Debug, Clone)]
pub struct WhatIf {
    pub model: Key,
    /// The newest, if it is left out.
    pub model_version: Option<u32>,
    pub complaint: Option<Symptom>,
    /// Answers to the catalogue's questions, by the question's key.
    pub answers: Vec<(Key, Key)>,
    pub runs: Vec<WhatIfRun>,
    pub findings: Vec<PriorFinding>,
    pub wet_work: bool,
    /// Dangers told of.
    pub dangers: BTreeSet<Danger>,
    /// Of the kitchen, above the sea.
    pub altitude_m: Option<f64>,
    pub numbers: Numbers,
}

/// What one carrying out of a procedure would read.
#[derive(Debug, Clone)]
pub struct WhatIfRun {
    pub procedure: Key,
    /// The newest, if it is left out.
    pub version: Option<u32>,
    /// Now, if it is left out.
    pub taken_at: Option<Timestamp>,
    pub conditions: Conditions,
    pub readings: Vec<Reading>,
}

/// The diagnosis of such a case.
pub async fn what_if(application: &Application, case: WhatIf) -> Result<Diagnosed, Refusal> {
    let (database, versions) = (application.database(), application.versions());
    let model = catalogue::model::find(database, case.model.as_str(), case.model_version).await?;
    let Some(model) = model else {
        let detail = "the catalogue has no such version of a model";
        return Err(Refusal::Invalid(vec![Fault::not_listed("/model", detail, Listed::Models)]));
    };
    let mut faults = Vec::new();
    let mut procedures = Vec::with_capacity(case.runs.len());
    for (index, run) in case.runs.iter().enumerate() {
        let found = catalogue::procedure::find(database, run.procedure.as_str(), run.version).await?;
        if let Some(found) = found {
            faults.extend(unknown_steps(index, run, &found.entry));
            procedures.push(found.entry);
        } else {
            let pointer = format!("/runs/{index}/procedure");
            faults.push(Fault::not_listed(
                pointer,
                "there is no such version of a procedure",
                Listed::Procedures,
            ));
        }
    }
    Refusal::unless_faultless(faults)?;
    let known = versions.known_faults(case.model.as_str(), model.entry.version, case.numbers).await?;
    let intake = Intake { complaint: case.complaint, answers: case.answers };
    let standing = Standing { epoch: 0, findings: case.findings, wet_work: case.wet_work };
    let mut gathered = gather(&intake, &[], &[], &standing);
    gathered.case.altitude_m = case.altitude_m;
    gathered.case.dangers = case.dangers;
    let now = application.now();
    for (run, procedure) in case.runs.iter().zip(&procedures) {
        add(&mut gathered, run, procedure, now);
    }
    let told = Told {
        case: gathered.case,
        appliance: None,
        current_epoch: 0,
        evidence_version: 0,
        full_checklist: false,
        not_weighed: unreadable(gathered.unreadable).collect(),
    };
    versions.tables().compute(move || told.diagnose(&known)).await
}

fn add(gathered: &mut Gathered, run: &WhatIfRun, procedure: &Procedure, now: Timestamp) {
    gathered.add(RunReadings {
        test_run: None,
        procedure,
        taken_at: run.taken_at.unwrap_or(now),
        conditions: &run.conditions,
        readings: &run.readings,
    });
}

fn unknown_steps(run_index: usize, run: &WhatIfRun, procedure: &Procedure) -> Vec<Fault> {
    let known = || procedure.steps.iter().map(|step| step.key.as_str()).collect::<Vec<_>>().join(", ");
    let unknown =
        run.readings.iter().enumerate().filter(|(_, reading)| procedure.step(&reading.step).is_none());
    unknown
        .map(|(index, reading)| {
            let detail = format!("{} has no step {}; it has {}", procedure.key, reading.step, known());
            Fault::at(format!("/runs/{run_index}/readings/{index}/step"), detail)
        })
        .collect()
}
