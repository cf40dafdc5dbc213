use std::collections::BTreeMap;

use application::Refusal;
use application::note::{CreateNote, NewNote};
use application::site::UpdateStandingFacts;
use axum::extract::State;
use axum::http::Uri;
use axum::response::Response;
use domain::id::SiteId;
use domain::standing_facts::StandingFact;
use domain::text::Words;

use super::{carry_out, invalid};
use crate::access::Posted;
use crate::fields::Fields;
use crate::state::ConsoleState;

/// Notes something, which may be that somebody was rung back.
pub(crate) async fn note(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    let key = posted.1.get("settles").map_or_else(|| "note".to_owned(), |settled| format!("rung-{settled}"));
    carry_out(&state, posted, &uri, &key, "notes-axis", |ask| {
        let ring_back_at = ask.fields.get("ring_back_at").map(|_| ask.when("ring_back_at")).transpose()?;
        Ok(CreateNote(NewNote {
            id: ask.id("id")?,
            work_order: ask.order,
            words: ask.needed_words("words")?,
            ring_back_at,
            settles: ask.optional_id("settles")?,
        }))
    })
    .await
}

/// Tells what holds of the order's kitchen whoever comes.
pub(crate) async fn tell_facts(State(state): State<ConsoleState>, uri: Uri, posted: Posted) -> Response {
    carry_out(&state, posted, &uri, "facts", "kitchen-axis", |ask| facts(ask.site, ask.fields)).await
}

/// What a form of standing facts says.
pub(crate) fn facts(site: SiteId, fields: &Fields) -> Result<UpdateStandingFacts, Refusal> {
    let expected_version = fields.parse("version").and_then(Result::ok);
    let expected_version = expected_version.ok_or_else(|| invalid("version", "fault-field-needed"))?;
    let told = StandingFact::ALL.iter().map(|fact| {
        let words = fields.get(fact.word()).map(Words::new).transpose();
        let words = words.map_err(|error| Refusal::invalid(format!("/{fact}"), error.to_string()))?;
        Ok((*fact, words))
    });
    let facts = told.collect::<Result<BTreeMap<_, _>, Refusal>>()?;
    Ok(UpdateStandingFacts { id: site, expected_version, facts })
}
