use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::contract::OperationContract;
use crate::problem::{Kind, Problem, ProblemFault};
use crate::state::ApiState;

/// Query parameters, which the guard has held against the document.
pub struct Query<T>(pub T);

impl<T: DeserializeOwned> FromRequestParts<ApiState> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &ApiState) -> Result<Self, Problem> {
        let query = parts.uri.query().unwrap_or_default();
        serde_urlencoded::from_str(query).map(Self).map_err(|error| {
            Problem::new(Kind::MALFORMED, error.to_string())
                .with_faults(vec![ProblemFault::parameter("", error.to_string())])
        })
    }
}

/// Refuses parameters that the document does not know or allow, whatever the handler takes.
pub fn check_query(query: &str, operation: &OperationContract) -> Result<(), Problem> {
    let pairs: Vec<(String, String)> = serde_urlencoded::from_str(query)
        .map_err(|error| Problem::new(Kind::MALFORMED, format!("the query cannot be read: {error}")))?;
    let faults = operation.query_faults(&pairs)?;
    if faults.is_empty() {
        return Ok(());
    }
    let detail = faults.first().map(|fault| fault.detail.clone()).unwrap_or_default();
    Err(Problem::new(Kind::MALFORMED, detail).with_faults(faults))
}
