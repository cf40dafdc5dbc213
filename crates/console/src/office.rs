//! The office's own affairs: people, house rules, what happened.

mod happenings;
mod people;
mod person;
mod rules;

use axum::Router;
use axum::routing::{get, post};

use crate::state::ConsoleState;

pub(crate) fn routes() -> Router<ConsoleState> {
    Router::new()
        .route("/people", get(people::show).post(people::take_in))
        .route("/people/{id}", get(person::show))
        .route("/people/{id}/change", post(person::change))
        .route("/people/{id}/password", post(person::reset))
        .route("/people/{id}/phone", post(person::offer))
        .route("/people/{id}/sign-ins/end", post(person::end_all))
        .route("/people/{id}/sign-ins/{token}/end", post(person::end))
        .route("/house-rules", get(rules::show))
        .route("/happenings", get(happenings::show))
}
