//! Who asks, and whether he may: before any handler runs.

use std::net::IpAddr;

use application::{Caller, Principal, token};
use axum::body::Body;
use axum::extract::{FromRequestParts, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::Next;
use axum::response::Response;
use domain::role::Role;
use sha2::{Digest, Sha256};

use crate::extract::{check_query, whole};
use crate::finish::RequestId;
use crate::limits::household;
use crate::places::Holder;
use crate::problem::{Kind, Problem};
use crate::sign_in::{self, Named};
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
    let from = household(request.extensions());
    let session = session(&request).map(str::to_owned);
    let credential = counted(&state, from, credential(&state, session.as_deref(), request.headers()).await)?;
    let holder = credential.holder();
    let under_way = state.places.enter(holder)?;
    if operation.has_body() {
        request = wholly_come(request, &state).await?;
    }
    let _place = under_way.place().await?;
    let principal = counted(&state, from, credential.principal(&state).await)?;
    state.places.note(holder, principal.role == Role::Integration);
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

/// A bearer token that cannot be a guess.
enum Credential {
    Own(String),
    Signed(Named),
}

/// The token of a request, if this service or its issuer made it: the database is not asked, so that guesses cost it nothing.
async fn credential(
    state: &ApiState,
    session: Option<&str>,
    headers: &HeaderMap,
) -> Result<Credential, Problem> {
    let secret = match session {
        Some(secret) => secret,
        None => bearer(headers)?,
    };
    let credential = match &state.issuer {
        Some(issuer) if sign_in::is_signed_elsewhere(secret) => {
            issuer.judge(secret, state.application.now().instant()).await?.map(Credential::Signed)
        }
        _ => token::is_sealed(&state.application, secret).await?.then(|| Credential::Own(secret.to_owned())),
    };
    credential.ok_or_else(unknown_token)
}

impl Credential {
    /// Whose share of the places its requests are counted to.
    fn holder(&self) -> Holder {
        match self {
            Self::Own(secret) => holder_of(secret),
            Self::Signed(named) => named.person.uuid().into_bytes(),
        }
    }

    /// Who stands behind it now.
    async fn principal(self, state: &ApiState) -> Result<Principal, Problem> {
        let principal = match self {
            Self::Own(secret) => token::principal_of(&state.application, &secret).await?,
            Self::Signed(named) => named.principal(&state.application).await?,
        };
        principal.ok_or_else(unknown_token)
    }
}

fn holder_of(secret: &str) -> Holder {
    let mut holder = Holder::default();
    holder.copy_from_slice(&Sha256::digest(secret.as_bytes())[..16]);
    holder
}

/// Whose share a request would be counted to, if its token is one of this service's own.
pub fn token_holder(headers: &HeaderMap) -> Option<Holder> {
    bearer(headers).ok().map(holder_of)
}

/// Who is not let in for his token's sake is a stranger, and has a stranger's share.
fn counted<T>(state: &ApiState, from: IpAddr, outcome: Result<T, Problem>) -> Result<T, Problem> {
    if outcome.as_ref().is_err_and(|problem| problem.status() == StatusCode::UNAUTHORIZED) {
        state.stranger_limit.take(&from)?;
    }
    outcome
}

/// The request with all of its body: whoever sends slowly waits here, where he holds no place.
async fn wholly_come(request: Request, state: &ApiState) -> Result<Request, Problem> {
    let (parts, body) = request.into_parts();
    let bytes = whole(Request::from_parts(parts.clone(), body), state).await?;
    Ok(Request::from_parts(parts, Body::from(bytes)))
}

fn unknown_token() -> Problem {
    unauthenticated("invalid_token", "the token is unknown, expired or revoked")
}

/// The session of a page of this service, where no token is sent: what a page of somebody else's asks for is not done.
fn session(request: &Request) -> Option<&str> {
    let headers = request.headers();
    let counts = !headers.contains_key(header::AUTHORIZATION)
        && door::may_read_by_cookie(request.method(), headers, request.uri());
    if counts { door::session_secret(headers) } else { None }
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
