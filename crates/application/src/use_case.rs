//! What a use case is.

use std::future::Future;

use serde::Serialize;
use sha2::{Digest, Sha256};
use store::{Creation, UnitOfWork};

use crate::caller::Caller;
use crate::refusal::Refusal;

/// Something that a caller may want done: a request as a value. Carried out in one unit of work, by
/// a task that goes on when the client hangs up.
pub trait UseCase: Send + 'static {
    /// Its name in [`crate::rights`], in the audit trail, and as operationId.
    const NAME: &'static str;
    type Outcome: Send + 'static;

    fn carry_out(
        self,
        unit: &mut UnitOfWork,
        caller: &Caller,
    ) -> impl Future<Output = Result<Self::Outcome, Refusal>> + Send;
}

/// What a create gave: the item, and whether this request made it.
#[derive(Debug, Clone)]
pub struct Created<T> {
    pub item: T,
    /// False when the same body was stored under the same id before.
    pub is_new: bool,
}

/// Whether to go on and record a create; an id that was taken by another body is refused.
pub fn is_new(creation: Creation, what: &'static str) -> Result<bool, Refusal> {
    match creation {
        Creation::Created => Ok(true),
        Creation::AlreadyThere => Ok(false),
        Creation::Differs => Err(Refusal::IdTaken { what }),
    }
}

/// The hash by which a repeated create is known: over the request's canonical serialization.
pub fn body_sha256(new: &impl Serialize) -> Result<Vec<u8>, Refusal> {
    let canonical = serde_json::to_vec(new).map_err(|error| Refusal::Internal(error.to_string()))?;
    Ok(Sha256::digest(canonical).to_vec())
}

/// The row that a statement just wrote.
pub fn written<T>(row: Option<T>, what: &'static str) -> Result<T, Refusal> {
    row.ok_or_else(|| Refusal::Internal(format!("the {what} just written is not there")))
}
