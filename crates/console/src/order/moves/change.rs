use application::Refusal;
use application::prepare_call::Money;
use application::see_order::NewWaiver;
use application::waiver::GiveWaiver;
use application::work_order::UpdateWorkOrder;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::text::Key;

use super::{Ask, carry_out, invalid};
use crate::access::Posted;
use crate::fields::Fields;
use crate::state::ConsoleState;

/// Changes how urgent it is, what shows, and what may be spent without asking.
pub(crate) async fn change(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "change", "order-axis", |ask| {
        Ok(UpdateWorkOrder {
            id: ask.order,
            expected_version: ask.version()?,
            urgency: Some(ask.word("urgency")?),
            appliance: None,
            symptoms: Some(symptoms(ask)?),
            spending_limit: Some(limit(ask.fields)?),
        })
    })
    .await
}

fn symptoms(ask: &Ask<'_>) -> Result<Vec<Key>, Refusal> {
    let symptoms = ask.fields.all("symptom").map(Key::new).collect::<Result<_, _>>();
    symptoms.map_err(|_| invalid("symptom", "fault-field-choice"))
}

/// What may be spent without asking; nothing is said if it is left empty.
pub(crate) fn limit(typed: &Fields) -> Result<Option<Money>, Refusal> {
    let Some(amount) = typed.get("limit") else { return Ok(None) };
    let amount = amount.replace(',', ".").parse().map_err(|_| invalid("limit", "fault-amount"))?;
    let currency = typed.get("currency").map(|text| text.to_uppercase().try_into()).and_then(Result::ok);
    Ok(Some(Money { amount, currency: currency.ok_or_else(|| invalid("currency", "fault-currency"))? }))
}

/// Lets the order do without a proof.
pub(crate) async fn waive(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "waive", "order-axis", |ask| {
        Ok(GiveWaiver(NewWaiver {
            id: ask.id("id")?,
            work_order: ask.order,
            what: ask.word("what")?,
            code: ask.word("code")?,
            reason: ask.needed_words("reason")?,
        }))
    })
    .await
}
