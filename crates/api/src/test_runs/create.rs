use application::test_run::{RecordTestRuns, Recorded};
use axum::extract::State;
use axum::response::Response;
use chrono::TimeDelta;
use domain::evidence;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

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
/// runs may be sent as often as need be.
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
        results.push(TestRunResult { id, status: TestRunStatus::Rejected, problem });
    }
    let use_case = RecordTestRuns {
        versions: state.application.versions().clone(),
        runs,
        clock_correction_microseconds: clock_correction(fields.sent_at, state.application.now()),
    };
    let recorded = state.application.perform(&caller, use_case).await?;
    for (place, recorded) in places.into_iter().zip(recorded) {
        let (status, problem) = outcome(recorded);
        results[place].status = status;
        results[place].problem = problem;
    }
    for problem in results.iter_mut().filter_map(|result| result.problem.as_mut()) {
        problem.request_id.clone_from(&caller.request_id);
    }
    answer::json(&TestRunBatchResult { items: results })
}

fn outcome(recorded: Recorded) -> (TestRunStatus, Option<Problem>) {
    match recorded {
        Recorded::Created => (TestRunStatus::Created, None),
        Recorded::AlreadyThere => (TestRunStatus::AlreadyThere, None),
        Recorded::IdTaken => {
            let detail =
                "another run was sent with this id; make a new id, or correct that run with supersedes_id";
            (TestRunStatus::Rejected, Some(Problem::new(Kind::ID_TAKEN, detail)))
        }
        Recorded::Invalid(faults) => {
            let faults = faults.into_iter().map(|fault| ProblemFault::pointer(fault.pointer, fault.detail));
            (TestRunStatus::Rejected, Some(Problem::invalid(faults.collect())))
        }
    }
}

/// What the device's clock lacks, if that is more than travel and haste explain.
fn clock_correction(sent_at: Option<Timestamp>, now: Timestamp) -> i64 {
    let Some(sent_at) = sent_at else { return 0 };
    let lack = now.instant() - sent_at.instant();
    if lack.abs() > CLOCK_TOLERANCE { lack.num_microseconds().unwrap_or(0) } else { 0 }
}
