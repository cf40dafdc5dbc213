//! The address that people type: browsers are led to the first page, programs to the document.

use axum::extract::State;
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};

use crate::state::ConsoleState;
use crate::{access, see, sign_in, wants_page};

pub(crate) async fn land(State(state): State<ConsoleState>, headers: HeaderMap) -> Response {
    if !wants_page(&headers) {
        return ([(header::VARY, "accept")], see("/openapi.json")).into_response();
    }
    match access::caller(&state, &headers).await {
        Ok(Some(caller)) if caller.require("see_today").is_ok() => see("/today"),
        Ok(_) => see(&sign_in::path("/")),
        Err(fault) => fault.into_response(),
    }
}
