//! What a question is.

use std::future::Future;

use crate::{Application, Caller, Refusal};

/// Something that a caller may want to know: as a use case stands for what is done, a question stands for what is read. It holds
/// what the answer is made of and what of it this caller may see, so that both doors read alike.
pub trait Question: Send {
    /// Its name in [`crate::rights`].
    const NAME: &'static str;
    type Answer;

    /// Only ever called for a caller who has the right.
    fn answer(
        self,
        application: &Application,
        caller: &Caller,
    ) -> impl Future<Output = Result<Self::Answer, Refusal>> + Send;
}

impl Application {
    /// Answers a question.
    pub async fn ask<Q: Question>(&self, caller: &Caller, question: Q) -> Result<Q::Answer, Refusal> {
        caller.require(Q::NAME)?;
        question.answer(self, caller).await
    }
}
