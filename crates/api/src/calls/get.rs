use application::call::ReadCall;
use axum::extract::State;
use axum::response::Response;
use domain::id::CallId;

use super::view::CallIntake;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read a call, with its orders as they stand now
#[utoipa::path(get, path = "/v1/calls/{id}", tag = "calls", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The call", body = CallIntake)))]
pub async fn get_call(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<CallId>,
) -> Result<Response, Problem> {
    let intake = state.application.perform(&caller, ReadCall(id)).await?;
    answer::json(&CallIntake::from(intake))
}
