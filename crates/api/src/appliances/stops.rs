use application::stop::CreateStop;
use application::stop::ListStops;
use application::stop::NewStop;
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, PersonId, StopId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use domain::work::Danger;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Why a machine may not be used, or might not.
#[derive(Serialize, ToSchema)]
pub struct Stop {
    #[schema(value_type = schema::Id)]
    id: StopId,
    /// The order under which the danger was told or read.
    #[schema(value_type = Option<schema::Id>, required)]
    work_order_id: Option<WorkOrderId>,
    /// Empty where somebody only called it unsafe.
    #[schema(value_type = Vec<schema::DangerWord>, max_items = 6)]
    dangers: Vec<Danger>,
    #[schema(value_type = schema::Words)]
    why: Words,
    #[schema(value_type = Option<schema::Id>, required)]
    stopped_by: Option<PersonId>,
    #[schema(value_type = schema::Instant)]
    stopped_at: Timestamp,
    /// Null while it stands.
    #[schema(value_type = Option<schema::Id>, required)]
    released_by: Option<PersonId>,
    #[schema(value_type = Option<schema::Instant>, required)]
    released_at: Option<Timestamp>,
    #[schema(value_type = Option<schema::Words>, required)]
    release_reason: Option<Words>,
}

impl From<application::stop::Stop> for Stop {
    fn from(stop: application::stop::Stop) -> Self {
        let (released_by, released_at, release_reason) = match stop.release {
            Some(release) => (Some(release.by), Some(release.at), Some(release.reason)),
            None => (None, None, None),
        };
        Self {
            id: stop.id,
            work_order_id: stop.work_order,
            dangers: stop.dangers,
            why: stop.why,
            stopped_by: stop.stopped_by,
            stopped_at: stop.stopped_at,
            released_by,
            released_at,
            release_reason,
        }
    }
}

/// The stops of a machine.
#[derive(Serialize, ToSchema)]
pub struct Stops {
    #[schema(max_items = 1000)]
    items: Vec<Stop>,
}

/// List the stops of a machine's use
///
/// Over which dangers, by whom; and who released it, when and why.
#[utoipa::path(get, path = "/v1/appliances/{id}/stops", tag = "appliances", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Newest first", body = Stops)))]
pub async fn list_stops(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
) -> Result<Response, Problem> {
    let stops = state.application.ask(&caller, ListStops(id)).await?;
    answer::json(&Stops { items: stops.into_iter().map(Stop::from).collect() })
}

/// A machine that nobody may use.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StopCreate {
    #[schema(value_type = schema::Id)]
    id: StopId,
    #[serde(default)]
    #[schema(value_type = Vec<schema::DangerWord>, max_items = 6, required = false)]
    dangers: Vec<Danger>,
    #[schema(value_type = schema::Words)]
    why: Words,
    /// When the danger was seen.
    #[schema(value_type = schema::Instant)]
    stopped_at: Timestamp,
}

/// Stop the use of a machine
///
/// It is unsafe_do_not_use from now on, whatever else is said, until somebody releases it. Takes no If-Match: making safe waits
/// for nothing.
#[utoipa::path(post, path = "/v1/appliances/{id}/stops", tag = "appliances", request_body = StopCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Stopped", body = Stop),
        (status = 200, description = "Was stopped already", body = Stop),
    ))]
pub async fn create_stop(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(appliance): Path<ApplianceId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<StopCreate>,
) -> Result<Response, Problem> {
    let new = NewStop {
        id: body.id,
        appliance,
        work_order: None,
        dangers: body.dangers.clone(),
        why: body.why.clone(),
        stopped_at: body.stopped_at,
    };
    carry_out(&state, &caller, key, &(appliance, &body), CreateStop(new), move |created| {
        let location = format!("/v1/appliances/{appliance}/stops");
        Answer::created(created.is_new, location, 1, &Stop::from(created.item))
    })
    .await
}
