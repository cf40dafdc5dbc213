//! Several readings of one thing.
//!
//! Slips are independent, the model's error is shared. Summed over which of the readings S are no slips:
//! `Σ_S (1 − ε)^|S| · N(ȳ_S; predicted, model² + 1/Σu⁻²) · scatter_S · Π_{i∉S} ε·slip(y_i)`, where the
//! scatter is the density of the readings of S about their common mean. Of several slips a share ρ is one and
//! the same, made again: who has the wrong range set reads it wrong each time.

use super::{Comparable, Likelihood, Seen, normal_density};

/// Readings more than this are joined with their nearest, so that few subsets are left.
const MOST: usize = 4;
/// So many readings joined to one say all that repeats can say.
const MOST_ALIKE: i32 = 3;
/// ρ: share of repeated slips, and of repeated looks, that are the first one made again. **Judgement**.
pub(in crate::diagnosis) const MADE_AGAIN: f64 = 0.03;

/// One reading, or several that are as good as one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Item {
    seen: Seen,
    /// Variance of its own; that of the model's error is shared.
    variance: f64,
    count: i32,
    /// Density of the readings in it about their mean.
    scatter: f64,
}

/// The readings of one thing under the same conditions.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::diagnosis) struct Repeated {
    ways: Vec<Way>,
    /// What they come to together, if none is a slip.
    pub joined: Comparable,
}

/// One way in which the readings can have come about.
#[derive(Debug, Clone, PartialEq)]
struct Way {
    /// Those that are no slips, those with values as one.
    good: Vec<Comparable>,
    slips: Vec<(Comparable, i32)>,
    /// The slips as one that was made again, with the scatter of its values.
    again: Option<(Comparable, f64)>,
    factor: f64,
}

impl Repeated {
    /// Of readings with their own standard uncertainties; `like` has the rest of the measurement's properties.
    /// `None` without any reading.
    pub fn new(readings: &[(Seen, f64)], model_error: f64, like: &Comparable) -> Option<Self> {
        let single = |(seen, u): &(Seen, f64)| {
            let within = Comparable::new(*seen, *u, like.low, like.high, like.slips);
            Item { seen: within.seen, variance: u * u, count: 1, scatter: 1.0 }
        };
        let items = merged(readings.iter().map(single).collect());
        let of = |item: &Item| Comparable {
            seen: item.seen,
            sigma: (item.variance + model_error * model_error).sqrt(),
            ..*like
        };
        let joined = chosen(&items)?;
        let ways = (0..1_u32 << items.len())
            .map(|subset| {
                let those = |wanted: u32| {
                    let chosen = items.iter().enumerate().filter(|(at, _)| subset >> at & 1 == wanted);
                    chosen.map(|(_, item)| *item).collect::<Vec<Item>>()
                };
                let (good, slips) = (those(1), those(0));
                let right: i32 = good.iter().map(|item| item.count).sum();
                let good = with_values_joined(&good);
                let scatter: f64 = good.iter().map(|item| item.scatter).product();
                let again = match with_values_joined(&slips)[..] {
                    [one] if one.count > 1 => Some((of(&one), one.scatter)),
                    _ => None,
                };
                Way {
                    good: good.iter().map(of).collect(),
                    slips: slips.iter().map(|item| (of(item), item.count)).collect(),
                    again,
                    factor: (1.0 - like.slips.share).powi(right) * scatter,
                }
            })
            .collect();
        Some(Self { ways, joined: of(&joined) })
    }

    /// Averaged over a stretch of predictions.
    pub fn over(&self, low: f64, high: f64) -> Likelihood {
        self.summed(|good| good.strays(low, high, good.sigma), |slip| slip.slip(low, high))
    }

    /// If anything within the range may be predicted.
    pub fn flat(&self) -> f64 {
        let all = self.summed(Comparable::flat, Comparable::flat);
        all.as_predicted + all.misread
    }

    fn summed(&self, right: impl Fn(&Comparable) -> f64, slipped: impl Fn(&Comparable) -> f64) -> Likelihood {
        let mut likelihood = Likelihood { as_predicted: 0.0, misread: 0.0 };
        let share = self.joined.slips.share;
        for way in &self.ways {
            let apart: f64 =
                way.slips.iter().map(|(slip, count)| (share * slipped(slip)).powi(*count)).product();
            let slips = match &way.again {
                Some((slip, scatter)) => {
                    (1.0 - MADE_AGAIN) * apart + MADE_AGAIN * share * slipped(slip) * scatter
                }
                None => apart,
            };
            let value = way.factor * slips * way.good.iter().map(&right).product::<f64>();
            if way.good.is_empty() {
                likelihood.misread += value;
            } else {
                likelihood.as_predicted += value;
            }
        }
        likelihood
    }
}

/// Values beat bounds, and bounds beat judgements.
fn chosen(items: &[Item]) -> Option<Item> {
    let joined = with_values_joined(items);
    let rank = |item: &&Item| match item.seen {
        Seen::Exactly(_) => 0,
        Seen::AtLeast(_) | Seen::AtMost(_) => 1,
        Seen::Between(..) => 2,
    };
    joined.iter().min_by_key(rank).copied()
}

/// Values that share the model's error and no slip are one value, read more closely.
fn with_values_joined(items: &[Item]) -> Vec<Item> {
    let mut joined: Vec<Item> = Vec::new();
    for item in items {
        match joined.iter_mut().find(|other| both_values(other, item)) {
            Some(other) => *other = together(other, item),
            None => joined.push(*item),
        }
    }
    joined
}

const fn both_values(a: &Item, b: &Item) -> bool {
    matches!((a.seen, b.seen), (Seen::Exactly(_), Seen::Exactly(_)))
}

/// The precise mean of two, or the narrower of two bounds to the same side.
fn together(a: &Item, b: &Item) -> Item {
    let count = (a.count + b.count).min(MOST_ALIKE);
    match (a.seen, b.seen) {
        (Seen::Exactly(y), Seen::Exactly(z)) => {
            let (both, variance) = (a.variance + b.variance, 1.0 / (1.0 / a.variance + 1.0 / b.variance));
            let mean = (y / a.variance + z / b.variance) * variance;
            let between = normal_density((y - z) / both.sqrt()) / both.sqrt();
            Item { seen: Seen::Exactly(mean), variance, count, scatter: a.scatter * b.scatter * between }
        }
        (Seen::AtLeast(y), Seen::AtLeast(z)) => Item { seen: Seen::AtLeast(y.max(z)), count, ..*a },
        (Seen::AtMost(y), Seen::AtMost(z)) => Item { seen: Seen::AtMost(y.min(z)), count, ..*a },
        _ => Item { count, ..*a },
    }
}

/// Alike bounds and judgements as one; then the nearest values, until few are left. Of more different
/// judgements than that the first count.
fn merged(items: Vec<Item>) -> Vec<Item> {
    let mut merged: Vec<Item> = Vec::new();
    for item in items {
        let alike = |other: &&mut Item| match (other.seen, item.seen) {
            (Seen::AtLeast(_), Seen::AtLeast(_)) | (Seen::AtMost(_), Seen::AtMost(_)) => true,
            (Seen::Between(..), Seen::Between(..)) => other.seen == item.seen,
            _ => false,
        };
        match merged.iter_mut().find(alike) {
            Some(other) => *other = together(other, &item),
            None => merged.push(item),
        }
    }
    while merged.len() > MOST {
        let Some((a, b)) = nearest(&merged) else { break };
        let joined = together(&merged[a], &merged[b]);
        merged[a] = joined;
        merged.remove(b);
    }
    merged.truncate(MOST);
    merged
}

/// The two values that are nearest to each other.
fn nearest(items: &[Item]) -> Option<(usize, usize)> {
    let pairs = (0..items.len()).flat_map(|a| (a + 1..items.len()).map(move |b| (a, b)));
    let apart = |(a, b): &(usize, usize)| match (items[*a].seen, items[*b].seen) {
        (Seen::Exactly(y), Seen::Exactly(z)) => Some((y - z).abs()),
        _ => None,
    };
    let measured = pairs.filter_map(|pair| Some((apart(&pair)?, pair)));
    measured.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map(|(_, pair)| pair)
}

#[cfg(test)]
mod tests {
    use super::super::Slips;
    use super::*;

    fn like(near: f64) -> Comparable {
        let slips = Slips { share: 0.02, near, near_deviation: 0.4 };
        Comparable::new(Seen::Exactly(3.0), 0.1, 1.0, 6.0, slips)
    }

    fn normal(z: f64, sigma: f64) -> f64 {
        (-0.5 * (z / sigma).powi(2)).exp() / (sigma * (2.0 * std::f64::consts::PI).sqrt())
    }

    /// From the definition: the model's shared error is summed by Simpson's rule, each reading then errs or
    /// slips by itself. Where both are slips a share of 0.03 is the same slip again, each value about it.
    fn defined(values: &[f64], u: f64, model: f64, near: f64, predicted: f64) -> f64 {
        let slip = |y: f64| near * normal(y - predicted, 0.4) + (1.0 - near) / 5.0;
        let steps = 4000;
        let shared = |of: &dyn Fn(f64) -> f64| {
            let at = |step: i32| {
                let error = model * (f64::from(step) / f64::from(steps) * 16.0 - 8.0);
                let weight = if step == 0 || step == steps { 1.0 } else { f64::from(2 + 2 * (step % 2)) };
                weight * normal(error, model) * of(error)
            };
            (0..=steps).map(at).sum::<f64>() * model * 16.0 / f64::from(steps) / 3.0
        };
        let apart = shared(&|error| {
            let each = |y: &f64| 0.98 * normal(y - predicted - error, u) + 0.02 * slip(*y);
            values.iter().map(each).product()
        });
        let [a, b] = values[..] else { return apart };
        let mean = f64::midpoint(a, b);
        let again = 0.02 * slip(mean) * normal(a - b, u * 2.0_f64.sqrt());
        apart + 0.03 * (again - 0.02 * 0.02 * slip(a) * slip(b))
    }

    #[test]
    fn two_readings_are_as_defined() {
        for near in [0.0, 0.7] {
            for (values, predicted) in
                [([3.0, 3.04], 3.02), ([3.0, 3.04], 4.5), ([2.0, 4.0], 2.05), ([2.0, 4.0], 3.0)]
            {
                let readings = values.map(|y| (Seen::Exactly(y), 0.05));
                let repeated = Repeated::new(&readings, 0.1, &like(near)).unwrap();
                let (is, should) = (
                    repeated.over(predicted, predicted).total(),
                    defined(&values, 0.05, 0.1, near, predicted),
                );
                assert!((is / should - 1.0).abs() < 1e-6, "{near} {values:?} {predicted}: {is} {should}");
            }
        }
    }

    #[test]
    fn what_is_read_again_is_believed_more() {
        let odds = |values: &[f64]| {
            let readings: Vec<(Seen, f64)> = values.iter().map(|y| (Seen::Exactly(*y), 0.05)).collect();
            let repeated = Repeated::new(&readings, 0.1, &like(0.0)).unwrap();
            repeated.over(4.0, 4.0).total() / repeated.over(2.0, 2.0).total()
        };
        let (one, two, three, ten) = (odds(&[4.0]), odds(&[4.0; 2]), odds(&[4.0; 3]), odds(&[4.0; 10]));
        assert!(
            two > 10.0 * one && three > 0.9 * two && (ten / three - 1.0).abs() < 0.3,
            "{one} {two} {three} {ten}"
        );
        // Two against one: the two are believed, but less than without it.
        let against = odds(&[4.0, 4.0, 2.0]);
        assert!(against > 1.0 && against < two, "{against}");
    }

    #[test]
    fn bounds_go_beside_values() {
        let readings = [(Seen::Exactly(3.0), 0.05), (Seen::AtLeast(5.0), 0.05)];
        let repeated = Repeated::new(&readings, 0.1, &like(0.0)).unwrap();
        let at = |predicted: f64| repeated.over(predicted, predicted).total();
        // One of the two is a slip, whichever it is; the bound is as likely to be one as the value.
        assert!(at(3.0) > 50.0 * at(4.0) && at(5.5) > 50.0 * at(4.0), "{} {} {}", at(3.0), at(4.0), at(5.5));
        assert!(repeated.flat().is_finite() && repeated.over(f64::INFINITY, f64::INFINITY).total() > 0.0);
    }
}
