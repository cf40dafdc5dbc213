//! All that the lives of one group of parts say.

use super::age_replacement::{AgeReplacement, ExchangeCosts, NoReplacement, age_replacement};
use super::kaplan_meier::{SurvivalCurve, kaplan_meier};
use super::log_rank::{LogRank, log_rank};
use super::mean_time::{Ended, MeanTime, mean_time_between_failures};
use super::weibull::{Weibull, weibull};
use super::{Life, ReliabilityError};

/// What is said of one group; what the data do not show is an error with its reason, never a nought.
#[derive(Debug, Clone, PartialEq)]
pub struct Study {
    pub n: u32,
    pub failures: u32,
    /// Time in service under our eyes, in the unit of the lives.
    pub total_time: f64,
    /// The oldest age seen.
    pub longest: f64,
    pub curve: SurvivalCurve,
    pub weibull: Result<Weibull, ReliabilityError>,
    /// Valid only where failures come by chance, at a constant rate.
    pub mean_time: Result<MeanTime, ReliabilityError>,
    /// None where no costs were given or no law was found.
    pub replacement: Option<Result<AgeReplacement, NoReplacement>>,
    /// Against all other groups together; none where there is no other, or nothing failed while both were watched.
    pub against_others: Option<LogRank>,
}

/// Each group's study, in the order given; one without a life has none. Errors: lives, confidence or costs out of range.
pub fn study(
    groups: &[Vec<Life>],
    confidence: f64,
    costs: Option<ExchangeCosts>,
) -> Result<Vec<Option<Study>>, ReliabilityError> {
    costs.map_or(Ok(()), ExchangeCosts::check)?;
    let of = |(index, lives): (usize, &Vec<Life>)| {
        if lives.is_empty() {
            return Ok(None);
        }
        let curve = kaplan_meier(lives, confidence)?;
        let total_time = lives.iter().map(|life| life.exit - life.entry).sum();
        let law = weibull(lives, confidence);
        let replacement = match (&law, costs) {
            (Ok(law), Some(costs)) => Some(age_replacement(law, costs, lives)?),
            _ => None,
        };
        let others = groups.iter().enumerate().filter(|(other, _)| *other != index);
        let others: Vec<Life> = others.flat_map(|(_, lives)| lives.iter().copied()).collect();
        Ok(Some(Study {
            n: curve.n,
            failures: curve.failures,
            total_time,
            longest: lives.iter().map(|life| life.exit).fold(0.0, f64::max),
            mean_time: mean_time_between_failures(total_time, curve.failures, confidence, Ended::Time),
            against_others: log_rank(lives, &others).ok(),
            weibull: law,
            replacement,
            curve,
        }))
    };
    groups.iter().enumerate().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn life(exit: f64, failed: bool) -> Life {
        Life { entry: 0.0, exit, failed }
    }

    #[test]
    fn what_does_not_exist_is_said_and_is_no_nought() {
        let costs = Some(ExchangeCosts { planned: 100.0, unplanned: 400.0 });
        let one_day = vec![life(30.0, true); 5];
        let none_failed = vec![life(30.0, false), life(90.0, false)];
        let groups = [one_day, none_failed, Vec::new()];
        let studies = study(&groups, 0.95, costs).unwrap();
        let same = studies[0].as_ref().unwrap();
        assert_eq!(same.weibull, Err(ReliabilityError::NoShape));
        assert_eq!((same.replacement, same.curve.quantile(0.5)), (None, Some(30.0)));
        let none = studies[1].as_ref().unwrap();
        let limits = none.mean_time.as_ref().unwrap();
        assert_eq!((limits.estimate, limits.upper), (None, None));
        // T/2.996, the lower limit without a failure.
        assert!((limits.lower - 120.0 / 2.995732273553991).abs() < 1e-9, "{limits:?}");
        assert!(matches!(none.weibull, Err(ReliabilityError::TooFew { actual: 0, .. })));
        assert!(studies[2].is_none());
        let alone = study(&groups[..1], 0.95, None).unwrap();
        assert!(alone[0].as_ref().unwrap().against_others.is_none());
        let no_money = Some(ExchangeCosts { planned: 0.0, unplanned: 4.0 });
        assert!(study(&groups, 0.95, no_money).is_err() && study(&groups, 1.0, costs).is_err());
    }
}
