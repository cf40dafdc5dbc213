use application::see_order::{NewMachineCorrection, NewStop};
use application::stop::{CreateStop, ReleaseAppliance};
use application::work_order::{CorrectMachine, UpdateWorkOrder};
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
            reason: ask.needed_words("reason")?,
        })
    })
    .await
}

/// Says that nobody may use it.
pub(crate) async fn stop(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "stop", "machine-axis", |ask| {
        let dangers = ask.fields.all("danger").map(str::parse).collect::<Result<_, _>>();
        Ok(CreateStop(NewStop {
            id: ask.id("id")?,
            appliance: ask.id("appliance")?,
            work_order: Some(ask.order),
            dangers: dangers.map_err(|_| invalid("danger", "fault-field-choice"))?,
            why: ask.needed_words("why")?,
            stopped_at: ask.application.now(),
        }))
    })
    .await
}

/// Says which machine it is.
pub(crate) async fn confirm(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "machine", "machine-axis", |ask| {
        Ok(UpdateWorkOrder {
            id: ask.order,
            expected_version: ask.version()?,
            urgency: None,
            appliance: Some(ask.id("machine")?),
            symptoms: None,
            spending_limit: None,
        })
    })
    .await
}

/// Puts right which machine it is.
pub(crate) async fn correct(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "other-machine", "machine-axis", |ask| {
        let new = NewMachineCorrection {
            id: ask.id("id")?,
            work_order: ask.order,
            to: ask.id("machine")?,
            why: ask.needed_words("why")?,
        };
        Ok(CorrectMachine { versions: ask.application.versions().clone(), new })
    })
    .await
}
