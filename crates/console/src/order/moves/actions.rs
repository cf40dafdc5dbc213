use application::action_taken::CreateActionTaken;
use application::see_visit::NewActionTaken;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::vocabulary::Action;

use super::{carry_out, invalid};
use crate::access::Posted;
use crate::state::ConsoleState;
use crate::when;

pub(crate) async fn act(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let form = posted.1.raw("form").to_owned();
    carry_out(&state, posted, &uri, &form, "done", |ask| {
        let action = ask.needed_key("action")?;
        let is_stopgap = action.as_str().parse::<Action>().is_ok_and(Action::is_temporary);
        let ends_on = ask.day("ends_on")?.filter(|_| is_stopgap);
        // A stopgap lasts to the end of its day at the latest.
        let expires_at = match ends_on {
            Some(day) => Some(
                when::of_field(ask.zone, &format!("{day}T23:59"))
                    .ok_or_else(|| invalid("ends_on", "fault-field-day"))?,
            ),
            None if is_stopgap => return Err(invalid("ends_on", "fault-stopgap-without-end")),
            None => None,
        };
        Ok(CreateActionTaken(NewActionTaken {
            id: ask.id("id")?,
            work_order: ask.order,
            position: ask.needed_key("position")?,
            action,
            part_line: ask.optional_id("part_line")?,
            expires_at,
            taken_at: ask.application.now(),
        }))
    })
    .await
}
