//! Probability that the statistics of this crate share, where the general library is not accurate
//! enough or has nothing: tails and quantiles of the gamma, chi-squared and Poisson distributions
//! that keep their relative accuracy at large shape, quadrature, and safeguarded roots.
//!
//! Arguments are trusted to be finite and inside the stated ranges; each public computation that
//! takes data of people checks them before it comes here.

mod gamma;
mod normal;
mod quadrature;
mod root;

pub use gamma::{Tails, chi_squared_quantile, gamma_density, gamma_quantile, gamma_tails, poisson_tails};
pub use normal::{normal_cumulative, normal_density, normal_quantile, student_cumulative, student_to_normal};
pub use quadrature::{GaussLegendre, gauss_legendre};
pub use root::increasing_root;

#[cfg(test)]
mod tests {
    use super::*;

    fn close(actual: f64, expected: f64, relative: f64, what: &str) {
        assert!(
            ((actual - expected) / expected).abs() <= relative,
            "{what}: {actual:e}, expected {expected:e}"
        );
    }

    #[expect(clippy::excessive_precision, reason = "as computed, to 17 digits")]
    /// Computed to 40 digits with the arbitrary-precision library mpmath 1.3 (gammainc, regularised).
    #[test]
    fn gamma_tails_keep_both_relative_accuracies() {
        for (a, x, lower, upper) in [
            (0.3, 1e-5, 0.035235360615562572, 0.96476463938443743),
            (0.5, 0.1, 0.34527915398142298, 0.65472084601857702),
            (0.5, 3.0, 0.98569412156457036, 0.01430587843542964),
            (4.5, 2.0, 0.088587473168320829, 0.91141252683167917),
            (4.5, 30.0, 0.99999999865932195, 1.3406780483959613e-9),
            (100.0, 80.0, 0.017108313035133114, 0.98289168696486689),
            (100.0, 140.0, 0.99983894282528744, 0.00016105717471255586),
            (5000.0, 4900.0, 0.077944956226513914, 0.92205504377348609),
            (5000.0, 5200.0, 0.99741518650464619, 0.0025848134953538087),
            (50000.0, 50400.0, 0.96291764950465167, 0.037082350495348335),
        ] {
            let tails = gamma_tails(a, x);
            close(tails.lower, lower, 4e-14, &format!("P({a}, {x})"));
            close(tails.upper, upper, 4e-14, &format!("Q({a}, {x})"));
        }
        assert_eq!(gamma_tails(2.0, 0.0), Tails { lower: 0.0, upper: 1.0 });
        assert_eq!(gamma_tails(2.0, f64::INFINITY), Tails { lower: 1.0, upper: 0.0 });
    }

    /// Computed with scipy 1.17.1 (special.gammaincinv).
    #[test]
    fn gamma_quantiles_agree_with_a_reference_library() {
        for (a, p, quantile) in [
            (0.01, 0.5, 4.465535018910562e-31),
            (0.5, 0.025, 0.0004910345585876278),
            (3.0, 0.9, 5.322320337834211),
            (100.0, 0.01, 78.21598305379582),
            (5000.5, 0.999, 5221.876207906233),
        ] {
            close(gamma_quantile(a, p), quantile, 1e-12, &format!("shape {a}, p {p}"));
        }
        assert_eq!((gamma_quantile(2.0, 0.0), gamma_quantile(2.0, 1.0)), (0.0, f64::INFINITY));
    }

    /// Computed with scipy 1.17.1 (special.ndtri, stats.t).
    #[test]
    fn normal_and_student_agree_with_a_reference_library() {
        for (p, z) in [
            (1e-12, -7.034483825301131),
            (0.001, -3.090232306167813),
            (0.3, -0.5244005127080409),
            (0.975, 1.959963984540054),
            (0.99999, 4.264890793923841),
        ] {
            close(normal_quantile(p), z, 1e-14, &format!("quantile of {p}"));
        }
        for (degrees, t, p, z) in [
            (1.0, 0.5, 0.6475836176504333, 0.3788048780708129),
            (2.0, -3.0, 0.04773298313335456, -1.6672436508059163),
            (3.0, 40.0, 0.9999828096596054, 4.142322249147967),
            (7.0, 2.2, 0.9681344923486817, 1.8540569326188256),
            (30.0, -6.0, 6.971384383602382e-07, -4.825821011010258),
        ] {
            close(student_cumulative(degrees, t), p, 1e-12, &format!("t {t} of {degrees}"));
            close(student_to_normal(degrees, t), z, 1e-12, &format!("deviate of t {t} of {degrees}"));
        }
        assert!(student_to_normal(5.0, 0.0).abs() < 1e-15);
    }

    #[test]
    fn a_root_is_found_from_a_bad_start_and_across_a_flat_tail() {
        let cubic = |x: f64| (x.powi(3) - 8.0, 3.0 * x * x);
        close(increasing_root(-50.0, 0.1, cubic), 2.0, 1e-14, "cubic");
        let tail = |x: f64| (normal_cumulative(x) - 0.5, normal_density(x));
        assert!(increasing_root(30.0, 1.0, tail).abs() < 1e-12);
    }
}
