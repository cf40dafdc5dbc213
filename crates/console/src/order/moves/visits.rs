use application::Refusal;
use application::visit::{BookVisit, MoveVisit, NewVisit, UpdateVisit};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::id::PersonId;

use super::{Ask, carry_out, invalid};
use crate::access::Posted;
use crate::order::segment;
use crate::state::ConsoleState;

pub(crate) async fn book(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "book", "visit-axis", |ask| {
        Ok(BookVisit(NewVisit {
            id: ask.id("id")?,
            work_order: ask.order,
            planned_at: ask.when("planned_at")?,
            people: people(ask)?,
            overlap_reason: ask.words("overlap_reason")?,
        }))
    })
    .await
}

fn people(ask: &Ask<'_>) -> Result<Vec<PersonId>, Refusal> {
    let people: Vec<PersonId> = ask.ids("person")?;
    if people.is_empty() {
        return Err(invalid("people", "fault-nobody-sent"));
    }
    Ok(people)
}

/// Another time, other people.
pub(crate) async fn plan(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("plan-{}", segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "visit-axis", |ask| {
        Ok(UpdateVisit {
            id: ask.id_in_path(4)?,
            expected_version: ask.version()?,
            planned_at: Some(ask.when("planned_at")?),
            people: Some(people(ask)?),
            overlap_reason: ask.words("overlap_reason")?,
        })
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
