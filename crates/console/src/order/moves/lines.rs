use application::part_line::{CreatePartLine, LineSaying, MovePartLine, NewPartLine, UpdatePartLine};
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::id::PartId;
use domain::text::Key;
use uuid::Uuid;

use super::{carry_out, invalid};
use crate::access::Posted;
use crate::order::segment;
use crate::state::ConsoleState;

/// More of one part than this is a slip.
const MOST: u32 = 1000;

pub(crate) async fn add(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "add-line", "parts-axis", |ask| {
        let chosen = || invalid("part", "fault-field-choice");
        let (part, position) = ask.fields.raw("part").split_once(':').ok_or_else(chosen)?;
        let part = part.parse::<Uuid>().ok().and_then(|id| PartId::try_from(id).ok()).ok_or_else(chosen)?;
        Ok(CreatePartLine(NewPartLine {
            id: ask.id("id")?,
            work_order: ask.order,
            finding: ask.optional_id("finding")?,
            part,
            position: Some(Key::new(position).map_err(|_| chosen())?),
            quantity: ask.quantity("quantity", MOST)?,
            payer: ask.word("payer")?,
            unit_price: None,
            currency: None,
            fit_override: None,
        }))
    })
    .await
}

pub(crate) async fn step(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("{}-{}", segment(&uri, 5), segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "parts-axis", |ask| {
        Ok(MovePartLine {
            id: ask.id_in_path(4)?,
            expected_version: ask.version()?,
            action: ask.word_in_path(5)?,
            saying: LineSaying {
                promised_on: ask.day("promised_on")?,
                fitted_at: None,
                serial: ask.name("serial")?,
            },
        })
    })
    .await
}

pub(crate) async fn change(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = format!("change-{}", segment(&uri, 4));
    carry_out(&state, posted, &uri, &key, "parts-axis", |ask| {
        let is_counted = ask.fields.get("quantity").is_some();
        Ok(UpdatePartLine {
            id: ask.id_in_path(4)?,
            expected_version: ask.version()?,
            position: None,
            quantity: is_counted.then(|| ask.quantity("quantity", MOST)).transpose()?,
            payer: ask.optional_word("payer")?,
            unit_price: None,
            currency: None,
            fit_override: None,
        })
    })
    .await
}
