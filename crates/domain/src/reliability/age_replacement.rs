//! When to replace a part before it fails: at the age that costs least per time.

use serde::{Deserialize, Serialize};

use super::weibull::Weibull;
use super::{Life, ReliabilityError};
use crate::probability::increasing_root;

/// What one exchange costs in all, part, work, way and what the kitchen loses; both in one currency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ExchangeCosts {
    /// On a visit that was planned.
    pub planned: f64,
    /// After it failed.
    pub unplanned: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AgeReplacement {
    /// Replaced at this age if it lives so long, in the unit of the lives.
    pub age: f64,
    /// Cost per unit of time of doing so.
    pub cost: f64,
    /// Cost per unit of time of waiting for each failure.
    pub cost_of_waiting: f64,
    /// The share of the cost of waiting that is saved.
    pub saving: f64,
    /// No life was seen to this age: the law is trusted beyond what was seen.
    pub is_beyond_seen: bool,
}

/// Why no age is better than waiting for the failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NoReplacement {
    /// The lower limit of the shape is not above one: a new part may fail as soon as an old one.
    NotShownToWear,
    /// A failure costs no more than a planned exchange.
    FailureNotDearer,
    /// The best age lies where hardly one part in a thousand million still lives.
    NothingToGain,
}

impl ExchangeCosts {
    pub fn check(self) -> Result<(), ReliabilityError> {
        for (name, actual) in
            [("the planned exchange's cost", self.planned), ("the failure's cost", self.unplanned)]
        {
            if !(actual.is_finite() && actual > 0.0) {
                let allowed = "a finite number above zero";
                return Err(ReliabilityError::Parameter { name, allowed, actual });
            }
        }
        Ok(())
    }
}

/// The age T that makes the cost per time, (p·S(T) + u·F(T))/∫₀ᵀ S, least: with the hazard h,
/// h(T)·∫₀ᵀ S − F(T) = p/(u − p), whose left side rises where parts wear. Errors: costs that are not above zero.
///
/// Source: Barlow and Proschan, Mathematical Theory of Reliability, 1965, section 4.2; Jardine and Tsang,
/// Maintenance, Replacement, and Reliability, section 2.5.
pub fn age_replacement(
    law: &Weibull,
    costs: ExchangeCosts,
    lives: &[Life],
) -> Result<Result<AgeReplacement, NoReplacement>, ReliabilityError> {
    /// −ln of the share that lives on where there is nothing to gain any more.
    const HARDLY_ANY: f64 = 20.7;
    costs.check()?;
    if law.shape_lower <= 1.0 {
        return Ok(Err(NoReplacement::NotShownToWear));
    }
    if costs.unplanned <= costs.planned {
        return Ok(Err(NoReplacement::FailureNotDearer));
    }
    let against = costs.planned / (costs.unplanned - costs.planned);
    // Both by the logarithm of T/η.
    let gain = |log: f64| {
        let age = law.scale * log.exp();
        let hazard = law.shape / age * (law.shape * log).exp();
        let worn = hazard * law.mean_until(age);
        (worn - (1.0 - law.survival(age)) - against, (law.shape - 1.0) * worn)
    };
    let last = HARDLY_ANY.ln() / law.shape;
    if gain(last).0 <= 0.0 {
        return Ok(Err(NoReplacement::NothingToGain));
    }
    let age = law.scale * increasing_root(0.0_f64.min(last), 0.5, gain).exp();
    let failed = 1.0 - law.survival(age);
    let cost = (costs.planned * (1.0 - failed) + costs.unplanned * failed) / law.mean_until(age);
    let cost_of_waiting = costs.unplanned / law.mean();
    Ok(Ok(AgeReplacement {
        age,
        cost,
        cost_of_waiting,
        saving: 1.0 - cost / cost_of_waiting,
        is_beyond_seen: lives.iter().all(|life| life.exit < age),
    }))
}
