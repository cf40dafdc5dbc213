//! What a recorded flow is reduced to.

use super::GradingError;
use super::uncertainty::{Assessed, of_sample};
use crate::equipment::SeriesStatistic;
use crate::evidence::{Censored, Series};
use crate::quantity::{QuantityError, QuantityKind};
use crate::text::Key;
use crate::time::Timestamp;

/// The share of the first flow below which the flow counts as fallen.
const FALLEN_SHARE: f64 = 0.9;
/// How long the flow may take to come up, s. Common practice, no source.
const START_S: f64 = 1.0;

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SeriesError {
    #[error("a series needs at least two samples, as many times as values, and times that rise")]
    NotASeries,
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    #[error("nothing flowed at the start, so there is nothing to compare the rest with")]
    NothingAtTheStart,
}

/// One statistic of a series.
///
/// *First flow*: the largest sample of the first second, in which the pump comes up. *First fall*: when
/// the flow first falls below 90 % of it, by a straight line between samples; at least the series' end
/// where it does not. *Last fifth share*: the mean of the last fifth of the time, by trapezoids, as a
/// share of the first flow.
///
/// Uncertainty: the instrument's error for a flow; a sampling interval's rectangular half for a time;
/// for a share 1 % (common practice, no source) and the spread of two samples' errors over √n, because
/// the error common to all samples cancels.
///
/// ```
/// use domain::equipment::SeriesStatistic;
/// use domain::evidence::Series;
/// use domain::grading::reduce;
/// use domain::quantity::QuantityKind;
/// // Full for two seconds, then a straight fall to half within two more.
/// let series = Series {
///     values: vec![30.0, 30.0, 30.0, 22.5, 15.0, 15.0],
///     times_s: vec![0.0, 1.0, 2.0, 3.0, 4.0, 5.0],
///     unit: "L/min".into(),
///     instrument: None,
/// };
/// let taken_at = "2026-03-02T10:00:00Z".parse().unwrap();
/// let read = |statistic| reduce(&series, QuantityKind::VolumeFlow, statistic, taken_at).unwrap();
/// assert!((read(SeriesStatistic::FirstFall).value - 2.4).abs() < 1e-9);
/// assert!((read(SeriesStatistic::LastFifthShare).value - 50.0).abs() < 1e-9);
/// ```
pub fn reduce(
    series: &Series,
    quantity: QuantityKind,
    statistic: SeriesStatistic,
    taken_at: Timestamp,
) -> Result<Assessed, SeriesError> {
    let times = &series.times_s;
    let rises = times.windows(2).all(|pair| pair[1] > pair[0]) && times.iter().all(|time| time.is_finite());
    if times.len() < 2 || times.len() != series.values.len() || !rises {
        return Err(SeriesError::NotASeries);
    }
    let flow: Vec<f64> = series
        .values
        .iter()
        .map(|value| quantity.to_canonical(*value, &series.unit))
        .collect::<Result<_, _>>()?;
    let (start, first) = first_flow(times, &flow);
    let (u, calibration) = of_sample(series, quantity, first, taken_at);
    let assessed = |value, standard_uncertainty, censored| Assessed {
        value,
        standard_uncertainty,
        censored,
        calibration,
    };
    match statistic {
        SeriesStatistic::FirstFlow => Ok(assessed(first, u, None)),
        _ if first <= 0.0 => Err(SeriesError::NothingAtTheStart),
        SeriesStatistic::FirstFall => {
            let (time, gap, censored) = first_fall(times, &flow, start, FALLEN_SHARE * first);
            Ok(assessed(time, gap / 12.0_f64.sqrt(), censored))
        }
        SeriesStatistic::LastFifthShare => {
            let (mean, samples) = mean_of_last_fifth(times, &flow);
            let independent = series.instrument.as_ref().and_then(|instrument| instrument.resolution);
            let step = independent
                .map_or(Ok(0.0), |step| quantity.interval_to_canonical(step, &series.unit))?
                / 12.0_f64.sqrt();
            let relative = step / first * (1.0 + 1.0 / samples as f64).sqrt();
            Ok(assessed(100.0 * mean / first, 100.0 * 0.01_f64.hypot(relative), None))
        }
    }
}

/// The same, with the step's key in its error.
pub(super) fn reduce_step(
    series: &Series,
    quantity: QuantityKind,
    statistic: SeriesStatistic,
    taken_at: Timestamp,
    step: &Key,
) -> Result<Option<Assessed>, GradingError> {
    match reduce(series, quantity, statistic, taken_at) {
        Ok(assessed) => Ok(Some(assessed)),
        Err(SeriesError::NothingAtTheStart) => Ok(None),
        Err(source) => Err(GradingError::Series { step: step.clone(), source }),
    }
}

/// Index and value of the largest sample within the first second, the earliest of equals.
fn first_flow(times: &[f64], flow: &[f64]) -> (usize, f64) {
    let end = times[0] + START_S;
    let mut best = (0, flow[0]);
    for (index, value) in flow.iter().enumerate().take_while(|(index, _)| times[*index] <= end) {
        if *value > best.1 {
            best = (index, *value);
        }
    }
    best
}

/// Time, width of the sampling gap, and whether it is only a bound. A fall that ends between samples
/// crosses the threshold on a straight line.
fn first_fall(times: &[f64], flow: &[f64], start: usize, threshold: f64) -> (f64, f64, Option<Censored>) {
    let origin = times[0];
    for index in start + 1..flow.len() {
        if flow[index] < threshold {
            let (t0, t1) = (times[index - 1], times[index]);
            let (q0, q1) = (flow[index - 1], flow[index]);
            let crossing = t0 + (t1 - t0) * (q0 - threshold) / (q0 - q1);
            return (crossing - origin, t1 - t0, None);
        }
    }
    let last = times.len() - 1;
    (times[last] - origin, times[last] - times[last - 1], Some(Censored::AtLeast))
}

/// Mean over the last fifth of the time by trapezoids, and the samples within it (at least one).
fn mean_of_last_fifth(times: &[f64], flow: &[f64]) -> (f64, usize) {
    let last = times.len() - 1;
    let from = times[last] - (times[last] - times[0]) / 5.0;
    let mut area = 0.0;
    for index in 1..=last {
        let (t0, t1) = (times[index - 1], times[index]);
        if t1 <= from {
            continue;
        }
        let begin = t0.max(from);
        let at_begin = flow[index - 1] + (flow[index] - flow[index - 1]) * (begin - t0) / (t1 - t0);
        area += f64::midpoint(at_begin, flow[index]) * (t1 - begin);
    }
    let samples = times.iter().filter(|time| **time >= from).count();
    (area / (times[last] - from), samples.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(values: &[f64], times: &[f64]) -> Series {
        Series { values: values.into(), times_s: times.into(), unit: "L/min".into(), instrument: None }
    }

    fn read(series: &Series, statistic: SeriesStatistic) -> Result<Assessed, SeriesError> {
        reduce(series, QuantityKind::VolumeFlow, statistic, "2026-03-02T10:00:00Z".parse().unwrap())
    }

    #[test]
    fn a_steady_flow_never_falls() {
        let steady = series(&[0.0, 29.0, 30.0, 30.0, 30.0, 30.0], &[0.0, 0.5, 1.0, 20.0, 40.0, 60.0]);
        assert!((read(&steady, SeriesStatistic::FirstFlow).unwrap().value - 30.0).abs() < 1e-12);
        let fall = read(&steady, SeriesStatistic::FirstFall).unwrap();
        assert_eq!((fall.value, fall.censored), (60.0, Some(Censored::AtLeast)));
        let share = read(&steady, SeriesStatistic::LastFifthShare).unwrap();
        assert!((share.value - 100.0).abs() < 1e-9 && share.standard_uncertainty > 0.0);
    }

    #[test]
    fn the_last_fifth_begins_between_samples() {
        // From 8 s to 10 s on a line from 20 to 10: the mean is 12 at the middle, 9 s … of 30.
        let falling = series(&[30.0, 30.0, 20.0, 10.0], &[0.0, 1.0, 5.0, 10.0]);
        let share = read(&falling, SeriesStatistic::LastFifthShare).unwrap();
        assert!((share.value - 100.0 * 12.0 / 30.0).abs() < 1e-9, "{}", share.value);
    }

    #[test]
    fn what_is_no_series_is_refused() {
        for bad in
            [series(&[1.0], &[0.0]), series(&[1.0, 2.0], &[1.0, 1.0]), series(&[1.0, 2.0], &[0.0, f64::NAN])]
        {
            assert_eq!(read(&bad, SeriesStatistic::FirstFlow), Err(SeriesError::NotASeries));
        }
        let dry = series(&[0.0, 0.0], &[0.0, 5.0]);
        assert_eq!(read(&dry, SeriesStatistic::FirstFall), Err(SeriesError::NothingAtTheStart));
    }
}
