//! The orders of a span, kept for as long as somebody looks from page to page.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::{Duration, Instant};

use chrono::{DateTime, Utc};
use domain::id::ApplianceId;
use domain::measures::{Attendance, OrderFacts};
use store::measures::{self, Span};
use tokio::sync::Mutex;

use crate::today::promised_within;
use crate::{Application, Refusal};

/// Orders as they were known at the end of the span's last complete day.
#[derive(Debug)]
pub(crate) struct Facts {
    pub orders: Vec<OrderFacts>,
    pub removed: HashMap<ApplianceId, DateTime<Utc>>,
}

/// Those that were read last. Whoever asks while they are read waits for them.
#[derive(Debug, Default)]
pub(crate) struct LastFacts(Mutex<Option<(Span, Instant, Arc<Facts>)>>);

/// They are of days that are over: what is entered late shows this much later.
pub(crate) const FRESH: Duration = Duration::from_mins(5);

/// What was read for a page that shows more is good for one that shows less.
fn serves(kept: &Span, asked: &Span) -> bool {
    let alike = Span { people: kept.people, repairs: kept.repairs, ..*asked };
    *kept == alike && (kept.people || !asked.people) && (kept.repairs || !asked.repairs)
}

pub(super) async fn facts(application: &Application, span: Span) -> Result<Arc<Facts>, Refusal> {
    let mut last = application.last_facts().0.lock().await;
    if let Some((of, at, facts)) = &*last
        && serves(of, &span)
        && at.elapsed() < FRESH
    {
        return Ok(Arc::clone(facts));
    }
    let (orders, removed) = measures::orders(application.database(), &span).await?;
    let orders = orders.into_iter().map(|order| {
        let attended = Attendance::together(order.attended.clone());
        let promised = promised_within(order.urgency);
        OrderFacts { attended, promised, ..order }.as_known(span.as_of)
    });
    let facts = Arc::new(Facts { orders: orders.collect(), removed });
    *last = Some((span, Instant::now(), Arc::clone(&facts)));
    Ok(facts)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_than_was_asked_for_serves_and_less_or_other_does_not() {
        let day = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
        let span = |people, repairs| Span {
            from: day("2025-01-01T00:00:00Z"),
            to: day("2026-01-01T00:00:00Z"),
            as_of: day("2026-01-01T00:00:00Z"),
            people,
            repairs,
        };
        assert!(
            serves(&span(true, true), &span(false, false)) && serves(&span(true, false), &span(true, false))
        );
        assert!(!serves(&span(false, true), &span(true, true)));
        let other = Span { to: day("2026-01-02T00:00:00Z"), ..span(false, false) };
        assert!(!serves(&span(true, true), &other));
    }
}
