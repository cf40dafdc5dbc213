//! Numbers that people act on, a page a question.

mod days;
mod early_warnings;
mod measures;
mod part_life;
mod parts_used;
mod repeats;

use axum::Router;
use axum::response::Redirect;
use axum::routing::get;

use crate::state::ConsoleState;

pub(crate) fn routes() -> Router<ConsoleState> {
    Router::new()
        .route("/numbers", get(async || Redirect::to("/numbers/repeats")))
        .route("/numbers/repeats", get(repeats::show))
        .route("/numbers/measures", get(measures::show))
        .route("/numbers/parts", get(parts_used::show))
        .route("/numbers/part-life", get(part_life::show))
        .route("/numbers/early-warnings", get(early_warnings::show))
}
