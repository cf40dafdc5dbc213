use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::problem::Problem;
use crate::state::ApiState;

/// The path's parameters.
pub struct Path<T>(pub T);

impl<T: DeserializeOwned + Send> FromRequestParts<ApiState> for Path<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &ApiState) -> Result<Self, Problem> {
        #[expect(clippy::disallowed_types, reason = "this is what stands before it")]
        match axum::extract::Path::<T>::from_request_parts(parts, state).await {
            Ok(path) => Ok(Self(path.0)),
            Err(rejection) => Err(Problem::bad_parameter("path", rejection.body_text())),
        }
    }
}
