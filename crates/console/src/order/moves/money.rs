use application::quote::{CreateQuote, NewApproval, QuoteRequest, RecordApproval};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;

use super::carry_out;
use crate::access::Posted;
use crate::order::segment;
use crate::state::ConsoleState;

pub(crate) async fn quote(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "quote", "money-axis", |ask| {
        Ok(CreateQuote(QuoteRequest {
            id: ask.id("id")?,
            work_order: ask.order,
            part_lines: ask.ids("line")?,
            valid_until: ask.day("valid_until")?,
        }))
    })
    .await
}

pub(crate) async fn decide(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("{}-{}", segment(&uri, 5), segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "money-axis", |ask| {
        Ok(RecordApproval(NewApproval {
            id: ask.id("id")?,
            work_order: ask.order,
            quote: ask.id_in_path(4)?,
            contact: ask.optional_id("contact")?,
            decision: ask.word_in_path(5)?,
            decided_at: ask.application.now(),
            up_to: None,
        }))
    })
    .await
}
