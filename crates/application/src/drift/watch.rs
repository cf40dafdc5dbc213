//! Looks at each machine whose readings have come in since it was looked at last, so that a fleet's warnings are there when
//! somebody asks.

use std::time::Duration;

use chrono::TimeDelta;
use domain::known_good::lasting_drift::{LastingDrift, lasting_drift};
use domain::time::Timestamp;
use store::ReadScope;
use store::drift_watch::{self, Drifting, Unlooked};

use super::{MeasurementDrift, of_appliance};
use crate::{Application, Refusal};

/// Machines that were not read for so long warn of nothing.
const LOOKED_BACK: TimeDelta = TimeDelta::days(180);
/// Machines that are asked for in one go: what came in is gone through for each.
const AT_ONCE: i64 = 500;
/// The pause after each machine: whoever serves requests comes first.
const BETWEEN: Duration = Duration::from_millis(100);
const LOOK_EVERY: Duration = Duration::from_secs(20);
/// A run that was being written while others were read may carry an earlier time.
const OVERLAP: TimeDelta = TimeDelta::minutes(10);

impl Application {
    /// Watches the fleet, again and again; goes on when the database is away. May be dropped at any moment.
    pub async fn keep_watch(self) {
        let mut since = None;
        loop {
            let began = self.now();
            let pause = match self.watch(since, AT_ONCE, BETWEEN).await {
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

    /// Looks at machines with runs since then, at most so many, with a pause after each; says at how many.
    pub async fn watch(
        &self,
        since: Option<Timestamp>,
        most: i64,
        pause: Duration,
    ) -> Result<usize, Refusal> {
        let since = since.or_else(|| back(self.now(), LOOKED_BACK));
        let Some(since) = since else { return Ok(0) };
        let unlooked = drift_watch::unlooked(self.database(), since, most).await?;
        for machine in &unlooked {
            let drifts = self.look_at(*machine).await?;
            drift_watch::keep(self.database(), *machine, &drifts).await?;
            tokio::time::sleep(pause).await;
        }
        Ok(unlooked.len())
    }

    async fn look_at(&self, machine: Unlooked) -> Result<Vec<Drifting>, Refusal> {
        let (scope, appliance) = (ReadScope::everything(), machine.appliance);
        match of_appliance(self, &scope, appliance, self.now(), None).await {
            Ok(drift) => Ok(drift.into_iter().flat_map(|drift| drift.charts).filter_map(drifting).collect()),
            Err(error) if error.is_passing() => Err(error),
            // One machine that cannot be read keeps nobody from looking at the others.
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

/// What is said of a drift that lasts. What the building supplies is no matter of the machine.
fn drifting(drift: MeasurementDrift) -> Option<Drifting> {
    let MeasurementDrift { of, position, quantity, chart } = drift;
    let LastingDrift { since, rises, usual, last, last_at } =
        lasting_drift(&chart).filter(|_| !position.is_external())?;
    Some(Drifting { of, position, quantity, since, rises, n: chart.n, usual, last, last_at })
}

#[cfg(test)]
mod tests {
    use domain::equipment::Measurement;
    use domain::known_good::drift::{DriftReading, DriftRules, Spread, drift_chart};
    use domain::quantity::{QuantityKind, Scale};
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
    fn a_machine_is_warned_of_and_what_the_building_supplies_is_not() {
        let values = [vec![70.0; 10], vec![77.0; 8]].concat();
        assert_eq!(drifting(chart_of(&values[..10], Position::FillValve)), None);
        let found = drifting(chart_of(&values, Position::FillValve)).unwrap();
        assert!(found.rises && found.n == 18 && found.last > 76.0, "{found:?}");
        assert_eq!(drifting(chart_of(&values, Position::SitePressure)), None);
    }
}
