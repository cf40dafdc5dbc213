use std::collections::BTreeMap;

use axum::extract::{FromRequest, Request};
use serde_json::Value;

use super::body::{SchemaFaults, decode, read};
use crate::problem::{Problem, ProblemFault};
use crate::state::ApiState;

/// A body whose array `runs` is judged item by item: what is wrong with one leaves the others be.
pub struct Batch {
    /// The body without its items.
    pub fields: serde_json::Map<String, Value>,
    pub items: Vec<BatchItem>,
}

pub struct BatchItem {
    pub value: Value,
    pub faults: Vec<ProblemFault>,
}

const ITEMS: &str = "runs";

impl FromRequest<ApiState> for Batch {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &ApiState) -> Result<Self, Problem> {
        let SchemaFaults { value, faults } = read(request, state).await?;
        let (mut of_items, mut of_batch) = (BTreeMap::<usize, Vec<ProblemFault>>::new(), Vec::new());
        for mut fault in faults {
            match item_of(fault.pointer.as_deref().unwrap_or_default()) {
                Some((index, pointer)) => {
                    fault.pointer = Some(pointer);
                    of_items.entry(index).or_default().push(fault);
                }
                None => of_batch.push(fault),
            }
        }
        if !of_batch.is_empty() {
            return Err(Problem::invalid(of_batch));
        }
        let Value::Object(mut fields) = value else {
            return Err(Problem::invalid(vec![ProblemFault::pointer("", "must be an object")]));
        };
        let Some(Value::Array(items)) = fields.remove(ITEMS) else {
            return Err(Problem::invalid(vec![ProblemFault::pointer("/runs", "must be an array")]));
        };
        let items = items
            .into_iter()
            .enumerate()
            .map(|(index, value)| BatchItem { value, faults: of_items.remove(&index).unwrap_or_default() });
        Ok(Self { fields, items: items.collect() })
    }
}

impl BatchItem {
    /// The item as its type, or all its faults.
    pub fn decode<T: serde::de::DeserializeOwned>(self) -> Result<T, Vec<ProblemFault>> {
        if self.faults.is_empty() {
            decode(self.value).map_err(|fault| vec![fault])
        } else {
            Err(self.faults)
        }
    }
}

/// Index and pointer inside the item of a pointer below `/runs/`.
fn item_of(pointer: &str) -> Option<(usize, String)> {
    let rest = pointer.strip_prefix("/runs/")?;
    let end = rest.find('/').unwrap_or(rest.len());
    Some((rest[..end].parse().ok()?, rest[end..].to_owned()))
}
