//! Answers that were given lately: of days that are over, and as good for the next who asks the same.

use std::sync::{Mutex, PoisonError};
use std::time::Instant;

use chrono::{DateTime, Utc};

use super::answer::{GetMeasures, Grouping, Measures};
use super::facts::FRESH;
use crate::repeats::Window;

/// A question, until when all is known to it.
type Asked = (Window, DateTime<Utc>, u16, Option<Grouping>);

/// So many are kept: a page of a few people, and its groupings.
const MOST: usize = 24;

#[derive(Debug, Default)]
pub(crate) struct KeptAnswers(Mutex<Vec<(Asked, Instant, Measures)>>);

impl KeptAnswers {
    pub(super) fn find(&self, question: &GetMeasures, until: DateTime<Utc>) -> Option<Measures> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let asked = asked(question, until);
        let found = kept.iter().find(|(of, at, _)| *of == asked && at.elapsed() < FRESH)?;
        Some(Measures { as_of: question.as_of, ..found.2.clone() })
    }

    pub(super) fn keep(&self, question: &GetMeasures, until: DateTime<Utc>, answer: &Measures) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let asked = asked(question, until);
        kept.retain(|(of, at, _)| *of != asked && at.elapsed() < FRESH);
        if kept.len() >= MOST {
            kept.remove(0);
        }
        kept.push((asked, Instant::now(), answer.clone()));
    }
}

fn asked(question: &GetMeasures, until: DateTime<Utc>) -> Asked {
    (question.window, until, question.days, question.by)
}
