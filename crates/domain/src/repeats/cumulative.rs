//! The mean number of failures that a machine has had by an age, without any model of how they come.

use serde::{Deserialize, Serialize};

use super::{Observed, RepeatsError};
use crate::probability::normal_quantile;

/// The mean cumulative function just after one age at which events happened.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct MeanCumulative {
    pub age: f64,
    pub mean: f64,
    /// 95 % limits; none where too few machines are left to say.
    pub lower: Option<f64>,
    pub upper: Option<f64>,
    /// Machines under observation at this age.
    pub at_risk: u32,
    pub events: u32,
}

/// The nonparametric mean cumulative function of machines observed from one age to another: at each
/// age with events it rises by events/machines under observation (from < age ≤ to).
///
/// Limits: robust variance of Lawless and Nadeau, which allows for machines that fail more often than
/// others, on the logarithmic scale. An event at the very age at which its observation begins cannot be
/// told from one before it and is an error. Source: W. Nelson, Recurrent Events Data Analysis, 2003;
/// Lawless and Nadeau, Technometrics, 1995.
pub fn mean_cumulative(observed: &[Observed]) -> Result<Vec<MeanCumulative>, RepeatsError> {
    Observed::check(observed)?;
    for (index, &Observed { from, to, ref events }) in observed.iter().enumerate() {
        if events.iter().any(|at| *at <= from) {
            return Err(RepeatsError::Outside { index, from, to, at: from });
        }
    }
    let mut events: Vec<(f64, usize)> = observed
        .iter()
        .enumerate()
        .flat_map(|(machine, seen)| seen.events.iter().map(move |at| (*at, machine)))
        .collect();
    events.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
    let mut entries: Vec<usize> = (0..observed.len()).collect();
    let mut exits = entries.clone();
    entries.sort_unstable_by(|one, other| observed[*one].from.total_cmp(&observed[*other].from));
    exits.sort_unstable_by(|one, other| observed[*one].to.total_cmp(&observed[*other].to));
    let (mut entries, mut exits) = (entries.into_iter().peekable(), exits.into_iter().peekable());

    let mut mean = 0.0;
    let mut residuals = Residuals::of(observed.len());
    let mut function = Vec::new();
    // The ages come from the events themselves, so that equal means the same reading.
    for at_age in events.chunk_by(|one, other| one.0.total_cmp(&other.0).is_eq()) {
        let age = at_age[0].0;
        while let Some(machine) = entries.next_if(|machine| observed[*machine].from < age) {
            residuals.enter(machine);
        }
        while let Some(machine) = exits.next_if(|machine| observed[*machine].to < age) {
            residuals.leave(machine);
        }
        let at_risk = residuals.watched;
        let step = at_age.len() as f64 / at_risk;
        mean += step;
        residuals.fall(step / at_risk);
        for (_, machine) in at_age {
            residuals.rise(*machine, at_risk.recip());
        }
        let factor = (normal_quantile(0.975) * residuals.squares.max(0.0).sqrt() / mean).exp();
        let known = at_risk > 1.0;
        function.push(MeanCumulative {
            age,
            mean,
            lower: known.then_some(mean / factor),
            upper: known.then_some(mean * factor),
            at_risk: at_risk as u32,
            events: at_age.len() as u32,
        });
    }
    Ok(function)
}

/// What each machine's events differ from the mean by, with the sum over those watched and the squares of all. All that
/// are watched fall together, so that a step costs no more for a large fleet.
struct Residuals {
    /// Each against what all had fallen by when it last changed.
    of: Vec<f64>,
    is_watched: Vec<bool>,
    watched: f64,
    fallen: f64,
    sum: f64,
    squares: f64,
}

impl Residuals {
    fn of(machines: usize) -> Self {
        let (of, is_watched) = (vec![0.0; machines], vec![false; machines]);
        Self { of, is_watched, watched: 0.0, fallen: 0.0, sum: 0.0, squares: 0.0 }
    }

    fn enter(&mut self, machine: usize) {
        self.is_watched[machine] = true;
        self.of[machine] = self.fallen;
        self.watched += 1.0;
    }

    /// Its residual stays in the squares as it is.
    fn leave(&mut self, machine: usize) {
        if std::mem::replace(&mut self.is_watched[machine], false) {
            self.watched -= 1.0;
            self.sum -= self.of[machine] - self.fallen;
        }
    }

    fn fall(&mut self, by: f64) {
        self.squares += self.watched * by * by - 2.0 * by * self.sum;
        self.sum -= self.watched * by;
        self.fallen += by;
    }

    fn rise(&mut self, machine: usize, by: f64) {
        self.squares += by * by + 2.0 * by * (self.of[machine] - self.fallen);
        self.sum += by;
        self.of[machine] += by;
    }
}

/// The mean number of events by an age, within the ages observed.
pub fn mean_at(function: &[MeanCumulative], age: f64) -> f64 {
    function.iter().take_while(|step| step.age <= age).last().map_or(0.0, |step| step.mean)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_machine_counts_only_while_it_is_watched() {
        let machine = |from, to, events: &[f64]| Observed { from, to, events: events.to_vec() };
        let watched = [machine(0.0, 10.0, &[2.0, 6.0]), machine(0.0, 4.0, &[]), machine(5.0, 10.0, &[6.0])];
        let function = mean_cumulative(&watched).unwrap();
        let steps: Vec<_> = function.iter().map(|s| (s.age, s.mean, s.at_risk, s.events)).collect();
        assert_eq!(steps, [(2.0, 0.5, 2, 1), (6.0, 1.5, 2, 2)]);
        assert_eq!(
            (mean_at(&function, 1.9), mean_at(&function, 2.0), mean_at(&function, 9.0)),
            (0.0, 0.5, 1.5)
        );
        assert!(mean_cumulative(&[machine(1.0, 2.0, &[1.0])]).is_err());
        assert!(mean_cumulative(&[]).unwrap().is_empty());
    }

    /// Lawless and Nadeau's variance by its definition, each machine's residual summed over its own ages.
    fn variance_by_definition(observed: &[Observed], until: f64) -> f64 {
        let mut ages: Vec<f64> = observed.iter().flat_map(|machine| machine.events.clone()).collect();
        ages.sort_unstable_by(f64::total_cmp);
        ages.dedup();
        let residual = |machine: &Observed| {
            let at = |age: &f64| {
                let under = |machine: &&Observed| machine.from < *age && *age <= machine.to;
                let had = |machine: &Observed| {
                    machine.events.iter().filter(|at| at.total_cmp(age).is_eq()).count() as f64
                };
                let at_risk = observed.iter().filter(under).count() as f64;
                let step = observed.iter().map(had).sum::<f64>() / at_risk;
                if under(&machine) { (had(machine) - step) / at_risk } else { 0.0 }
            };
            ages.iter().filter(|age| **age <= until).map(at).sum::<f64>()
        };
        observed.iter().map(|machine| residual(machine).powi(2)).sum()
    }

    #[test]
    fn limits_are_those_of_the_definition_whoever_enters_late_or_leaves() {
        let machine = |i: u32| {
            let (from, to) = (f64::from(i * 7 % 5), f64::from(20 + i * 11 % 30));
            let events = (1..=i % 4).map(|k| from + f64::from(k * (3 + i)) % (to - from) + 0.5);
            Observed { from, to, events: events.filter(|at| *at <= to).collect() }
        };
        let observed: Vec<Observed> = (0..25).map(machine).collect();
        for step in mean_cumulative(&observed).unwrap() {
            let Some(upper) = step.upper else { continue };
            let deviation = (upper / step.mean).ln() * step.mean / normal_quantile(0.975);
            let expected = variance_by_definition(&observed, step.age).sqrt();
            assert!((deviation - expected).abs() < 1e-9, "{step:?}, {expected}");
        }
    }
}
