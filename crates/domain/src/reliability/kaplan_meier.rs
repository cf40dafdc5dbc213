//! The share of parts that outlives each age, without any model of how they fail.

use serde::{Deserialize, Serialize};

use super::risk_sets::RiskSets;
use super::{Life, ReliabilityError, check_confidence};
use crate::probability::normal_quantile;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SurvivalCurve {
    pub steps: Vec<SurvivalStep>,
    pub n: u32,
    pub failures: u32,
    pub confidence: f64,
    /// The estimate is for parts that reached this age, because none was watched before it.
    pub given_age: f64,
    /// The age at which all parts then watched had failed while others entered later: from here on the
    /// curve is zero and says nothing, because early on too few were watched.
    pub collapsed_at: Option<f64>,
}

/// The curve just after one age at which parts failed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SurvivalStep {
    pub age: f64,
    pub at_risk: u32,
    pub failed: u32,
    pub survival: f64,
    /// Greenwood's.
    pub standard_error: f64,
    /// Limits on the log(−log) scale; none once the curve is at zero.
    pub lower: Option<f64>,
    pub upper: Option<f64>,
}

/// Kaplan and Meier's estimate of lives with an age at entry, at risk from after entry to exit, at
/// least one life.
///
/// S(t) = Π (1 − d/n); Greenwood's variance S² Σ d/(n(n − d)); limits S^exp(±z·σ/ln S), σ² = Σ d/(n(n − d)).
/// Source: Kaplan and Meier, 1958; Greenwood, 1926; Kalbfleisch and Prentice, The Statistical Analysis of
/// Failure Time Data; left truncation: Klein and Moeschberger, Survival Analysis, section 4.6.
///
/// ```
/// use domain::reliability::{kaplan_meier::kaplan_meier, Life};
/// let life = |exit, failed| Life { entry: 0.0, exit, failed };
/// let curve = kaplan_meier(&[life(6.0, true), life(6.0, false), life(9.0, true), life(11.0, false)], 0.95)?;
/// assert_eq!(curve.at(8.0), 0.75);
/// assert_eq!(curve.at(9.0), 0.375);
/// assert_eq!(curve.quantile(0.5), Some(9.0));
/// # Ok::<(), domain::reliability::ReliabilityError>(())
/// ```
pub fn kaplan_meier(lives: &[Life], confidence: f64) -> Result<SurvivalCurve, ReliabilityError> {
    check_confidence(confidence)?;
    Life::check(lives)?;
    if lives.is_empty() {
        return Err(ReliabilityError::TooFew { what: "lives", needed: 1, actual: 0 });
    }
    let z = -normal_quantile(0.5 * (1.0 - confidence));
    let (mut survival, mut variance) = (1.0_f64, 0.0);
    let mut steps = Vec::new();
    let sets = RiskSets::of(lives);
    for age in sets.failure_ages() {
        let (at_risk, failed) = sets.at(age);
        let (n, d) = (f64::from(at_risk), f64::from(failed));
        survival *= 1.0 - d / n;
        if at_risk > failed {
            variance += d / (n * (n - d));
        }
        let width = z * variance.sqrt() / survival.ln();
        let band = survival > 0.0;
        steps.push(SurvivalStep {
            age,
            at_risk,
            failed,
            survival,
            standard_error: survival * variance.sqrt(),
            lower: band.then(|| survival.powf((-width).exp())),
            upper: band.then(|| survival.powf(width.exp())),
        });
        if !band {
            break;
        }
    }
    let oldest = lives.iter().map(|life| life.exit).fold(0.0, f64::max);
    let last = steps.last().filter(|step| step.survival <= 0.0 && step.age < oldest);
    Ok(SurvivalCurve {
        n: lives.len() as u32,
        failures: lives.iter().filter(|life| life.failed).count() as u32,
        confidence,
        given_age: lives.iter().map(|life| life.entry).fold(f64::INFINITY, f64::min),
        collapsed_at: last.map(|step| step.age),
        steps,
    })
}

impl SurvivalCurve {
    /// The share that outlives an age, up to the oldest life seen.
    pub fn at(&self, age: f64) -> f64 {
        self.steps.iter().take_while(|step| step.age <= age).last().map_or(1.0, |step| step.survival)
    }

    /// The age by which a share `p` has failed: the first with S ≤ 1 − p; none if it was not reached.
    pub fn quantile(&self, p: f64) -> Option<f64> {
        // A product of exact fractions may end a rounding above the share that it stands for.
        self.steps.iter().find(|step| step.survival <= 1.0 - p + 1e-12).map(|step| step.age)
    }

    /// Limits of [`Self::quantile`]: the ages at which the limits of the curve reach the share; none where they do
    /// not. Source: Brookmeyer and Crowley, 1982, with the limits on the log(−log) scale.
    pub fn quantile_limits(&self, p: f64) -> (Option<f64>, Option<f64>) {
        let reached = |limit: fn(&SurvivalStep) -> Option<f64>| {
            let share = 1.0 - p + 1e-12;
            self.steps.iter().find(|step| limit(step).is_some_and(|at| at <= share)).map(|step| step.age)
        };
        (reached(|step| step.lower), reached(|step| step.upper))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn life(entry: f64, exit: f64, failed: bool) -> Life {
        Life { entry, exit, failed }
    }

    #[test]
    fn late_entries_count_only_from_their_entry() {
        // At 5: two at risk (the third entered at 5, not before), at 8: two, at 9: one.
        let lives = [life(0.0, 5.0, true), life(0.0, 9.0, true), life(5.0, 8.0, true)];
        let curve = kaplan_meier(&lives, 0.95).unwrap();
        let steps: Vec<_> = curve.steps.iter().map(|s| (s.age, s.at_risk, s.failed, s.survival)).collect();
        assert_eq!(steps, [(5.0, 2, 1, 0.5), (8.0, 2, 1, 0.25), (9.0, 1, 1, 0.0)]);
        assert_eq!((curve.collapsed_at, curve.given_age), (None, 0.0));
    }

    #[test]
    fn a_curve_that_collapses_early_says_so() {
        let lives = [life(0.0, 2.0, true), life(3.0, 9.0, true), life(3.0, 8.0, false)];
        assert_eq!(kaplan_meier(&lives, 0.95).unwrap().collapsed_at, Some(2.0));
    }

    #[test]
    fn bad_lives_are_errors() {
        for (entry, exit) in [(5.0, 5.0), (-1.0, 2.0), (0.0, f64::NAN), (0.0, f64::INFINITY)] {
            let result = kaplan_meier(&[life(entry, exit, true)], 0.95);
            assert!(matches!(result, Err(ReliabilityError::Life { index: 0, .. })), "{entry} to {exit}");
        }
        assert!(kaplan_meier(&[], 0.95).is_err() && kaplan_meier(&[life(0.0, 1.0, true)], 2.0).is_err());
    }

    #[test]
    fn without_failures_the_curve_stays_at_one() {
        let curve = kaplan_meier(&[life(0.0, 7.0, false)], 0.95).unwrap();
        assert_eq!((curve.at(6.0), curve.quantile(0.5), curve.failures), (1.0, None, 0));
    }
}
