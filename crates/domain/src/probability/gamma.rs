use super::normal_quantile;
use super::root::increasing_root;

/// Both tails of a distribution at a point, each with its own relative accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tails {
    /// P(X ≤ x).
    pub lower: f64,
    /// P(X > x).
    pub upper: f64,
}

/// Tails of the gamma distribution of shape `a` > 0 and rate 1 at `x`: the regularised incomplete
/// gamma functions P(a, x) and Q(a, x), to about 1e-14 of each for any shape.
///
/// Power series below the mean, Lentz's continued fraction above (NIST Digital Library of Mathematical
/// Functions 8.11.4 and 8.9.2), each times the density in saddle-point form, which does not cancel at large a.
///
/// ```
/// let tails = domain::probability::gamma_tails(3.0, 2.0);
/// // P(Poisson(2) ≤ 2) = 5 e⁻²
/// assert!((tails.upper - 5.0 * (-2.0_f64).exp()).abs() < 1e-15);
/// ```
pub fn gamma_tails(a: f64, x: f64) -> Tails {
    if x <= 0.0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    if x.is_infinite() {
        return Tails { lower: 1.0, upper: 0.0 };
    }
    let density = gamma_density(a, x);
    if x < a + 1.0 {
        let lower = (density * x / a * series(a, x)).min(1.0);
        Tails { lower, upper: 1.0 - lower }
    } else {
        let upper = (density * x * continued_fraction(a, x)).min(1.0);
        Tails { lower: 1.0 - upper, upper }
    }
}

/// Density of the gamma distribution of shape `a` > 0 and rate 1 at `x` > 0: x^(a−1) e^(−x) / Γ(a).
///
/// Saddle-point form (C. Loader, Fast and accurate computation of binomial probabilities, 2000).
pub fn gamma_density(a: f64, x: f64) -> f64 {
    // x^a e^-x / Γ(a+1) is the Poisson probability of a at mean x; the density is a/x of it.
    let poisson = (-stirling_error(a) - deviance(a, x)).exp() / (std::f64::consts::TAU * a).sqrt();
    poisson * a / x
}

/// P(N ≤ n − 1) and P(N ≥ n) for a Poisson count of mean `mean`: the exact tails of an observed `n`.
///
/// ```
/// // Three events where one was expected: P(N ≥ 3) = 1 − 2.5/e
/// let at_least = domain::probability::poisson_tails(3, 1.0).upper;
/// assert!((at_least - (1.0 - 2.5 * (-1.0_f64).exp())).abs() < 1e-15);
/// ```
pub fn poisson_tails(n: u64, mean: f64) -> Tails {
    if n == 0 {
        return Tails { lower: 0.0, upper: 1.0 };
    }
    let tails = gamma_tails(n as f64, mean);
    Tails { lower: tails.upper, upper: tails.lower }
}

/// The x at which the gamma distribution of shape `a` > 0 and rate 1 reaches probability `p`;
/// 0 for p = 0, infinite for p = 1.
pub fn gamma_quantile(a: f64, p: f64) -> f64 {
    if p <= 0.0 {
        return 0.0;
    }
    if p >= 1.0 {
        return f64::INFINITY;
    }
    // Wilson and Hilferty's cube as a start, or the leading term of the lower tail where that fails.
    let cube = 1.0 - 1.0 / (9.0 * a) + normal_quantile(p) / (3.0 * a.sqrt());
    let leading = ((p.ln() + libm::lgamma(a + 1.0)) / a).exp();
    let start = if cube > 0.2 { a * cube.powi(3) } else { leading.max(f64::MIN_POSITIVE) };
    // In ln x the distribution function rises at every shape, and x keeps its relative accuracy.
    let log = increasing_root(start.ln(), 0.5, |log| {
        let x = log.exp();
        let tails = gamma_tails(a, x);
        let excess = if p < 0.5 { tails.lower - p } else { (1.0 - p) - tails.upper };
        (excess, gamma_density(a, x) * x)
    });
    log.exp()
}

/// Quantile of χ² with `degrees` > 0 degrees of freedom.
///
/// ```
/// assert!((domain::probability::chi_squared_quantile(2.0, 0.95) - 5.991464547107979).abs() < 1e-12);
/// ```
pub fn chi_squared_quantile(degrees: f64, p: f64) -> f64 {
    2.0 * gamma_quantile(0.5 * degrees, p)
}

/// Σ xᵏ / ((a+1)…(a+k)).
fn series(a: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut denominator) = (1.0, 1.0, a);
    loop {
        denominator += 1.0;
        term *= x / denominator;
        sum += term;
        if term <= sum * f64::EPSILON * 0.5 {
            return sum;
        }
    }
}

/// Γ(a, x) / (x^a e^(−x)) by the modified Lentz method, x ≥ a + 1.
fn continued_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = f64::INFINITY;
    let mut d = 1.0 / b;
    let mut value = d;
    for i in 1..1_000_000_u32 {
        let i = f64::from(i);
        let numerator = -i * (i - a);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        let factor = c * d;
        value *= factor;
        if (factor - 1.0).abs() <= f64::EPSILON {
            break;
        }
    }
    value
}

/// ln Γ(a+1) − Stirling's formula.
fn stirling_error(a: f64) -> f64 {
    if a < 16.0 {
        return libm::lgamma(a + 1.0) - (a + 0.5) * a.ln() + a - 0.5 * std::f64::consts::TAU.ln();
    }
    let square = a * a;
    (1.0 / 12.0
        - (1.0 / 360.0 - (1.0 / 1260.0 - (1.0 / 1680.0 - 1.0 / (1188.0 * square)) / square) / square)
            / square)
        / a
}

/// a ln(a/x) + x − a without cancellation near x = a.
fn deviance(a: f64, x: f64) -> f64 {
    let difference = a - x;
    if difference.abs() >= 0.1 * (a + x) {
        return a * (a / x).ln() + x - a;
    }
    let v = difference / (a + x);
    let mut sum = difference * v;
    let mut term = 2.0 * a * v;
    for j in 1..1000 {
        term *= v * v;
        let part = term / f64::from(2 * j + 1);
        sum += part;
        if part.abs() <= sum.abs() * f64::EPSILON * 0.1 {
            break;
        }
    }
    sum
}
