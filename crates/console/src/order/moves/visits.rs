use application::visit::{BookVisit, MoveVisit, NewVisit};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::id::PersonId;
use uuid::Uuid;

use super::{carry_out, invalid};
use crate::access::Posted;
use crate::order::segment;
use crate::state::ConsoleState;

pub(crate) async fn book(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "book", "visit-axis", |ask| {
        let people = ask.fields.all("person").map(|id| {
            let id = id.parse::<Uuid>().ok().and_then(|id| PersonId::try_from(id).ok());
            id.ok_or_else(|| invalid("people", "fault-field-choice"))
        });
        let people: Vec<PersonId> = people.collect::<Result<_, _>>()?;
        if people.is_empty() {
            return Err(invalid("people", "fault-nobody-sent"));
        }
        Ok(BookVisit(NewVisit {
            id: ask.id("id")?,
            work_order: ask.order,
            planned_at: ask.when("planned_at")?,
            people,
            overlap_reason: ask.words("overlap_reason")?,
        }))
    })
    .await
}

pub(crate) async fn step(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("{}-{}", segment(&uri, 5), segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "visit-axis", |ask| {
        Ok(MoveVisit {
            id: ask.id_in_path(4)?,
            expected_version: ask.version()?,
            action: ask.word_in_path(5)?,
            at: None,
            result: ask.optional_word("result")?,
            appliance_state: ask.optional_word("appliance_state")?,
            why: ask.words("why")?.map(|why| why.to_string()),
        })
    })
    .await
}
