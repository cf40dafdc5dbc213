use application::learning::GetLearnedFaults;
use axum::extract::State;
use axum::response::Response;
use domain::diagnosis::Knowledge;
use domain::equipment;
use domain::text::Key;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::catalogue::FaultCatalogue;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A model's catalogue of faults with the numbers that closed orders taught.
#[derive(Serialize, ToSchema)]
pub struct LearnedFaults {
    #[schema(minimum = 1)]
    knowledge_version: i64,
    #[schema(value_type = FaultCatalogue)]
    catalogue: equipment::FaultCatalogue,
    #[schema(minimum = 0)]
    jobs: usize,
    appliance_years: f64,
    /// Of catalogue, orders and years: the same again gives the same numbers.
    #[schema(max_length = 64)]
    sha256: String,
}

/// Read what a knowledge version knows of a model's faults
#[utoipa::path(get, path = "/v1/knowledge-versions/{n}/faults/{model}", tag = "known good",
    params(("n" = i64, Path, minimum = 1, description = "The version's number"), ("model" = schema::Key, Path)),
    responses((status = 200, description = "The catalogue as it was learned", body = LearnedFaults)))]
pub async fn get_learned_faults(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((n, model)): Path<(i64, Key)>,
) -> Result<Response, Problem> {
    let question = GetLearnedFaults { version: n, model };
    let Knowledge { catalogue, made_from, .. } = state.application.ask(&caller, question).await?;
    answer::hashed(&LearnedFaults {
        knowledge_version: n,
        catalogue,
        jobs: made_from.jobs,
        appliance_years: made_from.appliance_years,
        sha256: made_from.sha256,
    })
}
