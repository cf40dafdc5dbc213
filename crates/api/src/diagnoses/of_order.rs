use application::diagnosis::{GetDiagnosis, Numbers};
use axum::extract::State;
use axum::response::Response;
use domain::id::WorkOrderId;
use serde::Deserialize;
use utoipa::IntoParams;

use super::view::Diagnosis;
use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DiagnosisQuery {
    /// Another epoch than the current one: 0 is before anything was changed.
    #[param(minimum = 0, maximum = 1_000_000, nullable = false)]
    epoch: Option<u32>,
    /// Another knowledge than the newest, with the catalogue that it was learned from.
    #[param(minimum = 1, maximum = 9_007_199_254_740_991_i64, nullable = false)]
    knowledge_version: Option<i64>,
}

/// Diagnose an order's machine
///
/// From the complaint, the answers and all readings of the epoch, in whatever order they came, and from what was
/// found before it; there is one before the first visit. Where nobody has said yet which machine it is, it is a mixture
/// of what the kitchen has, and a note says so. Advice: a finding is a person's. Each caution prevails over
/// the advice that it stands with, local codes and licensed practice over both.
#[utoipa::path(get, path = "/v1/work-orders/{id}/diagnosis", tag = "diagnoses",
    params(("id" = schema::Id, Path), DiagnosisQuery),
    responses((status = 200, description = "Sets of faults, what to test next, what to carry", body = Diagnosis,
        headers(("ETag" = String, description = "Changes with the answer"))),
        (status = 409, description = "The model has no catalogue of faults, or, where nobody has said which machine it \
            is, no model of the kitchen has one", body = Problem, content_type = "application/problem+json")))]
pub async fn get_work_order_diagnosis(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
    Query(query): Query<DiagnosisQuery>,
) -> Result<Response, Problem> {
    let numbers = query.knowledge_version.map_or(Numbers::Newest, Numbers::Learned);
    let question = GetDiagnosis { order: id, epoch: query.epoch, numbers };
    let diagnosed = state.application.ask(&caller, question).await?;
    answer::hashed(&Diagnosis::new(diagnosed.of, &diagnosed.fitting))
}
