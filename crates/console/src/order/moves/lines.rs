use application::part_line::{CreatePartLine, LineSaying, MovePartLine, NewPartLine};
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
        let quantity = ask.fields.parse("quantity").and_then(Result::ok);
        let quantity = quantity.filter(|quantity| (1..=MOST).contains(quantity));
        Ok(CreatePartLine(NewPartLine {
            id: ask.id("id")?,
            work_order: ask.order,
            finding: None,
            part,
            position: Some(Key::new(position).map_err(|_| chosen())?),
            quantity: quantity.ok_or_else(|| invalid("quantity", "fault-quantity"))?,
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
