//! Looks at each machine whose readings have come in since it was looked at last, so that a fleet's warnings are there when
//! somebody asks.

use std::time::Duration;

use chrono::TimeDelta;
use domain::known_good::drift::{DriftChart, Signal};
use domain::quantity::Scale;
use domain::time::Timestamp;
use store::ReadScope;
use store::drift_watch::{self, Drifting, Unlooked};

use super::{MeasurementDrift, of_appliance};
use crate::{Application, Refusal};

/// Machines that were not read for so long warn of nothing.
const LOOKED_BACK: TimeDelta = TimeDelta::days(180);
/// Machines looked at in one go, and the pause after it: whoever serves requests comes first.
const AT_ONCE: i64 = 10;
const BETWEEN: Duration = Duration::from_secs(1);
const LOOK_EVERY: Duration = Duration::from_secs(20);
/// A run that was being written while others were read may carry an earlier time.
const OVERLAP: TimeDelta = TimeDelta::minutes(10);

impl Application {
    /// Watches the fleet, again and again; goes on when the database is away. May be dropped at any moment.
    pub async fn keep_watch(self) {
        let mut since = None;
        loop {
            let began = self.now();
            let pause = match self.watch(since, AT_ONCE).await {
                Ok(looked) if looked < AT_ONCE as usize => {
                    since = back(began, OVERLAP);
                    LOOK_EVERY
                }
                Ok(_) => BETWEEN,
                Err(error) => {
                    tracing::warn!(%error, "the machines could not be watched");
                    LOOK_EVERY
                }
            };
            tokio::time::sleep(pause).await;
        }
    }

    /// Looks at machines with runs since then, at most so many; says at how many.
    pub async fn watch(&self, since: Option<Timestamp>, most: i64) -> Result<usize, Refusal> {
        let since = since.or_else(|| back(self.now(), LOOKED_BACK));
        let Some(since) = since else { return Ok(0) };
        let unlooked = drift_watch::unlooked(self.database(), since, most).await?;
        for machine in &unlooked {
            let drifts = self.look_at(*machine).await?;
            drift_watch::keep(self.database(), *machine, &drifts).await?;
        }
        Ok(unlooked.len())
    }

    async fn look_at(&self, machine: Unlooked) -> Result<Vec<Drifting>, Refusal> {
        let (scope, appliance) = (ReadScope::everything(), machine.appliance);
        match of_appliance(self, &scope, appliance, self.now(), None).await {
            Ok(drift) => Ok(drift.into_iter().flat_map(|drift| drift.charts).filter_map(drifting).collect()),
            Err(error @ Refusal::Store(_)) => Err(error),
            Err(error) => {
                tracing::warn!(%error, %appliance, "a machine's readings could not be graded and warn of nothing");
                Ok(Vec::new())
            }
        }
    }
}

fn back(from: Timestamp, by: TimeDelta) -> Option<Timestamp> {
    Timestamp::new(from.instant() - by).ok()
}

/// What is said of a chart that has rung since the last repair. What the building supplies is no matter of the machine.
fn drifting(drift: MeasurementDrift) -> Option<Drifting> {
    let MeasurementDrift { of, position, quantity, chart } = drift;
    let since = chart.drifting_since.filter(|_| !position.is_external())?;
    let current = chart.points.last()?.segment;
    let mut points = chart.points.iter().filter(|point| point.segment == current);
    let rung = points.find(|point| point.reading.taken_at == since)?;
    let last = chart.points.last()?.reading;
    Some(Drifting {
        rises: rung.signals.iter().any(|signal| matches!(signal, Signal::AverageHigh | Signal::SumHigh)),
        n: chart.n,
        usual: mean_before(&chart, current, since)?,
        last: last.value,
        last_at: last.taken_at,
        of,
        position,
        quantity,
        since,
    })
}

/// On the quantity's scale: a geometric mean of what is graded by ratios.
fn mean_before(chart: &DriftChart, segment: u32, since: Timestamp) -> Option<f64> {
    let before =
        chart.points.iter().filter(|point| point.segment == segment && point.reading.taken_at < since);
    let values: Vec<f64> = before.map(|point| point.reading.value).collect();
    if values.is_empty() {
        return None;
    }
    let n = values.len() as f64;
    Some(match chart.scale {
        Scale::Linear => values.iter().sum::<f64>() / n,
        Scale::Logarithmic => (values.iter().map(|value| value.ln()).sum::<f64>() / n).exp(),
    })
}

#[cfg(test)]
mod tests {
    use domain::equipment::Measurement;
    use domain::known_good::drift::{DriftReading, DriftRules, Spread, drift_chart};
    use domain::quantity::QuantityKind;
    use domain::vocabulary::Position;

    use super::*;

    fn chart_of(values: &[f64], position: Position) -> MeasurementDrift {
        let reading = |(day, value): (usize, &f64)| DriftReading {
            test_run: format!("01890a5d-ac96-774b-bcce-b3020000{day:04x}").parse().unwrap(),
            taken_at: format!("2026-01-{:02}T00:00:00Z", day + 1).parse().unwrap(),
            value: *value,
        };
        let readings: Vec<_> = values.iter().enumerate().map(reading).collect();
        let (spread, rules) = (Spread::Pooled(0.02), DriftRules::default());
        let chart = drift_chart(&readings, &[], Scale::Logarithmic, spread, rules).unwrap();
        MeasurementDrift {
            of: Measurement::value("fill_time", "fill_time"),
            position,
            quantity: QuantityKind::Duration,
            chart,
        }
    }

    #[test]
    fn a_warning_says_which_way_and_from_where_it_drifts() {
        let mut values = vec![70.0; 10];
        assert_eq!(drifting(chart_of(&values, Position::FillValve)), None);
        values.extend([77.0; 8]);
        let found = drifting(chart_of(&values, Position::FillValve)).unwrap();
        assert!(found.rises && found.n == 18 && found.last > 76.0, "{found:?}");
        assert!((70.0..73.0).contains(&found.usual), "{found:?}");
        assert!(found.since < found.last_at);
        let falling: Vec<f64> = values.iter().map(|value| 4900.0 / value).collect();
        assert!(!drifting(chart_of(&falling, Position::FillValve)).unwrap().rises);
        let of_building = drifting(chart_of(&values, Position::SitePressure));
        assert_eq!(of_building, None, "what the building supplies is no matter of the machine");
    }
}
