//! Several readings per unit: how much units differ, how much one unit's readings differ, and the
//! tolerance interval for a single reading of the next unit from all of them.

use serde::{Deserialize, Serialize};

use super::tolerance::{Aim, Limits, factor_of_estimates};
use super::{KnownGoodError, require_finite};

/// The spread within units, pooled over all units that were read more than once.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PooledSpread {
    /// s_w, on the scale of the values.
    pub standard_deviation: f64,
    /// Σ (readings of the unit − 1).
    pub degrees: u32,
    /// Units that were read more than once.
    pub units: u32,
}

/// What the readings of one unit add to the pooled spread.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Within {
    /// Σⱼ (yⱼ − ȳ)², on the scale of the values.
    pub squares: f64,
    /// Readings − 1; zero for a unit read once or never.
    pub degrees: u32,
}

impl Within {
    /// Of readings of one unit between which nothing was changed, on the scale.
    pub fn of(readings: &[f64]) -> Result<Self, KnownGoodError> {
        require_finite(readings)?;
        if readings.len() < 2 {
            return Ok(Self::default());
        }
        let mean = mean(readings);
        let squares = readings.iter().map(|value| (value - mean).powi(2)).sum();
        Ok(Self { squares, degrees: readings.len() as u32 - 1 })
    }

    /// The same unit before and after a change, each with its own mean.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self { squares: self.squares + other.squares, degrees: self.degrees + other.degrees }
    }
}

/// s_w = sqrt(Σᵢⱼ (yᵢⱼ − ȳᵢ)² / Σᵢ (mᵢ − 1)); at least one unit must have been read twice.
pub fn pooled_within(units: &[Vec<f64>]) -> Result<PooledSpread, KnownGoodError> {
    let units: Vec<Within> = units.iter().map(|unit| Within::of(unit)).collect::<Result<_, _>>()?;
    pooled(units)
}

/// [`pooled_within`] from what each unit adds.
pub fn pooled(units: impl IntoIterator<Item = Within>) -> Result<PooledSpread, KnownGoodError> {
    let (mut all, mut several) = (Within::default(), 0);
    for unit in units {
        all = all.and(unit);
        several += u32::from(unit.degrees > 0);
    }
    if all.degrees == 0 {
        return Err(KnownGoodError::TooFew { what: "units read more than once", needed: 1, actual: 0 });
    }
    let standard_deviation = (all.squares / f64::from(all.degrees)).sqrt();
    Ok(PooledSpread { standard_deviation, degrees: all.degrees, units: several })
}

/// A tolerance interval from a one-way random model, on the scale of the values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ComponentsInterval {
    pub limits: Limits,
    /// Mean of the units' means.
    pub mean: f64,
    /// Square root of the total variance of a single reading of a unit taken at random.
    pub standard_deviation: f64,
    pub within: f64,
    /// Between units; zero where their means differ by no more than the readings explain.
    pub between: f64,
    /// Satterthwaite's degrees of freedom of the total variance.
    pub degrees: f64,
    pub factor: f64,
    pub units: u32,
    pub readings: u32,
    pub aim: Aim,
}

/// The interval that holds, with the aim's confidence, its coverage of single readings of all units.
///
/// Unweighted means, which need no equal numbers of readings: with m̃ the harmonic mean of the numbers
/// and s_ȳ² the variance of the a units' means, σ̂² = s_ȳ² + (1 − 1/m̃)·s_w², degrees of freedom by
/// Satterthwaite, and the mean has variance s_ȳ²/a, as of a·σ̂²/s_ȳ² independent readings. With one
/// reading per unit this is the ordinary exact interval; otherwise its confidence is approximate.
/// Source: Satterthwaite, 1946; Thomas and Hultquist, 1978; Krishnamoorthy and Mathew, 2009, chapter 5.
///
/// Valid for two or more units; a unit without a reading does not count.
pub fn components_interval(units: &[Vec<f64>], aim: Aim) -> Result<ComponentsInterval, KnownGoodError> {
    let units: Vec<&Vec<f64>> = units.iter().filter(|readings| !readings.is_empty()).collect();
    for readings in &units {
        require_finite(readings)?;
    }
    let a = units.len() as u32;
    if a < 2 {
        return Err(KnownGoodError::TooFew { what: "units", needed: 2, actual: a });
    }
    let means: Vec<f64> = units.iter().map(|readings| mean(readings)).collect();
    let (mean, deviation) = super::mean_and_deviation(&means);
    let of_means = deviation * deviation;
    let readings: u32 = units.iter().map(|readings| readings.len() as u32).sum();
    let inverse: f64 = units.iter().map(|readings| 1.0 / readings.len() as f64).sum::<f64>() / f64::from(a);
    let squares: f64 = units
        .iter()
        .zip(&means)
        .map(|(readings, mean)| readings.iter().map(|value| (value - mean).powi(2)).sum::<f64>())
        .sum();
    let within_degrees = f64::from(readings - a);
    let within = if readings > a { squares / within_degrees } else { 0.0 };

    let share = (1.0 - inverse) * within;
    let total = of_means + share;
    if of_means <= 0.0 {
        return Err(KnownGoodError::NoSpread { n: readings });
    }
    let within_part = if readings > a { share * share / within_degrees } else { 0.0 };
    let degrees = total * total / (of_means * of_means / f64::from(a - 1) + within_part);
    let mean_n = f64::from(a) * total / of_means;
    let factor = factor_of_estimates(aim, mean_n, degrees);
    Ok(ComponentsInterval {
        limits: Limits::around(mean, factor * total.sqrt(), aim.sides()),
        mean,
        standard_deviation: total.sqrt(),
        within: within.sqrt(),
        between: (of_means - inverse * within).max(0.0).sqrt(),
        degrees,
        factor,
        units: a,
        readings,
        aim,
    })
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::known_good::tolerance::{Sides, tolerance_interval};

    #[test]
    fn one_reading_per_unit_is_the_ordinary_interval() {
        let values = [2.1, 2.4, 1.9, 2.2, 2.6, 2.0, 2.3, 2.25, 1.95, 2.15];
        let units: Vec<Vec<f64>> = values.iter().map(|value| vec![*value]).collect();
        for sides in [Sides::Upper, Sides::Both] {
            let aim = Aim::usual(sides);
            let (components, ordinary) =
                (components_interval(&units, aim).unwrap(), tolerance_interval(&values, aim).unwrap());
            assert!((components.factor - ordinary.factor).abs() < 1e-10);
            assert!((components.limits.upper.unwrap() - ordinary.limits.upper.unwrap()).abs() < 1e-10);
            assert_eq!((components.units, components.readings, components.within), (10, 10, 0.0));
        }
    }

    /// The balanced analysis of variance by hand: three units read twice, means 1, 3, 5; mean square
    /// between 2·4 = 8, within ((0.2² + 0.4² + 0.2²)/2)/3 = 0.04.
    #[test]
    fn components_of_a_worked_example() {
        let units = [vec![0.9, 1.1], vec![2.8, 3.2], vec![4.9, 5.1]];
        let interval = components_interval(&units, Aim::usual(Sides::Both)).unwrap();
        assert!((interval.within.powi(2) - 0.04).abs() < 1e-12);
        assert!((interval.between.powi(2) - (8.0 - 0.04) / 2.0).abs() < 1e-12);
        assert!((interval.standard_deviation.powi(2) - 4.02).abs() < 1e-12);
        let degrees = 4.02_f64.powi(2) / (16.0 / 2.0 + 0.02_f64.powi(2) / 3.0);
        assert!((interval.degrees - degrees).abs() < 1e-12);
        let pooled = pooled_within(&units).unwrap();
        assert_eq!((pooled.degrees, pooled.units), (3, 3));
        assert!((pooled.standard_deviation - 0.2).abs() < 1e-12);
    }

    #[test]
    fn bad_units_are_errors() {
        let aim = Aim::usual(Sides::Both);
        assert!(matches!(
            components_interval(&[vec![1.0, 2.0], vec![]], aim),
            Err(KnownGoodError::TooFew { needed: 2, actual: 1, .. })
        ));
        assert!(matches!(
            components_interval(&[vec![1.0], vec![f64::NAN]], aim),
            Err(KnownGoodError::NotFinite { .. })
        ));
        assert!(matches!(
            components_interval(&[vec![1.0], vec![1.0]], aim),
            Err(KnownGoodError::NoSpread { .. })
        ));
        assert!(matches!(pooled_within(&[vec![1.0], vec![2.0]]), Err(KnownGoodError::TooFew { .. })));
    }
}
