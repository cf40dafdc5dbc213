//! Who asks for a page, and whether his own browser sent the form.

use application::{Caller, token};
use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

use crate::fields::Fields;
use crate::page::PageFault;
use crate::sign_in;
use crate::state::ConsoleState;

/// Whoever is signed in; nobody else gets beyond this.
pub(crate) struct SignedIn(pub Caller);

impl FromRequestParts<ConsoleState> for SignedIn {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, state: &ConsoleState) -> Result<Self, Response> {
        match caller(state, &parts.headers).await {
            Ok(Some(caller)) => Ok(Self(caller)),
            Ok(None) => {
                let wanted = parts.uri.path_and_query().map_or("/", |path| path.as_str());
                Err(crate::see(&sign_in::path(wanted)))
            }
            Err(fault) => Err(fault.into_response()),
        }
    }
}

/// Whoever is signed in, with the form that he sent from a page of this service.
pub(crate) struct Posted(pub Caller, pub Fields);

impl FromRequest<ConsoleState> for Posted {
    type Rejection = Response;

    async fn from_request(request: Request, state: &ConsoleState) -> Result<Self, Response> {
        let (headers, path) = (request.headers().clone(), request.uri().path().to_owned());
        let Form(fields) = Form::from_request(request, state).await.map_err(IntoResponse::into_response)?;
        match caller(state, &headers).await {
            Ok(Some(caller)) => Ok(Self(caller, fields)),
            // What was typed is not lost with the session.
            Ok(None) => Err(sign_in::again(state, &path, &fields).await),
            Err(fault) => Err(fault.into_response()),
        }
    }
}

/// A form that was sent from a page of this service, by whomever.
pub(crate) struct Form(pub Fields);

impl FromRequest<ConsoleState> for Form {
    type Rejection = PageFault;

    async fn from_request(request: Request, state: &ConsoleState) -> Result<Self, PageFault> {
        if !door::comes_from_own_page(request.headers(), request.uri()) {
            return Err(PageFault::Forged);
        }
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
        if !kind.is_some_and(|kind| kind.starts_with("application/x-www-form-urlencoded")) {
            return Err(PageFault::NotAForm);
        }
        let body = Bytes::from_request(request, state).await.map_err(|refused| {
            if refused.status() == StatusCode::PAYLOAD_TOO_LARGE {
                PageFault::TooLong
            } else {
                PageFault::NotAForm
            }
        })?;
        let fields = std::str::from_utf8(&body).ok().and_then(Fields::of_text);
        fields.map(Self).ok_or(PageFault::NotAForm)
    }
}

/// Whose session the request carries; none if it carries none that is good now.
pub(crate) async fn caller(state: &ConsoleState, headers: &HeaderMap) -> Result<Option<Caller>, PageFault> {
    let Some(secret) = door::session_secret(headers) else { return Ok(None) };
    // A guess costs the database nothing.
    if !token::is_sealed(&state.application, secret).await? {
        return Ok(None);
    }
    let principal = token::principal_of(&state.application, secret).await?;
    Ok(principal.map(|principal| Caller { principal, request_id: request_id() }))
}

/// Names one request in logs and in the trail.
#[expect(clippy::disallowed_methods, reason = "a request's name needs no foreseeable randomness")]
pub(crate) fn request_id() -> String {
    uuid::Uuid::new_v4().to_string()
}
