use axum::body::Bytes;
use axum::extract::{FromRequest, Request};
use axum::http::{HeaderMap, Method, StatusCode, header};
use domain::violation::token;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};
use serde_json::Value;

use crate::guard::Operation;
use crate::problem::{Kind, Problem, ProblemFault};
use crate::state::ApiState;

/// A JSON body that holds to the document's schema of its operation.
pub struct Json<T>(pub T);

impl<T: DeserializeOwned> FromRequest<ApiState> for Json<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &ApiState) -> Result<Self, Problem> {
        let SchemaFaults { value, faults } = read(request, state).await?;
        if !faults.is_empty() {
            return Err(Problem::invalid(faults));
        }
        decode(value).map(Self).map_err(|fault| Problem::invalid(vec![fault]))
    }
}

/// A JSON body and everything in it that does not hold to the document.
pub struct SchemaFaults {
    pub value: Value,
    pub faults: Vec<ProblemFault>,
}

/// Reads a body and holds it against the schema of its operation.
pub async fn read(request: Request, state: &ApiState) -> Result<SchemaFaults, Problem> {
    let method = request.method().clone();
    require_media_type(request.headers(), &method)?;
    let path = request.extensions().get::<Operation>().map(|operation| operation.path.clone());
    let bytes = whole(request, state).await?;
    let text = std::str::from_utf8(&bytes).map_err(|error| malformed(&error))?;
    let value: Value = serde_json::from_str(text).map_err(|error| malformed(&error))?;
    let operation = path.as_deref().and_then(|path| state.contract.operation(&method, path));
    let Some(operation) = operation else {
        tracing::error!(%method, path, "a body came for an operation that the document does not have");
        return Err(Problem::internal());
    };
    let mut faults = operation.body_faults(&value)?;
    // JSON has one way to write it, and most bodies do not hold it.
    if text.contains(r"\u0000") {
        let mut nuls = Vec::new();
        nul_faults(&value, &mut String::new(), &mut nuls);
        nuls.retain(|nul| !faults.iter().any(|fault| fault.pointer == nul.pointer));
        faults.extend(nuls);
    }
    Ok(SchemaFaults { value, faults })
}

/// All of a body, if it is no larger than it may be.
pub async fn whole(request: Request, state: &ApiState) -> Result<Bytes, Problem> {
    Bytes::from_request(request, state).await.map_err(|rejection| {
        match axum::response::IntoResponse::into_response(rejection).status() {
            StatusCode::PAYLOAD_TOO_LARGE => Problem::new(
                Kind::TOO_LARGE,
                "send fewer things at once; a body may have at most one mebibyte",
            ),
            _ => Problem::new(Kind::MALFORMED, "the body broke off before its end"),
        }
    })
}

fn malformed(error: &dyn std::fmt::Display) -> Problem {
    let detail = format!("the body is not JSON: {error}");
    Problem::new(Kind::MALFORMED, detail.clone()).with_faults(vec![ProblemFault::pointer("", detail)])
}

/// The value as its type. The schema cannot say everything that the type can.
pub fn decode<T: DeserializeOwned>(mut value: Value) -> Result<T, ProblemFault> {
    whole_numbers(&mut value);
    serde_path_to_error::deserialize(value).map_err(|error| {
        let pointer = pointer(error.path());
        ProblemFault::pointer(pointer, error.into_inner().to_string())
    })
}

fn require_media_type(headers: &HeaderMap, method: &Method) -> Result<(), Problem> {
    let given = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let essence = given.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    let wanted = if method == Method::PATCH { "application/merge-patch+json" } else { "application/json" };
    if essence == wanted {
        return Ok(());
    }
    let detail = format!("send the header Content-Type: {wanted}");
    Err(Problem::new(Kind::MEDIA_TYPE, detail.clone())
        .with_faults(vec![ProblemFault::header("Content-Type", detail)]))
}

/// U+0000 where no schema looks, such as in the names of fields.
fn nul_faults(value: &Value, pointer: &mut String, faults: &mut Vec<ProblemFault>) {
    let length = pointer.len();
    match value {
        Value::String(text) if text.contains('\0') => {
            faults.push(ProblemFault::pointer(pointer.clone(), "must not contain the character U+0000"));
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                push(pointer, &index.to_string());
                nul_faults(item, pointer, faults);
                pointer.truncate(length);
            }
        }
        Value::Object(members) => {
            for (name, member) in members {
                push(pointer, name);
                if name.contains('\0') {
                    faults.push(ProblemFault::pointer(
                        pointer.clone(),
                        "a name must not contain the character U+0000",
                    ));
                }
                nul_faults(member, pointer, faults);
                pointer.truncate(length);
            }
        }
        _ => {}
    }
}

/// JSON knows one kind of number, and 1.0 is an integer to a schema: make it one for the decoder too.
fn whole_numbers(value: &mut Value) {
    match value {
        Value::Number(number) if number.is_f64() => {
            let float = number.as_f64().unwrap_or_default();
            if float.fract() == 0.0 && float.abs() < 9_007_199_254_740_992.0 {
                *value = Value::from(float as i64);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(whole_numbers),
        Value::Object(members) => members.values_mut().for_each(whole_numbers),
        _ => {}
    }
}

/// One step down a JSON Pointer.
fn push(pointer: &mut String, name: &str) {
    pointer.push('/');
    pointer.push_str(&token(name));
}

fn pointer(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    let mut pointer = String::new();
    for segment in path {
        match segment {
            Segment::Seq { index } => push(&mut pointer, &index.to_string()),
            Segment::Map { key } => push(&mut pointer, key),
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    pointer
}

/// For a merge patch (RFC 7396): a field that is there is `Some`, and null is a value of its own.
pub fn present<'de, D: Deserializer<'de>, T: Deserialize<'de>>(
    deserializer: D,
) -> Result<Option<T>, D::Error> {
    T::deserialize(deserializer).map(Some)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nul_is_found_at_its_pointer() {
        let mut faults = Vec::new();
        let value = serde_json::json!({"a/b": ["x", {"c": "d\u{0}"}]});
        nul_faults(&value, &mut String::new(), &mut faults);
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].pointer.as_deref(), Some("/a~1b/1/c"));
    }

    #[test]
    fn a_whole_float_is_an_integer_and_others_stay() {
        let mut value = serde_json::json!([1.0, 1.5, 1e300]);
        whole_numbers(&mut value);
        assert_eq!(value, serde_json::json!([1, 1.5, 1e300]));
        assert!(value[0].is_i64());
    }
}
