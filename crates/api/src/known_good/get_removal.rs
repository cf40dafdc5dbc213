use application::known_good::GetKnownGoodRemoval;
use axum::extract::State;
use axum::response::Response;
use domain::id::KnownGoodRemovalId;

use super::removal::KnownGoodRemoval;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Read an entry about a reading
#[utoipa::path(get, path = "/v1/known-good/removals/{id}", tag = "known good", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "The entry", body = KnownGoodRemoval)))]
pub async fn get_known_good_removal(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<KnownGoodRemovalId>,
) -> Result<Response, Problem> {
    let removal = state.application.ask(&caller, GetKnownGoodRemoval(id)).await?;
    answer::json(&KnownGoodRemoval::from(removal))
}
