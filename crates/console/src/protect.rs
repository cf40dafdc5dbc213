//! What every page says of itself to the browser.

use axum::extract::Request;
use axum::http::{HeaderName, HeaderValue, header};
use axum::middleware::Next;
use axum::response::Response;

/// Nothing from elsewhere, nothing inline, framed by nobody.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; \
    img-src 'self' blob:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; \
    require-trusted-types-for 'script'; trusted-types 'none'";

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
