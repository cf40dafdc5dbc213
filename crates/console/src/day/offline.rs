//! What makes the day open without signal: the worker that answers in the service's place, the worker that judges, what it
//! judges with, and what a phone needs to install the pages.

use std::fmt::Write as _;
use std::sync::LazyLock;

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;
use sha2::{Digest, Sha256};

use crate::access::SignedIn;
use crate::page::{PageFault, Shell, show as show_page};
use crate::state::ConsoleState;
use crate::{protect, static_files};

/// What `scripts/engine` made of the computation, as it is and compressed.
struct Engine {
    plain: &'static [u8],
    compressed: &'static [u8],
}

include!(concat!(env!("OUT_DIR"), "/engine.rs"));

/// Where the engine lies; none if it was not made when the program was. The address changes with it alone.
pub(super) fn engine_path() -> Option<&'static str> {
    static PATH: LazyLock<Option<String>> = LazyLock::new(|| {
        let engine = ENGINE.as_ref()?;
        let mut path = String::from("/day-engine.wasm?");
        for byte in Sha256::digest(engine.plain).iter().take(8) {
            let _ = write!(path, "{byte:02x}"); // writing into a String does not fail
        }
        Some(path)
    });
    PATH.as_deref()
}

pub(super) async fn engine(uri: Uri, headers: HeaderMap) -> Response {
    let (Some(engine), Some(path)) = (&ENGINE, engine_path()) else {
        return PageFault::NotFound.into_response();
    };
    let is_newest = uri.path_and_query().is_some_and(|asked| asked.as_str() == path);
    let keep = if is_newest { "public, max-age=31536000, immutable" } else { "no-cache" };
    let takes =
        headers.get(header::ACCEPT_ENCODING).and_then(|takes| takes.to_str().ok()).unwrap_or_default();
    let takes_brotli = takes.split(',').any(|one| one.trim() == "br");
    let known = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/wasm")),
        (header::CACHE_CONTROL, HeaderValue::from_static(keep)),
        (header::VARY, HeaderValue::from_static("accept-encoding")),
    ];
    if takes_brotli {
        let encoding = [(header::CONTENT_ENCODING, HeaderValue::from_static("br"))];
        return (known, encoding, engine.compressed).into_response();
    }
    (known, engine.plain).into_response()
}

/// Answers in the service's place where there is no signal. Its text names the files of this version, so that a browser takes
/// a new version for a new worker.
pub(super) async fn worker() -> Response {
    let files: Vec<String> = static_files::names().map(static_files::path).collect();
    let shell = json!({"version": static_files::path(""), "files": files});
    script(format!("const shell = {shell};\n{}", static_files::text("day-worker.js")), protect::POLICY)
}

/// Judges on a thread of its own. It alone may compile: pages need not.
pub(super) async fn judge() -> Response {
    script(static_files::text("day-judge.js").to_owned(), protect::POLICY_OF_JUDGE)
}

fn script(text: String, policy: &'static str) -> Response {
    let known = [
        (header::CONTENT_TYPE, HeaderValue::from_static("text/javascript; charset=utf-8")),
        (header::CACHE_CONTROL, HeaderValue::from_static("no-cache")),
        (header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy)),
        (HeaderName::from_static("service-worker-allowed"), HeaderValue::from_static("/day")),
    ];
    (known, text).into_response()
}

/// What a phone shows of the pages when they are installed.
pub(super) async fn manifest() -> Response {
    let title = wording::say("day-title");
    let manifest = json!({
        "name": format!("Ovenwright: {title}"), "short_name": "Ovenwright", "id": "/day", "start_url": "/day", "scope": "/day",
        "display": "standalone", "background_color": "#ffffff", "theme_color": "#ffffff",
        "icons": [{"src": static_files::path("mark.svg"), "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    });
    let kind = HeaderValue::from_static("application/manifest+json");
    (StatusCode::OK, [(header::CONTENT_TYPE, kind)], manifest.to_string()).into_response()
}

/// What the phone shows in the place of a page that it cannot have: what was read here and is not sent yet.
#[derive(Template)]
#[template(path = "day/taken.html")]
struct TakenPage {
    shell: Shell,
}

pub(super) async fn taken(
    State(_): State<ConsoleState>,
    SignedIn(caller): SignedIn,
) -> Result<Response, PageFault> {
    Ok(show_page(StatusCode::OK, &TakenPage { shell: Shell::of(wording::say("taken-title"), &caller) }))
}
