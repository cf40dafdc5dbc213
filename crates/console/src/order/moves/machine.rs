use application::stop::ReleaseAppliance;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;

use super::{carry_out, invalid};
use crate::access::Posted;
use crate::state::ConsoleState;

/// Says that the machine may be used again.
pub(crate) async fn release(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "release", "machine-axis", |ask| {
        Ok(ReleaseAppliance {
            versions: ask.application.versions().clone(),
            id: ask.id("appliance")?,
            expected_version: ask.version()?,
            state: ask.word("state")?,
            reason: ask.words("reason")?.ok_or_else(|| invalid("reason", "fault-field-needed"))?,
        })
    })
    .await
}
