//! How people are spoken to, and how everything that words something knows it.

use std::cell::Cell;
use std::future::Future;
use std::pin::pin;

use crate::{Language, Measures};

/// In which language, and in which units.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Manner {
    pub language: Language,
    pub measures: Measures,
}

thread_local! {
    static SPOKEN: Cell<Manner> = const {
        Cell::new(Manner { language: Language::English, measures: Measures::Metric })
    };
}

impl Manner {
    /// How is spoken here and now.
    pub fn now() -> Self {
        SPOKEN.get()
    }
}

/// In the usual units.
impl From<Language> for Manner {
    fn from(language: Language) -> Self {
        Self { language, measures: Measures::default() }
    }
}

/// Does something in a manner.
pub fn speaking_now<T>(manner: impl Into<Manner>, work: impl FnOnce() -> T) -> T {
    /// Puts back what was spoken, after a panic too.
    struct Before(Manner);
    impl Drop for Before {
        fn drop(&mut self) {
            SPOKEN.set(self.0);
        }
    }
    let _before = Before(SPOKEN.replace(manner.into()));
    work()
}

/// Does something that waits in a manner, on whichever thread it goes on. What it spawns speaks English.
pub async fn speaking<F: Future>(manner: impl Into<Manner>, work: F) -> F::Output {
    let (manner, mut work) = (manner.into(), pin!(work));
    std::future::poll_fn(|context| speaking_now(manner, || work.as_mut().poll(context))).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_spoken_ends_with_what_was_done_in_it() {
        assert_eq!(Language::spoken(), Language::English);
        let heard = speaking_now(Language::German, || {
            let inner = speaking_now(Language::English, Language::spoken);
            (Language::spoken(), inner)
        });
        assert_eq!(heard, (Language::German, Language::English));
        let panicked = std::panic::catch_unwind(|| speaking_now(Language::German, || panic!("on purpose")));
        assert!(panicked.is_err());
        assert_eq!(Language::spoken(), Language::English);
    }

    #[test]
    fn two_tasks_on_one_thread_speak_each_its_own() {
        use std::task::{Context, Poll, Waker};
        let told = |language| {
            speaking(language, async {
                let before = Language::spoken();
                let mut has_waited = false;
                std::future::poll_fn(|_| {
                    if std::mem::replace(&mut has_waited, true) { Poll::Ready(()) } else { Poll::Pending }
                })
                .await;
                (before, Language::spoken())
            })
        };
        let (mut one, mut two) = (pin!(told(Language::German)), pin!(told(Language::English)));
        let mut context = Context::from_waker(Waker::noop());
        assert!(one.as_mut().poll(&mut context).is_pending());
        assert!(two.as_mut().poll(&mut context).is_pending());
        assert_eq!(Language::spoken(), Language::English);
        assert_eq!(one.as_mut().poll(&mut context), Poll::Ready((Language::German, Language::German)));
        assert_eq!(two.as_mut().poll(&mut context), Poll::Ready((Language::English, Language::English)));
    }
}
