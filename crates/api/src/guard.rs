//! Who asks, and whether he may: before any handler runs.

use application::{Caller, Principal, token};
use axum::extract::{FromRequestParts, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;

use crate::extract::check_query;
use crate::finish::RequestId;
use crate::limits::household;
use crate::problem::{Kind, Problem};
use crate::sign_in;
use crate::state::ApiState;

/// The operation that a request was routed to.
#[derive(Debug, Clone)]
pub struct Operation {
    pub path: String,
}

/// Lets a request pass if its bearer token is good and the operation's right includes it.
pub async fn guard(
    State(state): State<ApiState>,
    mut request: Request,
    next: Next,
) -> Result<Response, Problem> {
    let path =
        request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned()).unwrap_or_default();
    let Some(operation) = state.contract.operation(request.method(), &path) else {
        // Not an operation of the document: a method that the path does not take.
        return Ok(next.run(request).await);
    };
    let request_id = request.extensions().get::<RequestId>().cloned().unwrap_or_default();
    let principal = match authenticate(&state, request.headers()).await {
        Ok(principal) => principal,
        Err(problem) if problem.status() == StatusCode::UNAUTHORIZED => {
            state.stranger_limit.take(&household(request.extensions()))?;
            return Err(problem);
        }
        Err(problem) => return Err(problem),
    };
    let caller = Caller { principal, request_id: request_id.0 };
    let spent = state.rate_limit.take(&caller.principal.person)?;
    caller.require(operation.id)?;
    check_query(request.uri().query().unwrap_or_default(), operation)?;
    request.extensions_mut().insert(caller);
    request.extensions_mut().insert(Operation { path });
    let mut response = next.run(request).await;
    spent.tell(response.headers_mut());
    // What a caller may see is nobody else's: names, words of calls, whole histories. No cache keeps any of it; the ETags
    // are for the caller's own copies.
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

async fn authenticate(state: &ApiState, headers: &HeaderMap) -> Result<Principal, Problem> {
    let secret = bearer(headers)?;
    let principal = match &state.issuer {
        Some(issuer) if sign_in::is_signed_elsewhere(secret) => {
            issuer.principal_of(&state.application, secret).await?
        }
        _ => token::principal_of(&state.application, secret).await?,
    };
    principal.ok_or_else(|| unauthenticated("invalid_token", "the token is unknown, expired or revoked"))
}

fn bearer(headers: &HeaderMap) -> Result<&str, Problem> {
    let Some(value) = headers.get(header::AUTHORIZATION) else {
        return Err(unauthenticated("", "send the header Authorization: Bearer followed by your token"));
    };
    let text = value.to_str().unwrap_or_default();
    match text.split_once(' ') {
        Some((scheme, secret)) if scheme.eq_ignore_ascii_case("bearer") && !secret.trim().is_empty() => {
            Ok(secret.trim())
        }
        _ => Err(unauthenticated(
            "invalid_request",
            "the Authorization header is Bearer, a space, and your token",
        )),
    }
}

fn unauthenticated(error: &str, detail: &str) -> Problem {
    let challenge = match error {
        "invalid_token" => "Bearer error=\"invalid_token\"",
        "invalid_request" => "Bearer error=\"invalid_request\"",
        _ => "Bearer",
    };
    Problem::new(Kind::UNAUTHENTICATED, detail)
        .with_header(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge))
}

/// The caller that the guard let pass.
pub struct Authenticated(pub Caller);

impl FromRequestParts<ApiState> for Authenticated {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &ApiState) -> Result<Self, Problem> {
        parts.extensions.get::<Caller>().cloned().map(Self).ok_or_else(|| {
            tracing::error!("a handler asked for its caller outside the guard");
            Problem::internal()
        })
    }
}
