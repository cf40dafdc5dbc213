use application::test_run::{RecordTestRuns, Recorded};
use axum::extract::State;
use axum::response::Response;
use chrono::TimeDelta;
use domain::evidence::{self, Doubt};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::reading::HardnessScale;
use super::run::TestRunCreate;
use crate::answer;
use crate::extract::Batch;
use crate::guard::Authenticated;
use crate::problem::{Kind, Problem, ProblemFault};
use crate::schema;
use crate::state::ApiState;

/// Runs to keep.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "documents the body, which is read item by item")]
pub struct TestRunBatch {
    /// The device's clock at the moment of sending: a clock that is wrong by more than five minutes is corrected.
    #[schema(value_type = Option<schema::Instant>)]
    sent_at: Option<Timestamp>,
    #[schema(min_items = 1, max_items = 200)]
    runs: Vec<TestRunCreate>,
}

#[derive(Deserialize)]
struct BatchFields {
    sent_at: Option<Timestamp>,
}

/// What became of each run, in the order in which they were sent.
#[derive(Serialize, ToSchema)]
pub struct TestRunBatchResult {
    #[schema(max_items = 200)]
    items: Vec<TestRunResult>,
}

/// What became of one run.
#[derive(Serialize, ToSchema)]
pub struct TestRunResult {
    /// The run's id as it was sent; null if there was none to read.
    #[schema(required, max_length = 100)]
    id: Option<String>,
    status: TestRunStatus,
    /// Why it was rejected, and what would be right.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    problem: Option<Problem>,
    /// What in a kept run is possible and hardly true: say it to whoever read it while he stands before the machine.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false, max_items = 200)]
    doubtful: Vec<Doubtful>,
}

/// Something doubtful in a run that was kept as it came.
#[derive(Serialize, ToSchema)]
pub struct Doubtful {
    /// JSON Pointer (RFC 6901) into the run.
    #[schema(max_length = 1000)]
    pointer: String,
    #[schema(max_length = 4000)]
    detail: String,
    /// What was perhaps meant, the likeliest first.
    #[schema(max_items = 50)]
    perhaps: Vec<PerhapsMeant>,
}

/// A value that was perhaps meant.
#[derive(Serialize, ToSchema)]
pub struct PerhapsMeant {
    value: f64,
    /// UCUM code; `1` where `hardness_scale` says the degree.
    #[schema(min_length = 1, max_length = 32, example = "kPa")]
    unit: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hardness_scale: Option<HardnessScale>,
}

#[derive(Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum TestRunStatus {
    Created,
    /// The same run was kept before.
    AlreadyThere,
    /// Not kept; the others are.
    Rejected,
}

const CLOCK_TOLERANCE: TimeDelta = TimeDelta::minutes(5);

/// Keep test runs
///
/// Each run is judged by itself: what is wrong with one is told beside it, and the others are kept. The same
/// runs may be sent as often as need be. A run that its device's clock puts into the future is refused as `clock-to-set`:
/// keep it, set the clock, send it again. What hardly occurs is kept, and answered as `doubtful`.
#[utoipa::path(post, path = "/v1/test-runs", tag = "test runs", request_body = TestRunBatch,
    responses((status = 200, description = "What became of each", body = TestRunBatchResult)))]
pub async fn create_test_runs(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    batch: Batch,
) -> Result<Response, Problem> {
    let fields: BatchFields = serde_json::from_value(batch.fields.into())
        .map_err(|error| Problem::invalid(vec![ProblemFault::pointer("/sent_at", error.to_string())]))?;
    let mut results = Vec::with_capacity(batch.items.len());
    let (mut runs, mut places) = (Vec::new(), Vec::new());
    for item in batch.items {
        let id = item.value["id"].as_str().map(|id| id.chars().take(100).collect());
        let problem = match item.decode::<TestRunCreate>() {
            Ok(run) => {
                places.push(results.len());
                runs.push(evidence::TestRun::from(run));
                None
            }
            Err(faults) => Some(Problem::invalid(faults)),
        };
        results.push(TestRunResult { id, status: TestRunStatus::Rejected, problem, doubtful: Vec::new() });
    }
    let use_case = RecordTestRuns {
        versions: state.application.versions().clone(),
        runs,
        clock_correction_microseconds: clock_correction(fields.sent_at, state.application.now()),
    };
    let recorded = state.application.perform(&caller, use_case).await?;
    for (place, recorded) in places.into_iter().zip(recorded) {
        outcome(recorded, &mut results[place]);
    }
    for problem in results.iter_mut().filter_map(|result| result.problem.as_mut()) {
        problem.request_id.clone_from(&caller.request_id);
    }
    answer::json(&TestRunBatchResult { items: results })
}

fn outcome(recorded: Recorded, result: &mut TestRunResult) {
    let mut kept = |status, doubts: Vec<Doubt>| {
        result.status = status;
        result.doubtful = doubts.into_iter().map(Doubtful::from).collect();
    };
    match recorded {
        Recorded::Created(doubts) => kept(TestRunStatus::Created, doubts),
        Recorded::AlreadyThere(doubts) => kept(TestRunStatus::AlreadyThere, doubts),
        Recorded::IdTaken => {
            let detail =
                "another run was sent with this id; make a new id, or correct that run with supersedes_id";
            result.problem = Some(Problem::new(Kind::ID_TAKEN, detail));
        }
        Recorded::Invalid(faults) => {
            result.problem = Some(Problem::invalid(faults.into_iter().map(Into::into).collect()));
        }
        Recorded::ClockToSet(detail) => {
            let fault = ProblemFault::pointer("/taken_at", detail.clone());
            result.problem = Some(Problem::new(Kind::CLOCK_TO_SET, detail).with_faults(vec![fault]));
        }
    }
}

impl From<Doubt> for Doubtful {
    fn from(doubt: Doubt) -> Self {
        let perhaps = doubt.perhaps.into_iter().map(|meant| PerhapsMeant {
            value: meant.value,
            unit: meant.unit,
            hardness_scale: meant.hardness_scale.map(Into::into),
        });
        Self { pointer: doubt.pointer, detail: doubt.detail, perhaps: perhaps.collect() }
    }
}

/// What the device's clock lacks, if that is more than travel and haste explain.
fn clock_correction(sent_at: Option<Timestamp>, now: Timestamp) -> i64 {
    let Some(sent_at) = sent_at else { return 0 };
    let lack = now.instant() - sent_at.instant();
    if lack.abs() > CLOCK_TOLERANCE { lack.num_microseconds().unwrap_or(0) } else { 0 }
}
