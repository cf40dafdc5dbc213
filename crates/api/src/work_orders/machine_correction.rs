use application::work_order::CorrectMachine;
use application::work_order::NewMachineCorrection;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, MachineCorrectionId, PersonId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Which machine it really was.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MachineCorrectionCreate {
    #[schema(value_type = schema::Id)]
    id: MachineCorrectionId,
    /// The right machine, of the order's kitchen.
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Words)]
    why: Words,
}

/// A wrong unit that was put right.
#[derive(Serialize, ToSchema)]
pub struct MachineCorrection {
    #[schema(value_type = schema::Id)]
    id: MachineCorrectionId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Id)]
    from_appliance_id: ApplianceId,
    #[schema(value_type = schema::Id)]
    to_appliance_id: ApplianceId,
    #[schema(value_type = schema::Words)]
    why: Words,
    #[schema(value_type = schema::Id)]
    corrected_by: PersonId,
    #[schema(value_type = schema::Instant)]
    corrected_at: Timestamp,
}

/// Put a wrong unit right
///
/// The order moves to another machine of its kitchen. Its runs and findings are superseded by the same on that machine, words
/// and clock kept; parts that it fitted move along; runs that come later and name the wrong machine are moved as they come.
/// The histories of both machines say so. Both keep a stop of use until somebody lifts it.
#[utoipa::path(post, path = "/v1/work-orders/{id}/machine-corrections", tag = "work orders",
    request_body = MachineCorrectionCreate, params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Put right", body = MachineCorrection),
        (status = 200, description = "Was put right already", body = MachineCorrection),
    ))]
pub async fn create_machine_correction(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<MachineCorrectionCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewMachineCorrection { id: body.id, work_order, to: body.appliance_id, why: body.why.clone() };
    let versions = state.application.versions().clone();
    carry_out(&state, &caller, key, &request, CorrectMachine { versions, new }, |created| {
        let location = format!("/v1/work-orders/{}", created.item.work_order);
        Answer::created(created.is_new, location, 1, &MachineCorrection::from(created.item))
    })
    .await
}

impl From<application::work_order::MachineCorrection> for MachineCorrection {
    fn from(correction: application::work_order::MachineCorrection) -> Self {
        Self {
            id: correction.id,
            work_order_id: correction.work_order,
            from_appliance_id: correction.from,
            to_appliance_id: correction.to,
            why: correction.why,
            corrected_by: correction.corrected_by,
            corrected_at: correction.corrected_at,
        }
    }
}
