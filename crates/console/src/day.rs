//! The technician's own pages, made for a phone, one hand and wet fingers: his visits, what to do there, what he read, found
//! and did. Server-rendered; where there is no signal the phone opens what it kept of them, and judges by itself ([`kept`],
//! [`offline`]).

mod answers;
mod card;
pub(crate) mod defeats;
mod device;
mod kept;
mod list;
mod numbers;
mod offline;
mod procedure;
mod record;
mod run;
mod step;
mod tests_left;
mod visit;

use axum::Router;
use axum::http::{HeaderValue, Uri, header};
use axum::middleware::map_response;
use axum::response::Response;
use axum::routing::{get, post};
use domain::id::VisitId;
use uuid::Uuid;

use crate::order::{moves, segment};
use crate::page::PageFault;
use crate::protect;
use crate::state::ConsoleState;

pub(crate) use visit::refused;

/// Under a visit stand the moves of its order too: the same as on the office's page of it, and they come back here.
pub(crate) fn routes() -> Router<ConsoleState> {
    Router::new()
        .route("/day", get(list::show))
        .route("/day/kept", get(kept::show))
        .route("/day/taken", get(offline::taken))
        .route("/day/{visit}", get(visit::show))
        .route("/day/{visit}/procedures/{key}", get(procedure::show).post(record::record))
        .route("/day/{visit}/runs/{run}", get(run::show))
        .route("/day/{visit}/findings", post(moves::findings::find))
        .route("/day/{visit}/actions", post(moves::actions::act))
        .route("/day/{visit}/defeats", post(defeats::open))
        .route("/day/{visit}/defeats/{id}/remove", post(moves::defeats::remove))
        .route("/day/{visit}/findings/{id}/take-back", post(moves::findings::take_back))
        .route("/day/{visit}/lines/{id}/change", post(moves::lines::change))
        .route("/day/{visit}/change", post(moves::change::change))
        .route("/day/{visit}/notes", post(moves::notes::note))
        .route("/day/{visit}/standing-facts", post(moves::notes::tell_facts))
        .route("/day/{visit}/waivers", post(moves::change::waive))
        .route("/day/{visit}/quotes", post(moves::money::quote))
        .route("/day/{visit}/stops", post(moves::machine::stop))
        .route("/day/{visit}/machine", post(moves::machine::confirm))
        .route("/day/{visit}/other-machine", post(moves::machine::correct))
        .route("/day/{visit}/moves/{action}", post(moves::move_order))
        .route("/day/{visit}/visits/{id}/{action}", post(moves::visits::step))
        .route("/day/{visit}/waits", post(moves::waits::begin))
        .route("/day/{visit}/waits/{id}/end", post(moves::waits::end))
        .route("/day/{visit}/lines", post(moves::lines::add))
        .route("/day/{visit}/lines/{id}/{action}", post(moves::lines::step))
        .route("/day/{visit}/quotes/{id}/{decision}", post(moves::money::decide))
        .route("/day/{visit}/release", post(moves::machine::release))
        .layer(map_response(with_workers))
        .route("/day-worker.js", get(offline::worker))
        .route("/day-judge.js", get(offline::judge))
        .route("/day-engine.wasm", get(offline::engine))
        .route("/day.webmanifest", get(offline::manifest))
}

/// The day's pages alone start workers and can be installed.
async fn with_workers(mut response: Response) -> Response {
    let policy = HeaderValue::from_static(protect::POLICY_OF_DAY);
    response.headers_mut().entry(header::CONTENT_SECURITY_POLICY).or_insert(policy);
    response
}

/// The visit in an address under `/day`.
pub(crate) fn visit_in(uri: &Uri) -> Result<VisitId, PageFault> {
    let id = segment(uri, 2).parse::<Uuid>().ok().and_then(|id| VisitId::try_from(id).ok());
    id.ok_or(PageFault::NotFound)
}
