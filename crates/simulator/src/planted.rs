//! Fleets of which it is known which kitchens are worse than chance: failures as Poisson processes in
//! time with a fleet rate by model, position and age of the machine, times a factor θ of the kitchen
//! and position. Most cells follow the fleet (θ = 1, or spread about 1); some are planted with an
//! excess, in strata of the number of failures that the fleet's rate lets expect.
//!
//! Nothing physical happens here: this is the ground truth for lists of repeat failures, whose
//! statistics must be right before their causes are.

use domain::id::{ApplianceId, SiteId};
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::Serialize;

use crate::clock::{DAY, Moment, YEAR_DAYS, moment, timestamp};
use crate::random::Random;

/// What sort of fleet.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub seed: u64,
    /// Kitchens without any planted excess.
    pub background: usize,
    /// Planted cells of each stratum; each stands in a kitchen of its own.
    pub planted: usize,
    /// Failures expected in a planted cell under the fleet's rate.
    pub strata: Vec<f64>,
    /// θ of a planted cell, over that of its heterogeneity.
    pub excess: f64,
    /// Shape of the Gamma of mean 1 from which each cell's θ is drawn; `None`: all are 1.
    pub heterogeneity: Option<f64>,
    pub start: Timestamp,
    pub years: f64,
}

#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum InvalidPlan {
    #[error("expected failures, the excess, the shape and the years must be finite and greater than 0")]
    NotPositive,
    #[error("the fleet must lie between 1980 and 2200")]
    OutOfTime,
    #[error(
        "a stratum of {0} expected failures asks for more than 1,000 machines in one kitchen: give more years"
    )]
    TooMany(f64),
}

/// Failures per machine and year of the fleet, before age.
pub const RATES: [(Position, f64); 6] = [
    (Position::FillValve, 0.30),
    (Position::WashPump, 0.45),
    (Position::DrainPump, 0.38),
    (Position::InletStrainer, 0.60),
    (Position::DoorGasket, 0.22),
    (Position::SprayManifold, 0.16),
];
/// Upper ends of the bands of age in years, and what each does to the rates.
pub const AGE_BANDS: [(f64, f64); 4] = [(1.0, 0.7), (3.0, 0.9), (6.0, 1.1), (f64::INFINITY, 1.5)];
/// The models and what each does to the rates.
pub const MODELS: [(&str, f64); 2] = [("demo_combi", 1.0), ("large_combi", 1.2)];
/// Mean days until a failed machine runs again.
const DOWN_DAYS: f64 = 1.5;

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlantedKitchen {
    pub site: SiteId,
    /// The planted position and its stratum, or `None` in the background.
    pub planted: Option<(Position, f64)>,
    pub machines: Vec<PlantedMachine>,
    /// Per position of [`RATES`], in its order.
    pub cells: Vec<Cell>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Cell {
    pub position: Position,
    /// What truly multiplies the fleet's rate.
    pub theta: f64,
    /// Failures expected under the fleet's rate over the time in service and not failed.
    pub expected: f64,
    pub failures: u32,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlantedMachine {
    pub id: ApplianceId,
    pub model: &'static str,
    pub installed: Timestamp,
    pub failures: Vec<Failure>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Failure {
    pub position: Position,
    pub at: Timestamp,
    pub restored_at: Timestamp,
}

impl Plan {
    pub fn kitchens(&self) -> usize {
        self.background + self.planted * self.strata.len()
    }

    fn end(&self) -> Moment {
        moment(self.start) + (self.years * YEAR_DAYS * DAY as f64) as Moment
    }

    /// The kitchens one after the other, the planted ones spread among the others. Each draws from its
    /// own stream, so that none depends on how many there are.
    pub fn fleet(self) -> Result<impl Iterator<Item = PlantedKitchen>, InvalidPlan> {
        let numbers = [self.excess, self.years, self.heterogeneity.unwrap_or(1.0)];
        let positive = |number: &f64| number.is_finite() && *number > 0.0;
        if !numbers.iter().chain(&self.strata).all(positive) {
            return Err(InvalidPlan::NotPositive);
        }
        if self.years > 100.0 || moment(self.start) < 3_652 * DAY || self.end() > 84_006 * DAY {
            return Err(InvalidPlan::OutOfTime);
        }
        let too_many = |stratum: &&f64| **stratum > 1_000.0 * 0.2 * self.years;
        if let Some(stratum) = self.strata.iter().find(too_many) {
            return Err(InvalidPlan::TooMany(*stratum));
        }
        let kitchens = self.kitchens();
        Ok((0..kitchens).map(move |index| self.kitchen(index)))
    }

    /// Years of the window, each times what the age of the machine then does to the rates.
    fn years_in_bands(&self, installed: Moment) -> f64 {
        let year = YEAR_DAYS * DAY as f64;
        let from = (moment(self.start) - installed) as f64 / year;
        let (mut sum, mut lower) = (0.0, 0.0);
        for (upper, factor) in AGE_BANDS {
            sum += factor * (upper.min(from + self.years) - f64::max(lower, from)).max(0.0);
            lower = upper;
        }
        sum
    }

    /// The stratum of a kitchen: planted ones come at even distances.
    fn stratum(&self, index: usize) -> Option<f64> {
        let planted = self.planted * self.strata.len();
        let of = |index: usize| index * planted / self.kitchens().max(1);
        let number = of(index);
        (of(index + 1) > number).then(|| self.strata[number % self.strata.len()])
    }

    fn kitchen(&self, index: usize) -> PlantedKitchen {
        let mut random = Random::new(self.seed, index as u64);
        let start = moment(self.start);
        let site = random.id(self.start);
        let stratum = self.stratum(index);
        // the rarest position would need a canteen of hundreds of machines for the upper strata
        let position = random.below(RATES.len() - 1);
        let planted = stratum.map(|stratum| (RATES[position].0, stratum));
        let theta: Vec<_> = (0..RATES.len())
            .map(|cell| {
                let spread = self.heterogeneity.map_or(1.0, |shape| random.gamma_of_mean_one(shape));
                if stratum.is_some() && cell == position { self.excess * spread } else { spread }
            })
            .collect();
        let mut cells: Vec<_> = RATES
            .iter()
            .zip(&theta)
            .map(|((position, _), theta)| Cell {
                position: *position,
                theta: *theta,
                expected: 0.0,
                failures: 0,
            })
            .collect();
        let most = if stratum.is_some() { usize::MAX } else { 1 + random.below(16) };
        let (mut machines, mut foreseen) = (Vec::new(), 0.0);
        while machines.len() < most {
            let (model, factor) = *random.pick(&MODELS);
            let installed = start - (random.between(0.0, 8.0) * YEAR_DAYS) as i64 * DAY;
            let share = RATES[position].1 * factor * self.years_in_bands(installed);
            // stop where one more would lead farther from the stratum
            if stratum.is_some_and(|stratum| !machines.is_empty() && foreseen + share / 2.0 > stratum) {
                break;
            }
            foreseen += share;
            let id = random.id(timestamp(installed));
            let failures = self.live(&mut cells, factor, installed, &mut random);
            machines.push(PlantedMachine { id, model, installed: timestamp(installed), failures });
        }
        PlantedKitchen { site, planted, machines, cells }
    }

    /// Runs one machine through the window, band by band of its age.
    fn live(&self, cells: &mut [Cell], model: f64, installed: Moment, random: &mut Random) -> Vec<Failure> {
        let year = YEAR_DAYS * DAY as f64;
        let (mut now, end) = (moment(self.start), self.end());
        let mut failures = Vec::new();
        while now < end {
            let age = (now - installed) as f64 / year;
            let (band_end, band) =
                AGE_BANDS.into_iter().find(|(upper, _)| age < *upper).unwrap_or(AGE_BANDS[3]);
            let until = if band_end.is_finite() {
                // one second on, so that rounding cannot hold the clock in the old band
                end.min(installed + (band_end * year) as Moment + 1)
            } else {
                end
            };
            let rates: Vec<_> = RATES
                .iter()
                .zip(cells.iter())
                .map(|((_, rate), cell)| rate * model * band * cell.theta / year)
                .collect();
            let next = now + (random.exponential() / rates.iter().sum::<f64>()).min(1e12) as Moment + 1;
            let ran = (next.min(until) - now) as f64 / year;
            for (cell, (_, rate)) in cells.iter_mut().zip(RATES) {
                cell.expected += rate * model * band * ran;
            }
            now = next.min(until);
            if next < until {
                let cell = random.weighted(&rates);
                let restored = now + (random.exponential() * DOWN_DAYS * DAY as f64) as Moment + 60;
                cells[cell].failures += 1;
                let position = cells[cell].position;
                failures.push(Failure { position, at: timestamp(now), restored_at: timestamp(restored) });
                now = restored;
            }
        }
        failures
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> Plan {
        Plan {
            seed: 5,
            background: 900,
            planted: 60,
            strata: vec![4.0, 8.0, 12.0],
            excess: 3.0,
            heterogeneity: None,
            start: "2024-01-01T00:00:00Z".parse().unwrap(),
            years: 3.0,
        }
    }

    #[test]
    fn counts_are_poisson_about_theta_times_expected() {
        let kitchens: Vec<_> = plan().fleet().unwrap().collect();
        let (mut chi_squared, mut cells) = (0.0, 0.0);
        for cell in kitchens.iter().flat_map(|kitchen| &kitchen.cells).filter(|cell| cell.expected > 2.0) {
            let mean = cell.theta * cell.expected;
            chi_squared += (f64::from(cell.failures) - mean).powi(2) / mean;
            cells += 1.0;
        }
        // mean 1 and variance about 2 a cell: four standard errors
        let excess: f64 = chi_squared / cells - 1.0;
        assert!(excess.abs() < 4.0 * libm::sqrt(2.3 / cells), "{excess} over {cells} cells");
    }

    #[test]
    fn planted_cells_are_of_their_stratum_and_there_are_as_many_as_asked_for() {
        let kitchens: Vec<_> = plan().fleet().unwrap().collect();
        for stratum in [4.0, 8.0, 12.0] {
            let of = |kitchen: &&PlantedKitchen| {
                kitchen.planted.is_some_and(|(_, of)| of.to_bits() == f64::to_bits(stratum))
            };
            let planted: Vec<_> = kitchens.iter().filter(of).collect();
            assert_eq!(planted.len(), 60);
            let expected = planted.iter().map(|kitchen| {
                let (position, _) = kitchen.planted.unwrap();
                kitchen.cells.iter().find(|cell| cell.position == position).unwrap().expected
            });
            let mean = expected.sum::<f64>() / 60.0;
            assert!((mean / stratum - 1.0).abs() < 0.15, "{stratum}: {mean}");
        }
    }

    #[test]
    fn failures_lie_in_the_window_while_the_machine_runs() {
        let plan = plan();
        let (start, end) = (plan.start, timestamp(plan.end()));
        for machine in plan.fleet().unwrap().take(200).flat_map(|kitchen| kitchen.machines) {
            let mut free_from = start;
            for failure in machine.failures {
                assert!(free_from <= failure.at && failure.at < end && failure.at < failure.restored_at);
                free_from = failure.restored_at;
            }
        }
    }

    #[test]
    fn plans_without_sense_are_refused() {
        let refused = |plan: Plan| plan.fleet().err();
        assert_eq!(refused(Plan { excess: f64::NAN, ..plan() }), Some(InvalidPlan::NotPositive));
        assert_eq!(refused(Plan { years: 0.0, ..plan() }), Some(InvalidPlan::NotPositive));
        assert_eq!(refused(Plan { years: 500.0, ..plan() }), Some(InvalidPlan::OutOfTime));
        assert_eq!(refused(Plan { strata: vec![1e6], ..plan() }), Some(InvalidPlan::TooMany(1e6)));
    }
}
