//! What takes seconds to compute over a large company: kept for the next who asks the same, and made anew behind him.

use std::future::Future;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use crate::Refusal;

/// So old an answer is given at most while a new one is made. It says of when it is.
const USABLE: Duration = Duration::from_mins(20);

/// The newest answers to a few questions.
#[derive(Debug)]
pub(crate) struct Renewed<Q, A> {
    kept: Mutex<Vec<Kept<Q, A>>>,
    /// Held by whoever makes one: a large company is gone through once at a time.
    making: tokio::sync::Mutex<()>,
    /// So old an answer is given without making a new one.
    fresh: Duration,
    /// So many are kept.
    most: usize,
}

#[derive(Debug)]
struct Kept<Q, A> {
    of: Q,
    made: Instant,
    answer: Arc<A>,
}

impl<Q, A> Renewed<Q, A>
where
    Q: Copy + PartialEq + Send + Sync + 'static,
    A: Send + Sync + 'static,
{
    pub fn new(fresh: Duration, most: usize) -> Self {
        Self { kept: Mutex::default(), making: tokio::sync::Mutex::default(), fresh, most }
    }

    /// The answer to a question: the one that was made lately, or else what `make` makes. Whoever finds none that is usable
    /// waits for it.
    pub async fn get<M>(
        self: &Arc<Self>,
        question: Q,
        make: impl FnOnce() -> M + Send + 'static,
    ) -> Result<Arc<A>, Refusal>
    where
        M: Future<Output = Result<A, Refusal>> + Send + 'static,
    {
        if let Some((age, answer)) = self.find(question) {
            if age >= self.fresh {
                self.renew(question, make);
            }
            return Ok(answer);
        }
        let _turn = self.making.lock().await;
        match self.find(question) {
            Some((age, answer)) if age < self.fresh => Ok(answer),
            _ => Ok(self.keep(question, make().await?)),
        }
    }

    /// In the background, if nobody makes one already.
    fn renew<M>(self: &Arc<Self>, question: Q, make: impl FnOnce() -> M + Send + 'static)
    where
        M: Future<Output = Result<A, Refusal>> + Send + 'static,
    {
        let this = Arc::clone(self);
        tokio::spawn(async move {
            let Ok(_turn) = this.making.try_lock() else { return };
            match make().await {
                Ok(answer) => drop(this.keep(question, answer)),
                Err(refusal) => tracing::warn!(%refusal, "what was computed before stands"),
            }
        });
    }

    fn find(&self, question: Q) -> Option<(Duration, Arc<A>)> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let found = kept.iter().find(|kept| kept.of == question)?;
        let age = found.made.elapsed();
        (age < USABLE).then(|| (age, Arc::clone(&found.answer)))
    }

    fn keep(&self, question: Q, answer: A) -> Arc<A> {
        let answer = Arc::new(answer);
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|kept| kept.of != question && kept.made.elapsed() < USABLE);
        let surplus = (kept.len() + 1).saturating_sub(self.most);
        kept.drain(..surplus);
        kept.push(Kept { of: question, made: Instant::now(), answer: Arc::clone(&answer) });
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn ask(renewed: &Arc<Renewed<u8, u8>>, question: u8, answer: u8) -> u8 {
        *renewed.get(question, move || async move { Ok(answer) }).await.unwrap()
    }

    #[tokio::test]
    async fn what_is_fresh_is_given_again_and_the_oldest_question_is_forgotten() {
        let renewed = Arc::new(Renewed::new(USABLE, 2));
        assert_eq!(ask(&renewed, 1, 10).await, 10);
        assert_eq!(ask(&renewed, 1, 11).await, 10);
        assert_eq!(ask(&renewed, 2, 20).await, 20);
        assert_eq!(ask(&renewed, 3, 30).await, 30);
        assert_eq!(ask(&renewed, 2, 21).await, 20);
        assert_eq!(ask(&renewed, 1, 12).await, 12);
    }

    #[tokio::test]
    async fn what_is_not_fresh_is_given_once_more_and_made_anew() {
        let renewed = Arc::new(Renewed::new(Duration::ZERO, 2));
        assert_eq!(ask(&renewed, 1, 10).await, 10);
        assert_eq!(ask(&renewed, 1, 11).await, 10);
        // On one thread the background has its turn when this one waits.
        tokio::task::yield_now().await;
        assert_eq!(ask(&renewed, 1, 12).await, 11);
    }

    #[tokio::test]
    async fn what_fails_leaves_what_was_there_and_is_told_where_there_was_nothing() {
        let renewed = Arc::new(Renewed::new(Duration::ZERO, 2));
        let fails = || async { Err(Refusal::Internal("on purpose".to_owned())) };
        assert!(renewed.get(1, fails).await.is_err());
        assert_eq!(ask(&renewed, 1, 10).await, 10);
        assert_eq!(*renewed.get(1, fails).await.unwrap(), 10);
        tokio::task::yield_now().await;
        assert_eq!(ask(&renewed, 1, 11).await, 10);
    }
}
