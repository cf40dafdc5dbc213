//! What people tell each other about an order, and when somebody is to be rung back.

use application::note::{CreateNote, ListNotes, NewNote};
use axum::extract::State;
use axum::response::Response;
use domain::id::{NoteId, PersonId, WorkOrderId};
use domain::text::Words;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

pub fn routes() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default().routes(routes!(list_work_order_notes, create_note))
}

/// Something to note about an order.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteCreate {
    #[schema(value_type = schema::Id)]
    id: NoteId,
    #[schema(value_type = schema::Words)]
    words: Words,
    /// When the customer is to be rung back: not before now, and at most a year ahead.
    #[schema(value_type = Option<schema::Instant>)]
    ring_back_at: Option<Timestamp>,
    /// The note that asked to ring back, when that was done; it may ask for it again.
    #[schema(value_type = Option<schema::Id>)]
    settles: Option<NoteId>,
}

/// A note about an order. Never changed.
#[derive(Serialize, ToSchema)]
pub struct Note {
    #[schema(value_type = schema::Id)]
    id: NoteId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = schema::Words)]
    words: Words,
    /// When the customer is to be rung back.
    #[schema(value_type = Option<schema::Instant>, required)]
    ring_back_at: Option<Timestamp>,
    /// The note whose ringing back was done.
    #[schema(value_type = Option<schema::Id>, required)]
    settles: Option<NoteId>,
    /// The note that says that it was done; null while somebody is still to be rung back.
    #[schema(value_type = Option<schema::Id>, required)]
    settled_by: Option<NoteId>,
    #[schema(value_type = schema::Id)]
    noted_by: PersonId,
    #[schema(value_type = schema::Instant)]
    noted_at: Timestamp,
}

/// The notes of an order.
#[derive(Serialize, ToSchema)]
pub struct NoteList {
    #[schema(max_items = 10_000)]
    items: Vec<Note>,
}

/// Note something about an order
///
/// With `ring_back_at` the order stands on Today as ours when the time has come, until another note `settles` this one. A closed
/// order takes notes too, but nobody is rung back about it.
#[utoipa::path(post, path = "/v1/work-orders/{id}/notes", tag = "work orders", request_body = NoteCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Noted", body = Note),
        (status = 200, description = "Was noted already", body = Note),
    ))]
pub async fn create_note(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<NoteCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let new = NewNote {
        id: body.id,
        work_order,
        words: body.words.clone(),
        ring_back_at: body.ring_back_at,
        settles: body.settles,
    };
    carry_out(&state, &caller, key, &request, CreateNote(new), |created| {
        let location = format!("/v1/work-orders/{}/notes", created.item.work_order);
        Answer::created(created.is_new, location, 1, &Note::from(created.item))
    })
    .await
}

/// List what was noted about an order, oldest first
#[utoipa::path(get, path = "/v1/work-orders/{id}/notes", tag = "work orders", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of it", body = NoteList)))]
pub async fn list_work_order_notes(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let notes = state.application.ask(&caller, ListNotes(id)).await?;
    answer::json(&NoteList { items: notes.into_iter().map(Note::from).collect() })
}

impl From<application::note::Note> for Note {
    fn from(note: application::note::Note) -> Self {
        Self {
            id: note.id,
            work_order_id: note.work_order,
            words: note.words,
            ring_back_at: note.ring_back_at,
            settles: note.settles,
            settled_by: note.settled_by,
            noted_by: note.noted_by,
            noted_at: note.noted_at,
        }
    }
}
