use application::waiting::{BeginWaiting, EndWaiting, NewWaiting};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;

use super::carry_out;
use crate::access::Posted;
use crate::order::segment;
use crate::state::ConsoleState;

pub(crate) async fn begin(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "wait", "waits-axis", |ask| {
        Ok(BeginWaiting(NewWaiting {
            id: ask.id("id")?,
            work_order: ask.order,
            reason: ask.word("reason")?,
            from_at: None,
            pauses_clock: ask.fields.get("pauses_clock").is_some(),
        }))
    })
    .await
}

pub(crate) async fn end(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("end-{}", segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "waits-axis", |ask| {
        Ok(EndWaiting { id: ask.id_in_path(4)?, expected_version: ask.version()?, at: None })
    })
    .await
}
