use application::interlock_defeat::{OpenInterlockDefeat, RemoveInterlockDefeat};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::procedure::LONGEST_DEFEAT_MINUTES;

use super::carry_out;
use crate::access::Posted;
use crate::day::defeats::defeat;
use crate::state::ConsoleState;

/// Records a defeat that begins now. A procedure's own limit, which may be shorter, is held against what is read under it.
pub(crate) async fn open(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "defeat", "protection-axis", |ask| {
        defeat(ask.order, LONGEST_DEFEAT_MINUTES, ask.fields, ask.application.now()).map(OpenInterlockDefeat)
    })
    .await
}

pub(crate) async fn remove(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "remove", "top", |ask| {
        Ok(RemoveInterlockDefeat { id: ask.id_in_path(4)?, at: None })
    })
    .await
}
