use application::interlock_defeat::OpenInterlockDefeat;
use application::interlock_defeat::{NewInterlockDefeat, SecondPerson};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ContactId, InterlockDefeatId, PersonId, WorkOrderId};
use domain::text::Name;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::InterlockDefeat;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::{Problem, ProblemFault};
use crate::schema;
use crate::state::ApiState;

/// An interlock that is defeated for a test.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InterlockDefeatCreate {
    #[schema(value_type = schema::Id)]
    id: InterlockDefeatId,
    /// Who stands by, somebody else than the one who defeats it: one of ours. Exactly one of second_person_id,
    /// second_contact_id and second_person is given.
    #[schema(value_type = Option<schema::Id>)]
    second_person_id: Option<PersonId>,
    /// A contact of the kitchen or of its customer.
    #[schema(value_type = Option<schema::Id>)]
    second_contact_id: Option<ContactId>,
    /// Somebody of the kitchen, by name.
    #[schema(value_type = Option<schema::Name>)]
    second_person: Option<Name>,
    /// Now, if it is left out.
    #[schema(value_type = Option<schema::Instant>)]
    opened_at: Option<Timestamp>,
    /// Within half an hour; a procedure's own limit may be shorter.
    #[schema(value_type = schema::Instant)]
    expires_at: Timestamp,
}

/// Record that an interlock is defeated for a test
///
/// A magnet or a bridge is a defeat (ISO 14119). A second person, a time limit, a recorded removal; the order
/// cannot end before that. A pump that runs with the door open makes the machine unsafe: do not use it.
#[utoipa::path(post, path = "/v1/work-orders/{id}/interlock-defeats", tag = "work orders",
    request_body = InterlockDefeatCreate, params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Recorded", body = InterlockDefeat),
        (status = 200, description = "Was recorded already", body = InterlockDefeat),
    ))]
pub async fn create_interlock_defeat(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<InterlockDefeatCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let second = body.second().map_err(Problem::invalid)?;
    let new = NewInterlockDefeat {
        id: body.id,
        work_order,
        second,
        opened_at: body.opened_at,
        expires_at: body.expires_at,
    };
    carry_out(&state, &caller, key, &request, OpenInterlockDefeat(new), |created| {
        let location = format!("/v1/work-orders/{}/interlock-defeats", created.item.work_order);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &InterlockDefeat::from(created.item))
    })
    .await
}

impl InterlockDefeatCreate {
    /// The one who is named, or a fault at each that is one too many.
    fn second(&self) -> Result<SecondPerson, Vec<ProblemFault>> {
        let one = "say who stands by in exactly one of second_person_id, second_contact_id and second_person";
        match (self.second_person_id, self.second_contact_id, &self.second_person) {
            (Some(id), None, None) => Ok(SecondPerson::Colleague(id)),
            (None, Some(id), None) => Ok(SecondPerson::Contact(id)),
            (None, None, Some(name)) => Ok(SecondPerson::OfKitchen(name.clone())),
            (None, None, None) => Err(vec![ProblemFault::pointer("/second_person".to_owned(), one)]),
            (id, contact, name) => {
                let given = [
                    ("/second_person_id", id.is_some()),
                    ("/second_contact_id", contact.is_some()),
                    ("/second_person", name.is_some()),
                ];
                let given = given.into_iter().filter(|(_, given)| *given);
                Err(given.map(|(pointer, _)| ProblemFault::pointer(pointer.to_owned(), one)).collect())
            }
        }
    }
}
