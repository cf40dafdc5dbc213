//! Both doors on one listener: pages for people, and beneath them the interface for programs.

use std::sync::Arc;

use api::{ApiState, Network, Settings, client_address, limits};
use application::Application;
use axum::Router;
use axum::extract::Request;
use axum::middleware::{self, Next};
use axum::response::Response;
use console::{ConsoleState, Household};
use tower::ServiceBuilder;

pub fn router(application: Application, state: ApiState, settings: &Settings) -> Router {
    let trusted: Arc<[Network]> = settings.trusted_proxies.clone().into();
    let layers = ServiceBuilder::new()
        .layer(middleware::from_fn_with_state(trusted, client_address::find))
        .layer(middleware::from_fn(tell_household));
    console::router(ConsoleState::new(application), api::router(state, settings)).layer(layers)
}

/// The pages slow down whoever guesses passwords by where he does it from.
async fn tell_household(mut request: Request, next: Next) -> Response {
    let household = Household(limits::household(request.extensions()));
    request.extensions_mut().insert(household);
    next.run(request).await
}
