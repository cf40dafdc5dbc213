use std::f64::consts::PI;
use std::sync::LazyLock;

/// Nodes and weights of a Gauss–Legendre rule on [−1, 1].
#[derive(Debug, Clone)]
pub struct GaussLegendre {
    nodes: Vec<(f64, f64)>,
}

/// The rule of 64 points: exact for polynomials up to degree 127.
///
/// ```
/// let rule = domain::probability::gauss_legendre();
/// let integral: f64 = rule.on(0.0, 2.0).map(|(x, weight)| weight * x.exp()).sum();
/// assert!((integral - 2.0_f64.exp_m1()).abs() < 1e-14);
/// ```
pub fn gauss_legendre() -> &'static GaussLegendre {
    static RULE: LazyLock<GaussLegendre> = LazyLock::new(|| GaussLegendre::new(64));
    &RULE
}

impl GaussLegendre {
    /// A rule of `points` ≥ 1 points, by Newton's method on the Legendre polynomial (NIST Digital Library
    /// of Mathematical Functions 3.5.19).
    pub fn new(points: u32) -> Self {
        let n = f64::from(points);
        let nodes = (0..points)
            .map(|i| {
                let mut x = -(PI * (f64::from(i) + 0.75) / (n + 0.5)).cos();
                let mut slope = 1.0;
                for _ in 0..100 {
                    let (value, derivative) = legendre(points, x);
                    slope = derivative;
                    let step = value / derivative;
                    x -= step;
                    if step.abs() < 1e-16 {
                        break;
                    }
                }
                (x, 2.0 / ((1.0 - x * x) * slope * slope))
            })
            .collect();
        Self { nodes }
    }

    /// Nodes and weights on [from, to].
    pub fn on(&self, from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        let (half, middle) = (0.5 * (to - from), 0.5 * (to + from));
        self.nodes.iter().map(move |(x, weight)| (middle + half * x, half * weight))
    }
}

/// The Legendre polynomial of `degree` ≥ 1 and its derivative at |x| < 1.
fn legendre(degree: u32, x: f64) -> (f64, f64) {
    let (mut previous, mut value) = (1.0, x);
    for k in 2..=degree {
        let k = f64::from(k);
        (previous, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * previous) / k);
    }
    (value, f64::from(degree) * (x * value - previous) / (x * x - 1.0))
}
