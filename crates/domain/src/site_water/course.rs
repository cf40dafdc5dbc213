use serde::{Deserialize, Serialize};

use super::{SamplePoint, Treatment, WaterSample, WaterValue};
use crate::time::Timestamp;

/// A sample with the moment at which it was drawn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TakenSample {
    pub taken_at: Timestamp,
    pub sample: WaterSample,
}

/// The treatment of a site changed between two samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct TreatmentChange {
    /// When the last sample with the old treatment was drawn.
    pub after: Timestamp,
    /// When the first sample with the new treatment was drawn.
    pub by: Timestamp,
    pub from: Treatment,
    pub to: Treatment,
}

/// How a value moves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Trend {
    pub of: WaterValue,
    /// Samples in it.
    pub n: usize,
    /// Median of the slopes between all pairs of samples, in the value's unit per year of 365.25 days.
    pub per_year: f64,
}

/// Changes of treatment, in order of time, whatever the order of the samples.
pub fn treatment_changes(samples: &[TakenSample]) -> Vec<TreatmentChange> {
    in_order(samples)
        .windows(2)
        .filter(|pair| pair[0].sample.treatment != pair[1].sample.treatment)
        .map(|pair| TreatmentChange {
            after: pair[0].taken_at,
            by: pair[1].taken_at,
            from: pair[0].sample.treatment,
            to: pair[1].sample.treatment,
        })
        .collect()
}

/// The trend of a value at one point since the treatment last changed: a treatment that wears out shows
/// as hardness that climbs. `None` with fewer than three samples that hold the value, or if all were
/// drawn within an hour.
///
/// Source: Theil 1950 and Sen 1968, the median of pairwise slopes, which one wrong sample does not turn.
pub fn trend(samples: &[TakenSample], of: WaterValue, at: SamplePoint) -> Option<Trend> {
    let ordered = in_order(samples);
    let treatment = ordered.last()?.sample.treatment;
    let points: Vec<(f64, f64)> = ordered
        .iter()
        .rev()
        .take_while(|taken| taken.sample.treatment == treatment)
        .filter(|taken| taken.sample.sample_point == at)
        .filter_map(|taken| Some((years(taken.taken_at), taken.sample.value(of)?)))
        .collect();
    if points.len() < 3 {
        return None;
    }
    let pairs = points.iter().enumerate().flat_map(|(index, first)| {
        points[index + 1..]
            .iter()
            .filter(|second| (second.0 - first.0).abs() > HOUR)
            .map(move |second| (first, second))
    });
    let slopes = pairs.map(|(first, second)| (second.1 - first.1) / (second.0 - first.0)).collect();
    Some(Trend { of, n: points.len(), per_year: median(slopes)? })
}

fn in_order(samples: &[TakenSample]) -> Vec<TakenSample> {
    let mut ordered = samples.to_vec();
    ordered.sort_by_key(|taken| taken.taken_at);
    ordered
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    Some(if values.len().is_multiple_of(2) { f64::midpoint(values[middle - 1], upper) } else { upper })
}

/// In years. Two samples closer than this are one sample twice, and have no slope.
const HOUR: f64 = 1.0 / (365.25 * 24.0);

fn years(at: Timestamp) -> f64 {
    at.instant().timestamp_micros() as f64 / (365.25 * 86_400e6)
}
