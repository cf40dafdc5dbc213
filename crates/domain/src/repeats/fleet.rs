//! Every kitchen of the company against all others, as a whole and at each position.
//!
//! A kitchen's failures are set against those that the other kitchens' rates give for the same models in the time that its
//! machines ran and were not failed; see [`against_fleet`]. Who stands out is asked of all kitchens together; see
//! [`prior`](super::prior) and [`listing`](super::listing).

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::RepeatsError;
use super::listing::{LEAST_EXPECTED, benjamini_hochberg, list};
use super::prior::{Assessment, Observation, Prior, fit_prior};
use super::rate::{Cell, Exposure, against_fleet, poisson_tail};
use crate::text::Key;
use crate::vocabulary::Position;

/// A count that an identical fleet would reach less often than this is beyond chance: one kitchen in a hundred. The project's own.
pub const BEYOND_CHANCE: f64 = 0.01;

/// How long the machines of one model were watched in one kitchen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MachineTime<Kitchen> {
    pub kitchen: Kitchen,
    pub model: Key,
    /// Finite and not negative; of all machines together.
    pub days: f64,
}

/// One failure: a fault of a position that a corrective order confirmed, counted as in [`counting`](super::counting).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Failure<Kitchen> {
    pub kitchen: Kitchen,
    pub model: Key,
    pub position: Position,
    /// From the report to the restoration, within what was watched: a position that has failed cannot fail again.
    pub days_failed: f64,
}

/// What the cells of one list are.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Family {
    #[default]
    Kitchen,
    /// Each position of each kitchen.
    KitchenPosition,
}

/// A kitchen, and one of its positions where the family tells them apart.
pub type CellOf<Kitchen> = (Kitchen, Option<Position>);

/// What a count says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AgainstChance {
    Beyond,
    Within,
    /// Less than one failure was expected, so that hardly any count would show an excess.
    TooLittleToTell,
    /// No other kitchen has such machines.
    NoFleet,
}

/// One cell against the fleet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Standing {
    pub cell: Cell,
    pub says: AgainstChance,
    /// P(N ≥ n) against an identical fleet; none where it expects nothing.
    pub tail: Option<f64>,
    /// What all cells together say of this one; none where it expects too little to be listed, or all are too few.
    pub assessment: Option<Assessment>,
    /// Benjamini and Hochberg's q against an identical fleet, among the cells that may be listed.
    pub q: Option<f64>,
}

/// All cells of one family.
#[derive(Debug, Clone, PartialEq)]
pub struct Fleet<Kitchen: Ord> {
    pub family: Family,
    pub cells: BTreeMap<CellOf<Kitchen>, Standing>,
    /// Those that stand out, the surest first.
    pub listed: Vec<CellOf<Kitchen>>,
    /// Cells that expect enough to be listed, whatever they had.
    pub considered: usize,
    /// How far kitchens differ; none with fewer than two cells considered.
    pub prior: Option<Prior>,
}

/// Sets every kitchen against the others. Errors: times that are negative or no number.
///
/// ```
/// use domain::repeats::fleet::{AgainstChance, Failure, Family, MachineTime, against_each_other};
/// let model = domain::text::Key::new("demo_combi")?;
/// let times: Vec<_> = (0..20).map(|kitchen| MachineTime { kitchen, model: model.clone(), days: 365.0 }).collect();
/// let failures: Vec<_> = (0..20).chain([0; 8])
///     .map(|kitchen| Failure { kitchen, model: model.clone(), position: "fill_valve".parse().unwrap(), days_failed: 0.0 })
///     .collect();
/// let fleet = against_each_other(Family::Kitchen, &times, &failures)?;
/// let worst = &fleet.cells[&(0, None)];
/// assert_eq!((worst.cell.n, worst.says), (9, AgainstChance::Beyond)); // one was expected
/// assert_eq!(fleet.cells[&(1, None)].says, AgainstChance::Within);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn against_each_other<Kitchen: Ord + Clone>(
    family: Family,
    times: &[MachineTime<Kitchen>],
    failures: &[Failure<Kitchen>],
) -> Result<Fleet<Kitchen>, RepeatsError> {
    let mut cells = standings(against_fleet(&exposures(family, times, failures)?)?)?;
    let of_list: Vec<_> = cells
        .iter()
        .filter(|(_, standing)| standing.cell.expected >= LEAST_EXPECTED)
        .map(|(of, standing)| (of.clone(), observation(&standing.cell)))
        .collect();
    let observations: Vec<_> = of_list.iter().map(|(_, observation)| *observation).collect();
    let prior = if observations.len() < 2 { None } else { Some(fit_prior(&observations)?) };
    let mut listed = Vec::new();
    if let Some(prior) = &prior {
        let assessments: Vec<_> =
            observations.iter().map(|cell| prior.assess(*cell)).collect::<Result<_, _>>()?;
        let exceeds: Vec<_> = assessments.iter().map(|assessment| assessment.exceeds_twice).collect();
        let tails: Vec<_> = assessments.iter().map(|assessment| assessment.tail).collect();
        let q = benjamini_hochberg(&tails)?;
        listed = list(&exceeds)?.into_iter().map(|index| of_list[index].0.clone()).collect();
        for (((of, _), assessment), q) in of_list.iter().zip(assessments).zip(q) {
            if let Some(standing) = cells.get_mut(of) {
                (standing.assessment, standing.q) = (Some(assessment), Some(q));
            }
        }
    }
    Ok(Fleet { family, cells, listed, considered: of_list.len(), prior })
}

fn observation(cell: &Cell) -> Observation {
    Observation { n: cell.n, expected: cell.expected }
}

type Stratum = (Key, Position);

/// Each position of a model is a stratum: any of them may fail in all the time that its machines are watched.
fn exposures<Kitchen: Ord + Clone>(
    family: Family,
    times: &[MachineTime<Kitchen>],
    failures: &[Failure<Kitchen>],
) -> Result<Vec<Exposure<CellOf<Kitchen>, Stratum>>, RepeatsError> {
    if let Some(time) = times.iter().find(|time| !(time.days.is_finite() && time.days >= 0.0)) {
        let (name, allowed) = ("a time in service", "a finite number from zero");
        return Err(RepeatsError::Parameter { name, allowed, actual: time.days });
    }
    let mut positions: BTreeMap<&Key, BTreeSet<Position>> = BTreeMap::new();
    let mut had: BTreeMap<(&Kitchen, &Key, Position), (u32, f64)> = BTreeMap::new();
    for failure in failures {
        positions.entry(&failure.model).or_default().insert(failure.position);
        let (n, days) = had.entry((&failure.kitchen, &failure.model, failure.position)).or_default();
        (*n, *days) = (*n + 1, *days + failure.days_failed.max(0.0));
    }
    let mut watched: BTreeMap<(&Kitchen, &Key), f64> = BTreeMap::new();
    for time in times {
        *watched.entry((&time.kitchen, &time.model)).or_default() += time.days;
    }
    let mut exposures = Vec::new();
    for ((kitchen, model), days) in watched {
        for position in positions.get(model).into_iter().flatten().copied() {
            let (n, failed) = had.get(&(kitchen, model, position)).copied().unwrap_or_default();
            let told_apart = (family == Family::KitchenPosition).then_some(position);
            exposures.push(Exposure {
                kitchen: (kitchen.clone(), told_apart),
                stratum: (model.clone(), position),
                time: (days - failed).max(0.0),
                failures: n,
            });
        }
    }
    Ok(exposures)
}

fn standings<Kitchen: Ord>(
    cells: BTreeMap<CellOf<Kitchen>, Cell>,
) -> Result<BTreeMap<CellOf<Kitchen>, Standing>, RepeatsError> {
    let standing = |(of, cell): (CellOf<Kitchen>, Cell)| {
        // Where nobody else ever failed, nothing is expected, and any count would be impossible and not rare.
        let tail = (cell.expected > 0.0).then(|| poisson_tail(cell.n, cell.expected)).transpose()?;
        let says = match tail {
            None if cell.n == 0 && cell.n_without_fleet > 0 => AgainstChance::NoFleet,
            Some(tail) if tail <= BEYOND_CHANCE => AgainstChance::Beyond,
            Some(_) if cell.expected >= LEAST_EXPECTED => AgainstChance::Within,
            _ => AgainstChance::TooLittleToTell,
        };
        Ok((of, Standing { cell, says, tail, assessment: None, q: None }))
    };
    cells.into_iter().map(standing).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn model(name: &str) -> Key {
        Key::new(name).unwrap()
    }

    fn time(kitchen: u32, name: &str, days: f64) -> MachineTime<u32> {
        MachineTime { kitchen, model: model(name), days }
    }

    fn failure(kitchen: u32, name: &str, position: &str) -> Failure<u32> {
        Failure { kitchen, model: model(name), position: position.parse().unwrap(), days_failed: 0.0 }
    }

    #[test]
    fn a_kitchen_expects_what_the_others_had_for_each_of_its_models() {
        let times = [
            time(1, "oven", 100.0),
            time(2, "oven", 300.0),
            time(1, "washer", 50.0),
            time(2, "washer", 100.0),
        ];
        let mut failures = vec![failure(1, "oven", "fill_valve"); 4];
        failures.extend(vec![failure(2, "oven", "fill_valve"); 3]);
        failures.push(failure(2, "washer", "wash_pump"));
        let whole = against_each_other(Family::Kitchen, &times, &failures).unwrap();
        let first = &whole.cells[&(1, None)];
        assert_eq!(first.cell.n, 4);
        assert!((first.cell.expected - (100.0 * 3.0 / 300.0 + 50.0 / 100.0)).abs() < 1e-12);
        let apart = against_each_other(Family::KitchenPosition, &times, &failures).unwrap();
        let valve = apart.cells[&(1, Some(Position::FillValve))].cell;
        assert!(valve.n == 4 && (valve.expected - 1.0).abs() < 1e-12);
        let pump = apart.cells[&(1, Some(Position::WashPump))].cell;
        assert!(pump.n == 0 && (pump.expected - 0.5).abs() < 1e-12);
    }

    #[test]
    fn time_in_which_a_position_had_failed_is_not_waited_in() {
        let times = [time(1, "oven", 100.0), time(2, "oven", 100.0)];
        let mut failures = vec![failure(1, "oven", "fill_valve"), failure(2, "oven", "fill_valve")];
        failures[0].days_failed = 50.0;
        let fleet = against_each_other(Family::Kitchen, &times, &failures).unwrap();
        assert!((fleet.cells[&(1, None)].cell.expected - 0.5).abs() < 1e-12);
    }

    #[test]
    fn small_counts_are_not_dressed_up_and_a_kitchen_alone_is_compared_with_nobody() {
        let times = [time(1, "oven", 10.0), time(2, "oven", 100.0), time(3, "steamer", 100.0)];
        let failures = [
            failure(1, "oven", "fill_valve"),
            failure(2, "oven", "fill_valve"),
            failure(3, "steamer", "heater"),
        ];
        let fleet = against_each_other(Family::Kitchen, &times, &failures).unwrap();
        assert_eq!(fleet.cells[&(1, None)].says, AgainstChance::TooLittleToTell);
        assert_eq!(fleet.cells[&(3, None)].says, AgainstChance::NoFleet);
        assert_eq!((fleet.cells[&(3, None)].cell.n_without_fleet, fleet.cells[&(3, None)].tail), (1, None));
        let alone = [failure(1, "oven", "heater")];
        let fleet = against_each_other(Family::Kitchen, &times, &alone).unwrap();
        let says = (fleet.cells[&(1, None)].says, fleet.cells[&(1, None)].tail);
        assert_eq!(says, (AgainstChance::TooLittleToTell, None), "nobody else ever failed");
        let nothing = against_each_other::<u32>(Family::Kitchen, &[], &[]).unwrap();
        assert!(nothing.cells.is_empty() && nothing.listed.is_empty() && nothing.prior.is_none());
    }

    #[test]
    fn who_fails_three_times_as_often_is_listed_and_the_others_are_not() {
        let times: Vec<_> = (0..60).map(|kitchen| time(kitchen, "oven", 365.0)).collect();
        // Four a kitchen and year, give or take; twelve or more in kitchen 7.
        let counts = (0..60_u32).map(|kitchen| if kitchen == 7 { 14 } else { 3 + kitchen % 3 });
        let failures: Vec<_> = counts
            .enumerate()
            .flat_map(|(kitchen, n)| vec![failure(kitchen as u32, "oven", "wash_pump"); n as usize])
            .collect();
        let fleet = against_each_other(Family::Kitchen, &times, &failures).unwrap();
        assert_eq!((fleet.listed.as_slice(), fleet.considered), (&[(7, None)][..], 60));
        let worst = &fleet.cells[&(7, None)];
        assert!(worst.q.unwrap() < 0.05 && worst.assessment.unwrap().lower > 1.0);
    }

    #[test]
    fn a_time_that_is_no_number_is_an_error() {
        let times = [time(1, "oven", f64::NAN), time(2, "oven", 1.0)];
        assert!(against_each_other(Family::Kitchen, &times, &[failure(1, "oven", "heater")]).is_err());
        assert!(against_each_other(Family::Kitchen, &[time(1, "oven", -1.0)], &[]).is_err());
    }
}
