//! The routes, and the layers around them.

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{HeaderName, Method, StatusCode, header};
use axum::middleware;
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::cors::{AllowOrigin, CorsLayer};
use tower_http::timeout::TimeoutLayer;
use utoipa_axum::router::OpenApiRouter;

use crate::client_address::{self, Network};
use crate::figures::watch;
use crate::finish::{finish, panicked};
use crate::guard::guard;
use crate::limits::{bound_head, limit_strangers};
use crate::problem::{Kind, Problem};
use crate::state::{ApiState, Settings};
use crate::{
    actions_taken, appliances, branches, calls, catalogue, changes, contacts, customers, diagnoses, findings,
    interlock_defeats, knowledge_versions, known_good, notes, operations as own_operations, part_lines,
    parts, people, quotes, reports, search, sites, test_runs, tokens, visits, waiting, waivers, work_orders,
};

/// Operations that ask for a caller.
fn guarded() -> OpenApiRouter<ApiState> {
    OpenApiRouter::default()
        .merge(branches::routes())
        .merge(sites::routes())
        .merge(appliances::routes())
        .merge(catalogue::routes())
        .merge(calls::routes())
        .merge(changes::routes())
        .merge(contacts::routes())
        .merge(customers::routes())
        .merge(parts::routes())
        .merge(reports::routes())
        .merge(search::routes())
        .merge(knowledge_versions::routes())
        .merge(known_good::routes())
        .merge(people::routes())
        .merge(tokens::routes())
        .merge(test_runs::routes())
        .merge(own_operations::guarded_routes())
        .merge(visits::routes())
        .merge(interlock_defeats::routes())
        .merge(waiting::routes())
        .merge(waivers::routes())
        .merge(notes::routes())
        .merge(work_orders::routes())
        .merge(findings::routes())
        .merge(actions_taken::routes())
        .merge(part_lines::routes())
        .merge(quotes::routes())
        .merge(diagnoses::routes())
}

/// Operations that anybody may call, so often as an address may.
fn public() -> OpenApiRouter<ApiState> {
    own_operations::public_routes()
}

/// What a supervisor asks, as often as it likes.
fn health() -> OpenApiRouter<ApiState> {
    own_operations::health_routes()
}

/// All operations, for the document.
pub(crate) fn operations() -> OpenApiRouter<ApiState> {
    guarded().merge(public()).merge(health())
}

/// The whole service.
pub fn router(state: ApiState, settings: &Settings) -> Router {
    let (guarded, _) = guarded().split_for_parts();
    let (public, _) = public().split_for_parts();
    let (health, _) = health().split_for_parts();
    let public =
        public.route_layer(middleware::from_fn_with_state(state.stranger_limit.clone(), limit_strangers));
    let guarded = guarded.route_layer(middleware::from_fn_with_state(state.clone(), guard));
    let trusted: Arc<[Network]> = settings.trusted_proxies.clone().into();
    let layers = ServiceBuilder::new()
        .layer(middleware::from_fn_with_state(trusted, client_address::find))
        .layer(middleware::from_fn(watch))
        .layer(middleware::from_fn(finish))
        .layer(middleware::from_fn(door::speak))
        .layer(middleware::from_fn(bound_head))
        .layer(cors(settings))
        .layer(CompressionLayer::new().no_deflate().no_zstd())
        .layer(CatchPanicLayer::custom(panicked))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, settings.request_timeout))
        .layer(DefaultBodyLimit::max(settings.body_limit));
    guarded
        .merge(public)
        .merge(health)
        .fallback(|| async {
            Problem::new(Kind::NOT_FOUND, "nothing lies at this address; /openapi.json lists what does")
        })
        .with_state(state)
        .layer(layers)
}

fn cors(settings: &Settings) -> CorsLayer {
    let origins = settings.allowed_origins.iter().filter_map(|origin| origin.parse().ok());
    CorsLayer::new()
        .allow_origin(AllowOrigin::list(origins))
        .allow_methods([Method::GET, Method::POST, Method::PATCH, Method::DELETE])
        .allow_headers([
            header::AUTHORIZATION,
            header::CONTENT_TYPE,
            header::IF_MATCH,
            header::IF_NONE_MATCH,
            HeaderName::from_static("idempotency-key"),
        ])
        .expose_headers([
            header::ETAG,
            header::LOCATION,
            header::RETRY_AFTER,
            header::LINK,
            HeaderName::from_static("ratelimit"),
            HeaderName::from_static("x-request-id"),
        ])
}
