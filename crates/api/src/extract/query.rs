use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::guard::Operation;
use crate::problem::{Kind, Problem, ProblemFault};
use crate::state::ApiState;

/// Query parameters that hold to the document's schemas of their operation.
pub struct Query<T>(pub T);

impl<T: DeserializeOwned> FromRequestParts<ApiState> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &ApiState) -> Result<Self, Problem> {
        let query = parts.uri.query().unwrap_or_default();
        check_query(parts, state)?;
        serde_urlencoded::from_str(query).map(Self).map_err(|error| {
            Problem::new(Kind::MALFORMED, error.to_string())
                .with_faults(vec![ProblemFault::parameter("", error.to_string())])
        })
    }
}

/// Refuses parameters that the document does not know or allow.
pub fn check_query(parts: &Parts, state: &ApiState) -> Result<(), Problem> {
    let query = parts.uri.query().unwrap_or_default();
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query)
        .map_err(|error| Problem::new(Kind::MALFORMED, format!("the query cannot be read: {error}")))?;
    let operation = parts.extensions.get::<Operation>();
    let Some(operation) =
        operation.and_then(|operation| state.contract.operation(&parts.method, &operation.path))
    else {
        return Ok(());
    };
    let mut faults = operation.query_faults(&pairs);
    faults.extend(
        pairs
            .iter()
            .filter(|(_, text)| text.contains('\0'))
            .map(|(name, _)| ProblemFault::parameter(name, "must not contain the character U+0000")),
    );
    if faults.is_empty() {
        return Ok(());
    }
    let detail = faults.first().map(|fault| fault.detail.clone()).unwrap_or_default();
    Err(Problem::new(Kind::MALFORMED, detail).with_faults(faults))
}
