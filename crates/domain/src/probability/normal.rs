use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2, TAU};

use statrs::function::beta::beta_reg;
use statrs::function::erf::erfc_inv;

/// Φ(z), accurate in relative terms in the lower tail.
pub fn normal_cumulative(z: f64) -> f64 {
    0.5 * libm::erfc(-z * FRAC_1_SQRT_2)
}

/// φ(z).
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / TAU.sqrt()
}

/// The z with Φ(z) = `p`, 0 < p < 1; for an upper tail give the small probability and change the sign.
pub fn normal_quantile(p: f64) -> f64 {
    let z = -SQRT_2 * erfc_inv(2.0 * p);
    // One step of Halley's method takes the library's value to the last bits.
    let error = (normal_cumulative(z) - p) / normal_density(z);
    if error.is_finite() { z - error / (1.0 + 0.5 * z * error) } else { z }
}

/// P(T ≤ t) for Student's t with `degrees` > 0 degrees of freedom, accurate in the lower tail.
pub fn student_cumulative(degrees: f64, t: f64) -> f64 {
    let square = t * t;
    let tail = if square > degrees {
        0.5 * beta_reg(0.5 * degrees, 0.5, degrees / (degrees + square))
    } else if t == 0.0 {
        0.5
    } else {
        0.5 - 0.5 * beta_reg(0.5, 0.5 * degrees, square / (degrees + square))
    };
    if t > 0.0 { 1.0 - tail } else { tail }
}

/// The standard normal deviate that stands at the same probability as `t` of Student's t.
pub fn student_to_normal(degrees: f64, t: f64) -> f64 {
    let below = student_cumulative(degrees, -t.abs()).max(f64::MIN_POSITIVE);
    normal_quantile(below).abs().copysign(t)
}
