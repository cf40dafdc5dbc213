use application::Refusal;
use application::finding::CreateFinding;
use application::see_visit::NewFinding;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::text::Key;
use domain::vocabulary::Condition;

use super::{Ask, carry_out, invalid};
use crate::access::Posted;
use crate::state::ConsoleState;

pub(crate) async fn find(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let form = posted.1.raw("form").to_owned();
    carry_out(&state, posted, &uri, &form, "found", |ask| {
        let condition: Condition = ask.word("finding")?;
        let is_fault = matches!(condition, Condition::Failed | Condition::Degraded);
        // What belongs to a fault is left out of what is none.
        let of_fault = |name| if is_fault { ask.key(name) } else { Ok(None) };
        Ok(CreateFinding(NewFinding {
            id: ask.id("id")?,
            work_order: ask.order,
            position: ask.needed_key("position")?,
            fault: fault(ask)?,
            finding: ask.needed_key("finding")?,
            failure_mode: of_fault("failure_mode")?,
            mechanism: of_fault("mechanism")?,
            cause: of_fault("cause")?,
            evidence: ask.needed_key("evidence")?,
            note: ask.words("note")?,
            test_runs: ask.ids("run")?,
            found_at: ask.application.now(),
            supersedes: None,
            retraction_reason: None,
        }))
    })
    .await
}

/// It was not so: what was found stays to be read, and counts no more.
pub(crate) async fn take_back(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let form = posted.1.raw("form").to_owned();
    carry_out(&state, posted, &uri, &form, "found", |ask| {
        Ok(CreateFinding(NewFinding {
            id: ask.id("id")?,
            work_order: ask.order,
            position: ask.needed_key("position")?,
            fault: None,
            finding: ask.needed_key("finding")?,
            failure_mode: None,
            mechanism: None,
            cause: None,
            evidence: ask.needed_key("evidence")?,
            note: None,
            test_runs: Vec::new(),
            found_at: ask.application.now(),
            supersedes: Some(ask.id_in_path(4)?),
            retraction_reason: Some(ask.needed_words("why")?),
        }))
    })
    .await
}

/// A version of a fault of the machine's model, if one is named.
fn fault(ask: &Ask<'_>) -> Result<Option<(Key, u32)>, Refusal> {
    let Some(text) = ask.fields.get("fault") else { return Ok(None) };
    let wrong = || invalid("fault", "fault-field-choice");
    let (key, version) = text.split_once(':').ok_or_else(wrong)?;
    Ok(Some((Key::new(key).map_err(|_| wrong())?, version.parse().map_err(|_| wrong())?)))
}
