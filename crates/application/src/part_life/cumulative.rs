//! How many failures a place has had by so much time: of the part in it, and of those that followed.

use std::collections::BTreeMap;

use domain::id::ApplianceId;
use domain::reliability::lives::FittedPart;
use domain::repeats::cumulative::{MeanCumulative, mean_cumulative};
use domain::repeats::{Observed, RepeatsError};
use domain::text::Key;
use domain::time::Timestamp;
use store::part_life::PartInPlace;

/// Limits are told from so many places on.
pub const LEAST_PLACES: u32 = 10;

/// The mean number of failures of a place, by the days since the first part of which is known when it was fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct FailuresOfPlaces {
    /// Positions of machines.
    pub places: u32,
    pub failures: u32,
    /// Without limits where there are fewer than [`LEAST_PLACES`].
    pub steps: Vec<MeanCumulative>,
}

/// Each place with its parts, in any order.
pub(super) fn places(parts: &[PartInPlace]) -> Vec<Vec<FittedPart>> {
    let mut places: BTreeMap<(ApplianceId, &Key), Vec<FittedPart>> = BTreeMap::new();
    for part in parts {
        places.entry((part.appliance, &part.position)).or_default().push(part.fitted);
    }
    places.into_values().collect()
}

/// As seen from `from`, if it is said, until `until`; none where nothing failed.
pub(super) fn of_places(
    places: &[Vec<FittedPart>],
    from: Option<Timestamp>,
    until: Timestamp,
) -> Result<Option<FailuresOfPlaces>, RepeatsError> {
    let observed: Vec<Observed> = places.iter().filter_map(|parts| observed(parts, from, until)).collect();
    let mut steps = mean_cumulative(&observed)?;
    let places = observed.len() as u32;
    if places < LEAST_PLACES {
        for step in &mut steps {
            (step.lower, step.upper) = (None, None);
        }
    }
    let failures = steps.iter().map(|step| step.events).sum();
    Ok((failures > 0).then_some(FailuresOfPlaces { places, failures, steps }))
}

/// None of a place that was not watched.
fn observed(parts: &[FittedPart], from: Option<Timestamp>, until: Timestamp) -> Option<Observed> {
    let first = parts.iter().filter_map(|part| part.fitted_at).min()?;
    let days = |at: Timestamp| (at.instant() - first.instant()).num_milliseconds() as f64 / 86_400_000.0;
    let part = parts.first()?;
    let seen_from = from.map_or(part.recorded_from, |from| from.max(part.recorded_from));
    let seen_until = part.observed_until.map_or(until, |gone| gone.min(until));
    let (from, to) = (days(seen_from).floor().max(0.0), days(seen_until).ceil());
    let failed = parts.iter().filter(|part| part.failure_confirmed).filter_map(|part| part.removed_at);
    let events = failed.map(|at| days(at).ceil()).filter(|at| from < *at && *at <= to).collect();
    (from < to).then_some(Observed { from, to, events })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: u32) -> Timestamp {
        format!("2026-01-{day:02}T00:00:00Z").parse().unwrap()
    }

    fn part(fitted: u32, removed: Option<u32>, failure_confirmed: bool) -> FittedPart {
        FittedPart {
            fitted_at: Some(at(fitted)),
            recorded_from: at(1),
            removed_at: removed.map(at),
            failure_confirmed,
            observed_until: None,
        }
    }

    /// Two places from their first fitting to the 21st: failures after 5 and 10 days in the one, after 5 in the other, which is
    /// watched for 10 days only. By hand: 2/2 at 5 days, 1/2 more at 10.
    #[test]
    fn a_place_counts_its_failures_from_the_first_part_that_is_known() {
        let first = vec![
            part(1, Some(6), true),
            part(6, Some(11), true),
            part(11, Some(15), false),
            part(15, None, false),
        ];
        let second = vec![part(11, Some(16), true), part(16, None, false)];
        let found = of_places(&[first.clone(), second], None, at(21)).unwrap().unwrap();
        let steps: Vec<_> = found.steps.iter().map(|step| (step.age, step.mean, step.at_risk)).collect();
        assert_eq!(steps, [(5.0, 1.0, 2), (10.0, 1.5, 2)]);
        assert_eq!((found.places, found.failures), (2, 3));
        assert!(found.steps.iter().all(|step| step.lower.is_none()), "two places give no limits");
        let many = of_places(&vec![first.clone(); 12], None, at(21)).unwrap().unwrap();
        assert!(many.steps.iter().all(|step| step.lower.is_some() && step.upper.is_some()));
        // Watched from the 8th on, the first failure of the place is not seen.
        let late = of_places(&[first], Some(at(8)), at(21)).unwrap().unwrap();
        assert_eq!(late.failures, 1);
        assert_eq!(of_places(&[vec![part(2, None, false)]], None, at(21)).unwrap(), None);
        assert_eq!(of_places(&[], None, at(21)).unwrap(), None);
    }
}
