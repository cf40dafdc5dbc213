//! The half and the nine tenths of durations of which some have not ended yet.

use super::MeasureError;
use super::exact::{binomial_at_most, check_confidence};
use crate::reliability::Life;
use crate::reliability::kaplan_meier::{SurvivalCurve, kaplan_meier};
use crate::reliability::log_rank::log_rank;

/// A duration in hours; one that has not ended has lasted so long.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Duration {
    pub hours: f64,
    pub ended: bool,
}

/// Durations of one kind, as far as they can be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub n: u32,
    /// Not ended yet.
    pub open: u32,
    pub median: Option<Quantile>,
    pub nine_tenths: Option<Quantile>,
}

/// The duration within which a share has ended. A limit that the durations do not reach is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantile {
    pub hours: f64,
    pub lower: Option<f64>,
    pub upper: Option<f64>,
}

/// What happened at one moment has lasted so long: a life has to have a length.
const SHORTEST_HOURS: f64 = 1e-6;

fn lives(durations: &[Duration]) -> Result<Vec<Life>, MeasureError> {
    if let Some(wrong) =
        durations.iter().find(|duration| !(duration.hours.is_finite() && duration.hours >= 0.0))
    {
        let (name, allowed) = ("a duration", "a finite number of hours from zero");
        return Err(MeasureError::Parameter { name, allowed, actual: wrong.hours });
    }
    let life = |duration: &Duration| Life {
        entry: 0.0,
        exit: duration.hours.max(SHORTEST_HOURS),
        failed: duration.ended,
    };
    Ok(durations.iter().map(life).collect())
}

/// Median and nine tenths. What has not ended yet counts as having lasted longer than it has so far (Kaplan and Meier).
///
/// Limits: where all have ended, the order statistics that hold the quantile whatever the law of the durations (exact;
/// Conover, Practical Nonparametric Statistics, section 3.2); else where the limits of the curve on the log(−log) scale
/// reach the share (Brookmeyer and Crowley, Biometrics 38, 1982).
///
/// ```
/// use domain::measures::{Duration, spread};
/// let hours: Vec<_> = (1..=10).map(|hours| Duration { hours: f64::from(hours), ended: true }).collect();
/// let median = spread(&hours, 0.95)?.median.unwrap();
/// // Of ten values the second and the ninth hold the median with 97.9 %.
/// assert_eq!((median.hours, median.lower, median.upper), (5.0, Some(2.0), Some(9.0)));
/// # Ok::<(), domain::measures::MeasureError>(())
/// ```
pub fn spread(durations: &[Duration], confidence: f64) -> Result<Spread, MeasureError> {
    check_confidence(confidence)?;
    let lives = lives(durations)?;
    let mut spread = Spread {
        n: count(durations.len()),
        open: count(durations.iter().filter(|duration| !duration.ended).count()),
        median: None,
        nine_tenths: None,
    };
    if lives.is_empty() {
        return Ok(spread);
    }
    let curve = kaplan_meier(&lives, confidence)?;
    let mut sorted: Vec<f64> = lives.iter().map(|life| life.exit).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let quantile = |share: f64| {
        let hours = curve.quantile(share)?;
        let limits =
            if spread.open == 0 { of_order(&sorted, share, confidence) } else { of_curve(&curve, share) };
        Some(Quantile { hours, lower: limits.0, upper: limits.1 })
    };
    let (median, nine_tenths) = (quantile(0.5), quantile(0.9));
    (spread.median, spread.nine_tenths) = (median, nine_tenths);
    Ok(spread)
}

fn count(of: usize) -> u32 {
    u32::try_from(of).unwrap_or(u32::MAX)
}

/// x₍l₎ with the largest l for which P(B ≤ l − 1) ≤ α/2, x₍u₎ with the smallest u for which P(B ≤ u − 1) ≥ 1 − α/2.
fn of_order(sorted: &[f64], share: f64, confidence: f64) -> (Option<f64>, Option<f64>) {
    let tail = 0.5 * (1.0 - confidence);
    let n = count(sorted.len());
    let first_with = |least: f64| {
        let (mut below, mut above) = (0, n);
        while below < above {
            let middle = below + (above - below) / 2;
            if binomial_at_most(middle, n, share) >= least { above = middle } else { below = middle + 1 }
        }
        below
    };
    // The first k with P(B ≤ k) > α/2: l is k, for P(B ≤ k − 1) is not above.
    let lower = first_with(tail + f64::EPSILON);
    let upper = first_with(1.0 - tail) + 1;
    let value = |place: u32| sorted.get((place as usize).checked_sub(1)?).copied();
    (value(lower), (upper <= n).then(|| value(upper)).flatten())
}

fn of_curve(curve: &SurvivalCurve, share: f64) -> (Option<f64>, Option<f64>) {
    let left = 1.0 - share + 1e-12;
    let first = |limit: &dyn Fn(&crate::reliability::kaplan_meier::SurvivalStep) -> f64| {
        curve.steps.iter().find(|step| limit(step) <= left).map(|step| step.age)
    };
    // Once the curve is at zero it has no limits: the lower one is zero as well, the upper is not known.
    (first(&|step| step.lower.unwrap_or(0.0)), first(&|step| step.upper.unwrap_or(1.0)))
}

/// How unlikely two sets of durations differ so much if they are alike: the log-rank test (large samples, not exact).
/// None where nothing ended while both were watched.
pub fn differ(first: &[Duration], second: &[Duration]) -> Result<Option<f64>, MeasureError> {
    Ok(log_rank(&lives(first)?, &lives(second)?).ok().map(|test| test.p))
}
