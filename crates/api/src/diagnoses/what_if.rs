use std::collections::BTreeSet;

use application::diagnosis::{Diagnose, Numbers, WhatIf, WhatIfRun};
use axum::extract::State;
use axum::response::Response;
use domain::danger::Danger;
use domain::diagnosis::{FoundState, PriorFinding};
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Symptom;
use serde::Deserialize;
use utoipa::ToSchema;

use super::view::Diagnosis;
use crate::answer;
use crate::extract::Json;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::test_runs::{Conditions, Reading};

/// A case to diagnose that need not have happened.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DiagnosisCase {
    model: CaseModel,
    /// The complaint for which the call was made.
    #[schema(value_type = Option<schema::SymptomWord>)]
    complaint: Option<Symptom>,
    /// Answers to the questions of the intake that the model's catalogue asks.
    #[serde(default)]
    #[schema(max_items = 100, required = false)]
    answers: Vec<CaseAnswer>,
    /// What would be read, one entry for each carrying out of a procedure.
    #[serde(default)]
    #[schema(max_items = 200, required = false)]
    runs: Vec<CaseRun>,
    /// What was found before.
    #[serde(default)]
    #[schema(max_items = 200, required = false)]
    findings: Vec<CaseFinding>,
    /// Something that holds water was worked on.
    #[serde(default)]
    #[schema(required = false)]
    wet_work: bool,
    /// Dangers that stand, whatever is read.
    #[serde(default)]
    #[schema(value_type = Vec<schema::DangerWord>, max_items = 6, required = false)]
    dangers: BTreeSet<Danger>,
    /// How high the kitchen lies above the sea, m: where water boils below a stage, its time says nothing.
    #[schema(minimum = -500, maximum = 6000)]
    altitude_m: Option<f64>,
    /// Another knowledge than the newest, with the catalogue that it was learned from.
    #[schema(minimum = 1, maximum = 9_007_199_254_740_991_i64)]
    knowledge_version: Option<i64>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseModel {
    #[schema(value_type = schema::Key)]
    key: Key,
    /// The newest, if it is left out.
    #[schema(minimum = 1, maximum = 1_000_000)]
    version: Option<u32>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseAnswer {
    #[schema(value_type = schema::Key)]
    question: Key,
    /// One of the question's choices.
    #[schema(value_type = schema::Key)]
    answer: Key,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseRun {
    procedure: CaseProcedure,
    /// Now, if it is left out; what it was read with must have been calibrated then.
    #[schema(value_type = Option<schema::Instant>)]
    taken_at: Option<Timestamp>,
    #[serde(default)]
    #[schema(required = false)]
    conditions: Conditions,
    #[schema(max_items = 100)]
    readings: Vec<Reading>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseProcedure {
    #[schema(value_type = schema::Key)]
    key: Key,
    /// The newest, if it is left out.
    #[schema(minimum = 1, maximum = 1_000_000)]
    version: Option<u32>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CaseFinding {
    #[schema(value_type = schema::Key)]
    fault: Key,
    state: FoundWord,
}

/// What was found of a fault: it stands still, it was mended, it was looked for and not there.
#[derive(Clone, Copy, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FoundWord {
    Stands,
    Mended,
    Absent,
}

/// Diagnose a case
///
/// A what-if: nothing of it is stored. What the model's catalogue does not know, as a reading of another model, is
/// set aside and named.
#[utoipa::path(post, path = "/v1/diagnoses", tag = "diagnoses", request_body = DiagnosisCase,
    responses((status = 200, description = "Sets of faults, what to test next, what to carry", body = Diagnosis),
        (status = 409, description = "The model has no catalogue of faults", body = Problem,
            content_type = "application/problem+json")))]
pub async fn diagnose(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Json(body): Json<DiagnosisCase>,
) -> Result<Response, Problem> {
    let diagnosed = state.application.ask(&caller, Diagnose(body.into())).await?;
    answer::json(&Diagnosis::new(diagnosed.of, &diagnosed.fitting))
}

impl From<DiagnosisCase> for WhatIf {
    fn from(case: DiagnosisCase) -> Self {
        Self {
            model: case.model.key,
            model_version: case.model.version,
            complaint: case.complaint,
            answers: case.answers.into_iter().map(|answer| (answer.question, answer.answer)).collect(),
            runs: case.runs.into_iter().map(WhatIfRun::from).collect(),
            findings: case.findings.into_iter().map(PriorFinding::from).collect(),
            wet_work: case.wet_work,
            dangers: case.dangers,
            altitude_m: case.altitude_m,
            numbers: case.knowledge_version.map_or(Numbers::Newest, Numbers::Learned),
        }
    }
}

impl From<CaseRun> for WhatIfRun {
    fn from(run: CaseRun) -> Self {
        Self {
            procedure: run.procedure.key,
            version: run.procedure.version,
            taken_at: run.taken_at,
            conditions: run.conditions.into(),
            readings: run.readings.into_iter().map(Into::into).collect(),
        }
    }
}

impl From<CaseFinding> for PriorFinding {
    fn from(finding: CaseFinding) -> Self {
        let state = match finding.state {
            FoundWord::Stands => FoundState::Stands,
            FoundWord::Mended => FoundState::Mended,
            FoundWord::Absent => FoundState::Absent,
        };
        Self { fault: finding.fault, state }
    }
}
