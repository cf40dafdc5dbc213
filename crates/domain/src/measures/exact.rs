//! Exact limits of a share and exact tests of two shares and of two rates.

use statrs::function::beta::beta_reg;

use super::MeasureError;
use crate::repeats::rate::garwood;

/// A figure with the limits that hold it with the confidence that was asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    pub lower: f64,
    pub upper: f64,
}

pub(super) fn check_confidence(confidence: f64) -> Result<(), MeasureError> {
    if (0.5..=0.9999).contains(&confidence) {
        return Ok(());
    }
    Err(MeasureError::Parameter { name: "confidence", allowed: "from 0.5 to 0.9999", actual: confidence })
}

fn check_part(part: u32, of: u32) -> Result<(), MeasureError> {
    if part <= of {
        return Ok(());
    }
    Err(MeasureError::Parameter { name: "the part", allowed: "at most the whole", actual: part.into() })
}

/// Exact limits of a share of which `part` of `whole` were seen; none where the whole is nothing.
///
/// Both tails hold (1 − confidence)/2 or less: the quantiles of Beta(x, n − x + 1) and Beta(x + 1, n − x).
/// Source: Clopper and Pearson, Biometrika 26, 1934.
///
/// ```
/// let limits = domain::measures::clopper_pearson(0, 10, 0.95)?.unwrap();
/// // No success in ten: 1 − 0.025^(1/10).
/// assert_eq!(limits.lower, 0.0);
/// assert!((limits.upper - (1.0 - 0.025_f64.powf(0.1))).abs() < 1e-12);
/// # Ok::<(), domain::measures::MeasureError>(())
/// ```
pub fn clopper_pearson(part: u32, whole: u32, confidence: f64) -> Result<Option<Limits>, MeasureError> {
    check_confidence(confidence)?;
    check_part(part, whole)?;
    if whole == 0 {
        return Ok(None);
    }
    let tail = 0.5 * (1.0 - confidence);
    let (x, n) = (f64::from(part), f64::from(whole));
    let lower = if part == 0 { 0.0 } else { share_at(|share| beta_reg(x, n - x + 1.0, share) >= tail) };
    let upper =
        if part == whole { 1.0 } else { share_at(|share| beta_reg(x + 1.0, n - x, share) >= 1.0 - tail) };
    Ok(Some(Limits { lower, upper }))
}

/// The smallest share for which what rises with it holds, by halving as far as a number tells apart.
fn share_at(holds: impl Fn(f64) -> bool) -> f64 {
    let (mut below, mut above) = (0.0_f64, 1.0_f64);
    for _ in 0..200 {
        let middle = 0.5 * (below + above);
        if middle <= below || middle >= above {
            break;
        }
        if holds(middle) { above = middle } else { below = middle }
    }
    above
}

/// P(X ≤ k) of a binomial count of `n` at `p`.
pub(super) fn binomial_at_most(k: u32, n: u32, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    beta_reg(f64::from(n - k), f64::from(k) + 1.0, 1.0 - p)
}

/// How unlikely two shares differ so much, or more, if they are one (two-sided).
///
/// Fisher's exact test: given both wholes and the sum of the parts, the first part is hypergeometric; the
/// probabilities of all that are no likelier than what was seen are summed. Another two-sided rule doubles the
/// smaller tail and gives another value. Source: R. A. Fisher, Statistical Methods for Research Workers, section 21.02.
/// None where one of the wholes is nothing.
pub fn fisher(first: (u32, u32), second: (u32, u32)) -> Result<Option<f64>, MeasureError> {
    check_part(first.0, first.1)?;
    check_part(second.0, second.1)?;
    if first.1 == 0 || second.1 == 0 {
        return Ok(None);
    }
    let (n, m) = (i64::from(first.1), i64::from(second.1));
    let parts = i64::from(first.0) + i64::from(second.0);
    let smallest = (parts - m).max(0);
    let largest = parts.min(n);
    // Each probability from the one before it: P(k+1)/P(k) = (n−k)(parts−k) / ((k+1)(m−parts+k+1)).
    let ratio = |k: i64| {
        ((n - k) as f64 * (parts - k) as f64).ln() - ((k + 1) as f64 * (m - parts + k + 1) as f64).ln()
    };
    Ok(Some(no_likelier(smallest, largest, first.0.into(), ratio)))
}

/// How unlikely two Poisson counts, over the exposures beside them, differ so much, or more, if their rates are one
/// (two-sided).
///
/// Given their sum the first count is binomial with p = t₁/(t₁ + t₂); the probabilities of all that are no likelier
/// than what was seen are summed. Source: Przyborowski and Wilenski, Biometrika 31, 1940. None without exposure.
pub fn two_rates(first: (u32, f64), second: (u32, f64)) -> Result<Option<f64>, MeasureError> {
    for actual in [first.1, second.1] {
        if !(actual.is_finite() && actual >= 0.0) {
            let (name, allowed) = ("an exposure", "a finite number from zero");
            return Err(MeasureError::Parameter { name, allowed, actual });
        }
    }
    if first.1 <= 0.0 || second.1 <= 0.0 {
        return Ok(None);
    }
    let sum = i64::from(first.0) + i64::from(second.0);
    let odds = (first.1 / second.1).ln();
    let ratio = |k: i64| ((sum - k) as f64 / (k + 1) as f64).ln() + odds;
    Ok(Some(no_likelier(0, sum, first.0.into(), ratio)))
}

/// Rounding must not part two that are equally likely (as usual: R's exact tests).
const AS_LIKELY: f64 = 1e-7;

/// The share of the probability that is no likelier than at `seen`; `ratio` is ln P(k+1)/P(k).
fn no_likelier(smallest: i64, largest: i64, seen: i64, ratio: impl Fn(i64) -> f64) -> f64 {
    let mut logs = Vec::with_capacity(usize::try_from(largest - smallest + 1).unwrap_or(1));
    let (mut log, mut most) = (0.0_f64, 0.0_f64);
    logs.push(log);
    for k in smallest..largest {
        log += ratio(k);
        most = most.max(log);
        logs.push(log);
    }
    let of_seen = usize::try_from(seen - smallest).ok().and_then(|at| logs.get(at)).copied().unwrap_or(most);
    let (mut all, mut rare) = (0.0, 0.0);
    for log in logs {
        let weight = (log - most).exp();
        all += weight;
        if log <= of_seen + AS_LIKELY {
            rare += weight;
        }
    }
    (rare / all).min(1.0)
}

/// Exact limits of a count over an exposure.
///
/// Source: Garwood, Biometrika 28, 1936. None without exposure.
pub fn rate_limits(count: u32, exposure: u32, confidence: f64) -> Result<Option<Limits>, MeasureError> {
    check_confidence(confidence)?;
    let limits = garwood(count, confidence)?;
    let over = f64::from(exposure);
    Ok((exposure > 0).then(|| Limits { lower: limits.lower / over, upper: limits.upper / over }))
}
