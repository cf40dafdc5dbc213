//! What every page says of itself to the browser.

use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;

/// Nothing from elsewhere, nothing inline, framed by nobody; `$script` and `$more` are what one page in particular may.
macro_rules! policy {
    ($script:literal, $more:literal, $types:literal) => {
        concat!(
            "default-src 'none'; script-src 'self'",
            $script,
            "; style-src 'self'; font-src 'self'; connect-src 'self'; img-src 'self' blob:; form-action 'self'",
            $more,
            "; base-uri 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types ",
            $types
        )
    };
}

pub(crate) const POLICY: &str = policy!("", "", "'none'");
/// The technician's pages keep themselves, are installed and have a worker judge.
pub(crate) const POLICY_OF_DAY: &str = policy!("", "; worker-src 'self'; manifest-src 'self'", "ovenwright");
/// The worker that judges compiles what it judges with.
pub(crate) const POLICY_OF_JUDGE: &str = policy!(" 'wasm-unsafe-eval'", "", "'none'");

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (header::CACHE_CONTROL, "no-store"),
];

pub(crate) async fn protect(request: Request, next: Next) -> Response {
    with_policy(next.run(request).await)
}

/// The answer with the policy of the pages; what it says itself of being kept stands.
pub(crate) fn with_policy(mut response: Response) -> Response {
    for (name, value) in HEADERS {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}
