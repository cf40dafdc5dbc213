//! Whether a chart that rang still stands where it rang: what a machine has left behind warns of nothing.

use super::drift::{DriftChart, DriftPoint, Signal, Spread};
use crate::quantity::Scale;
use crate::time::Timestamp;

/// A chart that has rung since the last repair of the position, and of which the newest readings lie on that side still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastingDrift {
    /// The reading that rang first.
    pub since: Timestamp,
    pub rises: bool,
    /// The mean of the readings before it, in the quantity's unit: on the logarithmic scale a geometric one.
    pub usual: f64,
    pub last: f64,
    pub last_at: Timestamp,
}

/// So many of the newest readings are taken together: one alone may be a slip.
const NEWEST: usize = 3;

/// The drift that lasts, if there is one: the mean of the newest readings (three, or all since the first alarm) lies at least as
/// far from the usual one, on the side of the alarm, as a sum ignores ([`DriftRules::allowance`](super::drift::DriftRules)
/// standard deviations of one reading). Charts that start by themselves fall silent once a shift has lasted, so their newest
/// signal alone does not tell.
pub fn lasting_drift(chart: &DriftChart) -> Option<LastingDrift> {
    let since = chart.drifting_since?;
    let current = chart.points.last()?.segment;
    let points: Vec<&DriftPoint> = chart.points.iter().filter(|point| point.segment == current).collect();
    let rung =
        points.iter().position(|point| point.reading.taken_at == since && !point.signals.is_empty())?;
    let rises =
        points[rung].signals.iter().any(|signal| matches!(signal, Signal::AverageHigh | Signal::SumHigh));
    let scaled = |point: &&DriftPoint| match chart.scale {
        Scale::Linear => point.reading.value,
        Scale::Logarithmic => point.reading.value.ln(),
    };
    let (before, after): (Vec<f64>, Vec<f64>) =
        (points[..rung].iter().map(scaled).collect(), points[rung..].iter().map(scaled).collect());
    let usual = mean(&before)?;
    let newest = mean(&after[after.len().saturating_sub(NEWEST)..])?;
    let deviation = match chart.spread {
        Spread::Pooled(deviation) => deviation,
        Spread::Own => sample_deviation(&before, usual),
    };
    let beyond = if rises { newest - usual } else { usual - newest };
    let last = points.last()?.reading;
    (beyond >= chart.rules.allowance * deviation && beyond > 0.0).then(|| LastingDrift {
        since,
        rises,
        usual: match chart.scale {
            Scale::Linear => usual,
            Scale::Logarithmic => usual.exp(),
        },
        last: last.value,
        last_at: last.taken_at,
    })
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Of fewer than two nothing is known.
fn sample_deviation(values: &[f64], mean: f64) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    (squares / (values.len() - 1) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::known_good::drift::{DriftReading, DriftRules, drift_chart};

    fn found(values: &[f64], spread: Spread) -> Option<LastingDrift> {
        let reading = |(number, value): (usize, &f64)| DriftReading {
            test_run: format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}").parse().unwrap(),
            taken_at: format!("2026-{:02}-{:02}T00:00:00Z", 1 + number / 28, 1 + number % 28)
                .parse()
                .unwrap(),
            value: *value,
        };
        let readings: Vec<_> = values.iter().enumerate().map(reading).collect();
        let chart = drift_chart(&readings, &[], Scale::Logarithmic, spread, DriftRules::default()).unwrap();
        lasting_drift(&chart)
    }

    /// Around 70 with a spread of about two per cent.
    fn usual() -> Vec<f64> {
        [69.0, 71.2, 70.4, 68.7, 70.9, 69.6, 71.0, 69.3, 70.2, 70.0].into()
    }

    #[test]
    fn a_drift_that_lasts_says_which_way_and_from_where() {
        for spread in [Spread::Pooled(0.02), Spread::Own] {
            assert_eq!(found(&usual(), spread), None);
            let risen = [usual(), vec![77.0; 8]].concat();
            let drift = found(&risen, spread).unwrap();
            assert!(drift.rises && (69.0..73.0).contains(&drift.usual), "{drift:?}");
            assert!((drift.last - 77.0).abs() < 1e-12 && drift.since < drift.last_at);
            let fallen: Vec<f64> = risen.iter().map(|value| 4900.0 / value).collect();
            assert!(!found(&fallen, spread).unwrap().rises);
        }
    }

    #[test]
    fn a_shift_that_lasts_long_is_told_though_the_charts_fall_silent() {
        let risen = [usual(), vec![77.0; 60]].concat();
        assert!(found(&risen, Spread::Pooled(0.02)).is_some());
    }

    #[test]
    fn what_has_come_back_or_gone_to_the_other_side_warns_of_nothing() {
        for since in [70.0, 63.0] {
            let came_back = [usual(), vec![77.0; 8], vec![since; 6]].concat();
            assert_eq!(found(&came_back, Spread::Pooled(0.02)), None, "{since}");
        }
        // One reading alone may be a slip.
        let slip = [usual(), vec![77.0; 8], vec![70.0]].concat();
        assert!(found(&slip, Spread::Pooled(0.02)).is_some());
    }
}
