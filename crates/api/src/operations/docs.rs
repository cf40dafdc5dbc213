use std::sync::LazyLock;

use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

const STYLE: &str = include_str!("docs/page.css");
const SCRIPT: &str = include_str!("docs/page.js");

static PAGE: LazyLock<String> = LazyLock::new(|| {
    include_str!("docs/page.html").replace("/*STYLE*/", STYLE).replace("/*SCRIPT*/", SCRIPT)
});

/// The page's own script and style and this service's document: nothing else is loaded or run.
static POLICY: LazyLock<String> = LazyLock::new(|| {
    let hash = |text: &str| STANDARD.encode(Sha256::digest(text));
    format!(
        "default-src 'none'; script-src 'sha256-{}'; style-src 'sha256-{}'; connect-src 'self'; base-uri 'none'; \
         form-action 'none'; frame-ancestors 'none'",
        hash(SCRIPT),
        hash(STYLE)
    )
});

/// This interface as a page to read
///
/// It shows `/openapi.json` and loads nothing from elsewhere.
#[utoipa::path(get, path = "/docs", tag = "operations",
    responses((status = 200, description = "The page", body = crate::schema::PlainText, content_type = "text/html")))]
pub async fn get_docs() -> Response {
    let headers = [
        (header::CONTENT_SECURITY_POLICY, POLICY.as_str()),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-cache"),
    ];
    (headers, Html(PAGE.as_str())).into_response()
}
