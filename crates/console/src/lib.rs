//! Pages for people: the office sees, decides and clicks. Rendered here, usable without script.
//!
//! Every page asks one [`application::Question`] and every form carries out one use case: the rules are the interface's own.

mod access;
mod call;
mod catalogue;
mod day;
mod fields;
mod first_sign_in;
mod kitchen;
mod land;
mod language;
mod machine;
mod numbers;
mod office;
mod order;
mod page;
mod pairing;
mod parts;
mod protect;
mod search;
mod sign_in;
mod state;
mod static_files;
mod today;
mod when;

pub use state::{ConsoleState, Household};

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use tower::{ServiceBuilder, ServiceExt};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutLayer;

/// A form may be at most so long.
const LONGEST_FORM: usize = 256 << 10;
/// A page that takes longer is given up.
const PATIENCE: std::time::Duration = std::time::Duration::from_secs(30);

/// The pages, and beneath them what lies at all other addresses.
pub fn router(state: ConsoleState, rest: Router) -> Router {
    let layers = ServiceBuilder::new()
        .layer(middleware::from_fn(protect::protect))
        .layer(CompressionLayer::new().no_deflate().no_zstd())
        .layer(CatchPanicLayer::custom(page::panicked))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, PATIENCE))
        .layer(DefaultBodyLimit::max(LONGEST_FORM));
    Router::new()
        .route("/", get(land::land))
        .route("/sign-in", get(sign_in::show).post(sign_in::by_password))
        .route("/sign-in/guest", post(sign_in::as_guest))
        .route("/first-sign-in", get(first_sign_in::show).post(first_sign_in::set))
        .route("/pair", get(pairing::ask).post(pairing::pair))
        .route("/sign-out", post(sign_in::out))
        .route("/language", post(language::choose))
        .route("/measures", post(language::choose_measures))
        .route("/today", get(today::show))
        .route("/kitchens/{id}", get(kitchen::show))
        .route("/kitchens/{id}/standing-facts", post(kitchen::tell_facts))
        .route("/machines/{id}/replacement-price", post(machine::tell_price))
        .route("/machines/{id}", get(machine::show))
        .route("/calls/new", get(call::show).post(call::take))
        .route("/search", get(search::show))
        .merge(numbers::routes())
        .merge(catalogue::routes())
        .merge(office::routes())
        .merge(order::routes())
        .merge(day::routes())
        .route("/static/{hash}/{name}", get(static_files::show))
        .with_state(state)
        .layer(layers)
        .fallback_service(get_elsewhere(rest))
        .layer(middleware::from_fn(door::speak))
}

/// What lies elsewhere; a browser that finds nothing there is told so by a page.
fn get_elsewhere(rest: Router) -> Router {
    async fn elsewhere(State(rest): State<Router>, request: Request) -> Response {
        let is_lost = wants_page(request.headers()) && !request.uri().path().starts_with("/v1/");
        match rest.oneshot(request).await {
            Ok(response) if is_lost && response.status() == StatusCode::NOT_FOUND => {
                protect::with_policy(page::not_found())
            }
            Ok(response) => response,
            Err(never) => match never {},
        }
    }
    Router::new().fallback(elsewhere).with_state(rest)
}

/// Whether a browser asks for something to show.
fn wants_page(headers: &HeaderMap) -> bool {
    let accepted = headers.get(header::ACCEPT).and_then(|accept| accept.to_str().ok());
    accepted.is_some_and(|accept| accept.contains("text/html"))
}

/// Leads to another page, by a GET.
fn see(path: &str) -> Response {
    (StatusCode::SEE_OTHER, [(header::LOCATION, path.to_owned())]).into_response()
}
