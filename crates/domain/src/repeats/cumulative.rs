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
    let mut ages: Vec<f64> = observed.iter().flat_map(|machine| machine.events.iter().copied()).collect();
    ages.sort_unstable_by(f64::total_cmp);
    ages.dedup();

    let mut mean = 0.0;
    let mut residuals = vec![0.0; observed.len()];
    let mut function = Vec::with_capacity(ages.len());
    for age in ages {
        let under = |machine: &Observed| machine.from < age && age <= machine.to;
        // The ages come from the events themselves, so that equal means the same reading.
        let at_age =
            |machine: &Observed| machine.events.iter().filter(|at| (**at - age).abs() <= 0.0).count();
        let at_risk = observed.iter().filter(|machine| under(machine)).count();
        let events: usize = observed.iter().map(at_age).sum();
        let step = events as f64 / at_risk as f64;
        mean += step;
        for (residual, machine) in residuals.iter_mut().zip(observed) {
            if under(machine) {
                *residual += (at_age(machine) as f64 - step) / at_risk as f64;
            }
        }
        let variance: f64 = residuals.iter().map(|residual| residual * residual).sum();
        let factor = (normal_quantile(0.975) * variance.sqrt() / mean).exp();
        let known = at_risk > 1;
        function.push(MeanCumulative {
            age,
            mean,
            lower: known.then_some(mean / factor),
            upper: known.then_some(mean * factor),
            at_risk: at_risk as u32,
            events: events as u32,
        });
    }
    Ok(function)
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
}
