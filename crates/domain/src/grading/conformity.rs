use serde::{Deserialize, Serialize};

use crate::equipment::Bounds;
use crate::evidence::Censored;
use crate::probability::normal_cumulative;
use crate::quantity::Scale;

/// Certainty about a limit, in the words of ILAC-G8:09/2019, 4.2.3 (non-binary statement with a guard
/// band). Variants stand from good to bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Conformity {
    Pass,
    /// Inside the limit by less than the guard band.
    ConditionalPass,
    /// Outside the limit by less than the guard band.
    ConditionalFail,
    Fail,
    /// Nothing can be said, for a reason that stands beside it.
    Inconclusive,
}

impl Conformity {
    /// Whether the value lies inside the limit; none if nothing can be said.
    pub const fn is_inside(self) -> Option<bool> {
        match self {
            Self::Pass | Self::ConditionalPass => Some(true),
            Self::ConditionalFail | Self::Fail => Some(false),
            Self::Inconclusive => None,
        }
    }
}

/// Conformity of a value `y` with standard uncertainty `u` to limits, all in one unit, u > 0.
///
/// The guard band is w = U = 2u (ILAC-G8:09/2019, 4.2.3). Against an upper limit T: pass y ≤ T − w,
/// conditional pass up to T, conditional fail up to T + w, fail above; a lower limit is its mirror, and
/// the worse side counts. Where both limits lie closer than 2w the instrument is too coarse:
/// inconclusive. Open limits are inconclusive too, and so are those that are no numbers or are reversed.
///
/// ```
/// use domain::equipment::Bounds;
/// use domain::grading::{Conformity, conformity};
/// let limit = Bounds::at_most(20.0);
/// assert_eq!(conformity(12.71, 0.3, limit), Conformity::Pass);
/// assert_eq!(conformity(19.9, 0.3, limit), Conformity::ConditionalPass);
/// assert_eq!(conformity(20.4, 0.3, limit), Conformity::ConditionalFail);
/// assert_eq!(conformity(31.97, 0.3, limit), Conformity::Fail);
/// ```
pub fn conformity(y: f64, u: f64, limits: Bounds) -> Conformity {
    let guard_band = 2.0 * u;
    let usable = y.is_finite() && guard_band.is_finite() && u > 0.0;
    if !usable || limits.is_open() || !limits.are_sound() || is_too_coarse(u, limits) {
        return Conformity::Inconclusive;
    }
    // How far inside each limit, so that one rule serves both.
    let above_lower = limits.lower.map(|lower| y - lower);
    let below_upper = limits.upper.map(|upper| upper - y);
    let side = |margin: f64| {
        if margin >= guard_band {
            Conformity::Pass
        } else if margin >= 0.0 {
            Conformity::ConditionalPass
        } else if margin >= -guard_band {
            Conformity::ConditionalFail
        } else {
            Conformity::Fail
        }
    };
    let sides = [above_lower, below_upper].into_iter().flatten().map(side);
    sides.max().unwrap_or(Conformity::Inconclusive)
}

/// Whether both limits lie closer together than two guard bands.
pub(super) fn is_too_coarse(u: f64, limits: Bounds) -> bool {
    matches!((limits.lower, limits.upper), (Some(lower), Some(upper)) if upper - lower < 4.0 * u)
}

/// Conformity of a value of which only a bound is known (a time-out, a full bucket, the end of a
/// gauge): pass or fail where the bound settles it, else inconclusive. The value lies beyond the bound
/// by an unknown amount, so no guard band is added.
pub fn conformity_of_bound(bound: f64, censored: Censored, limits: Bounds) -> Conformity {
    if !bound.is_finite() || limits.is_open() || !limits.are_sound() {
        return Conformity::Inconclusive;
    }
    let (towards, away) = match censored {
        Censored::AtLeast => {
            (limits.upper.map(|upper| bound - upper), limits.lower.map(|lower| bound - lower))
        }
        Censored::AtMost => {
            (limits.lower.map(|lower| lower - bound), limits.upper.map(|upper| upper - bound))
        }
    };
    match (towards, away) {
        (Some(beyond), _) if beyond > 0.0 => Conformity::Fail,
        (None, Some(inside)) if inside >= 0.0 => Conformity::Pass,
        _ => Conformity::Inconclusive,
    }
}

/// Probability that the value lies inside the limits, given the reading and no knowledge from before
/// it (JCGM 106:2012, 7.2 to 7.4 [clauses from memory], normal density, flat prior):
/// `p = Φ((T_U − y)/u) − Φ((T_L − y)/u)`, a missing limit infinite. On the logarithmic scale y, T and u
/// become ln y, ln T and u/y. None where u is not greater than 0, y not on the logarithmic scale, or the limits
/// are no numbers or reversed.
pub fn probability_of_conformity(y: f64, u: f64, limits: Bounds, scale: Scale) -> Option<f64> {
    if !y.is_finite() || !u.is_finite() || u <= 0.0 || !limits.are_sound() {
        return None;
    }
    let (y, u, limits) = match scale {
        Scale::Linear => (y, u, limits),
        Scale::Logarithmic if y <= 0.0 => return None,
        Scale::Logarithmic => {
            let bounds = Bounds {
                lower: limits.lower.map(|t| t.max(0.0).ln()),
                upper: limits.upper.map(|t| t.max(0.0).ln()),
            };
            (y.ln(), u / y, bounds)
        }
    };
    let below_upper = limits.upper.map_or(1.0, |upper| normal_cumulative((upper - y) / u));
    let below_lower = limits.lower.map_or(0.0, |lower| normal_cumulative((lower - y) / u));
    Some((below_upper - below_lower).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_four_words_meet_at_their_borders() {
        let upper = Bounds::at_most(20.0);
        let lower = Bounds::at_least(20.0);
        for (margin, word) in [
            (0.5, Conformity::Pass),
            (0.499, Conformity::ConditionalPass),
            (0.0, Conformity::ConditionalPass),
            (-0.001, Conformity::ConditionalFail),
            (-0.5, Conformity::ConditionalFail),
            (-0.501, Conformity::Fail),
        ] {
            assert_eq!(conformity(20.0 - margin, 0.25, upper), word, "{margin}");
            assert_eq!(conformity(20.0 + margin, 0.25, lower), word, "{margin}");
        }
    }

    #[test]
    fn the_worse_side_counts_and_a_coarse_instrument_decides_nothing() {
        let both = Bounds::between(1.5, 6.0);
        assert_eq!(conformity(3.0, 0.1, both), Conformity::Pass);
        assert_eq!(conformity(5.9, 0.1, both), Conformity::ConditionalPass);
        assert_eq!(conformity(0.9, 0.1, both), Conformity::Fail);
        assert_eq!(conformity(3.0, 1.2, both), Conformity::Inconclusive);
        assert_eq!(conformity(0.1, 1.2, both), Conformity::Inconclusive);
        assert_eq!(conformity(3.0, 0.0, both), Conformity::Inconclusive);
        assert_eq!(conformity(3.0, 0.1, Bounds::default()), Conformity::Inconclusive);
        assert_eq!(conformity(f64::NAN, 0.1, both), Conformity::Inconclusive);
    }

    #[test]
    fn a_bound_settles_what_it_can() {
        let most = Bounds::at_most(20.0);
        let least = Bounds::at_least(60.0);
        let both = Bounds::between(2.0, 4.0);
        for (bound, censored, limits, word) in [
            (45.0, Censored::AtLeast, most, Conformity::Fail),
            (15.0, Censored::AtLeast, most, Conformity::Inconclusive),
            (15.0, Censored::AtMost, most, Conformity::Pass),
            (60.0, Censored::AtLeast, least, Conformity::Pass),
            (30.0, Censored::AtLeast, least, Conformity::Inconclusive),
            (30.0, Censored::AtMost, least, Conformity::Fail),
            (8.0, Censored::AtLeast, both, Conformity::Fail),
            (3.0, Censored::AtLeast, both, Conformity::Inconclusive),
            (1.0, Censored::AtMost, both, Conformity::Fail),
        ] {
            assert_eq!(conformity_of_bound(bound, censored, limits), word, "{bound} {censored:?} {limits:?}");
        }
    }

    /// `tests/reference/conformity.json`: the worked examples of JCGM 106:2012, from memory.
    #[test]
    fn probabilities_agree_with_the_guides_examples() {
        #[derive(serde::Deserialize)]
        struct Record {
            id: String,
            y: f64,
            u: f64,
            lower: Option<f64>,
            upper: Option<f64>,
            expected: f64,
            absolute_tolerance: f64,
        }
        let records: Vec<Record> =
            serde_json::from_str(include_str!("../../../../tests/reference/conformity.json")).unwrap();
        assert!(!records.is_empty());
        for Record { id, y, u, lower, upper, expected, absolute_tolerance } in records {
            let p = probability_of_conformity(y, u, Bounds { lower, upper }, Scale::Linear).unwrap();
            assert!((p - expected).abs() <= absolute_tolerance, "{id}: {p} against {expected}");
        }
    }

    #[test]
    fn times_are_judged_on_the_logarithmic_scale() {
        let at =
            |y| probability_of_conformity(y, 0.1 * y, Bounds::at_most(20.0), Scale::Logarithmic).unwrap();
        assert!((at(20.0) - 0.5).abs() < 1e-12);
        // A factor of e^0.1 is one standard uncertainty of 10 %: Φ(1) and Φ(−1).
        assert!((at(20.0 * (-0.1_f64).exp()) - 0.841_344_746).abs() < 1e-9);
        assert!((at(20.0 * 0.1_f64.exp()) - 0.158_655_254).abs() < 1e-9);
        assert_eq!(probability_of_conformity(0.0, 0.1, Bounds::at_most(20.0), Scale::Logarithmic), None);
    }

    #[test]
    fn limits_that_are_none_or_reversed_judge_nothing() {
        for limits in [
            Bounds::at_most(f64::NAN),
            Bounds::at_most(f64::INFINITY),
            Bounds::at_least(f64::NEG_INFINITY),
            Bounds::between(f64::NAN, 20.0),
            Bounds::between(30.0, 10.0),
        ] {
            assert_eq!(conformity(12.0, 0.3, limits), Conformity::Inconclusive, "{limits:?}");
            for censored in [Censored::AtLeast, Censored::AtMost] {
                let word = conformity_of_bound(12.0, censored, limits);
                assert_eq!(word, Conformity::Inconclusive, "{limits:?}");
            }
            for scale in [Scale::Linear, Scale::Logarithmic] {
                assert_eq!(probability_of_conformity(12.0, 0.3, limits, scale), None, "{limits:?}");
            }
        }
    }
}
