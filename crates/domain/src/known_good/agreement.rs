//! Do our people read alike? How far the readings of healthy machines differ because machines do, because who reads does
//! (reproducibility), and for no such reason (repeatability); and how far each of those who read lies from the others.
//!
//! yᵢⱼₖ = μ + machineᵢ + raterⱼ + rest, all of them random: who reads is a draw from those who may. The same holds for
//! instruments in the readers' place. Estimated by restricted maximum likelihood, which needs no equal numbers and takes
//! readers crossed with machines and readers of their own machines alike; where both are balanced it is the analysis of
//! variance. What a reader reads otherwise on one machine alone is part of the rest. Limits by the profile of that
//! likelihood. Sources: Patterson and Thompson, 1971; Searle, Casella and McCulloch, 1992, chapters 6 and 7.

mod likelihood;
mod minimum;
#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use super::KnownGoodError;
use super::tolerance::Limits;
use crate::probability::chi_squared_quantile;
use likelihood::{Layout, Ratios};
use minimum::{crossing, minimum};

/// How sure the limits of a spread are.
pub const CONFIDENCE: f64 = 0.95;
/// A spread below this part of the rest's is none.
const NOTHING: f64 = 1e-4;

/// One reading of something healthy, on the scale on which its spread is symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Read {
    /// Which machine, between two changes of it.
    pub unit: u32,
    /// Who read it, or with which instrument.
    pub rater: u32,
    pub value: f64,
}

/// A standard deviation, never below zero; without limits where the likelihood closes none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    pub standard_deviation: f64,
    pub limits: Option<Limits>,
}

/// How far one of those who read lies from all, drawn towards them by how little is known of him.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    pub rater: u32,
    pub readings: u32,
    pub units: u32,
    pub bias: f64,
    /// Of the bias, as large as the spreads are taken to be.
    pub standard_error: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    pub readings: u32,
    pub units: u32,
    /// Units that more than one of those who read has read: where there are none, raters differ by what their machines do too.
    pub shared_units: u32,
    pub raters: u32,
    pub mean: f64,
    /// Repeatability.
    pub rest: Spread,
    /// None where each unit was read once: it is part of the rest.
    pub between_units: Option<Spread>,
    /// Reproducibility. None where one alone read, or nobody twice.
    pub between_raters: Option<Spread>,
    /// By rater; empty where there is no reproducibility to draw them to.
    pub rated: Vec<Rated>,
}

/// What readings of healthy machines say of those who read them. Valid for finite values, of which some repeat a unit or a
/// rater; errors where nothing is left for the rest, or where all are equal.
pub fn agreement(reads: &[Read]) -> Result<Agreement, KnownGoodError> {
    let values: Vec<f64> = reads.iter().map(|read| read.value).collect();
    super::require(&values, 3, "readings")?;
    super::require_spread(&values)?;
    let mut readers_of: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for read in reads {
        readers_of.entry(read.unit).or_default().insert(read.rater);
    }
    let layout = Layout::of(reads);
    if layout.rest_degrees() == 0 {
        return Err(KnownGoodError::TooFew { what: "readings of a unit read before", needed: 1, actual: 0 });
    }
    let fit = Fit::of(&layout);
    let spread = |of: Of| Spread { standard_deviation: fit.deviation(of), limits: fit.limits(of) };
    let between_raters = layout.tells_raters.then(|| spread(Of::Raters));
    Ok(Agreement {
        readings: reads.len() as u32,
        units: readers_of.len() as u32,
        shared_units: readers_of.values().filter(|readers| readers.len() > 1).count() as u32,
        raters: layout.raters.len() as u32,
        mean: fit.mean,
        rest: spread(Of::Rest),
        between_units: layout.tells_units.then(|| spread(Of::Units)),
        rated: if between_raters.is_some() { layout.rated(fit.ratios, fit.rest) } else { Vec::new() },
        between_raters,
    })
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Rest,
    Units,
    Raters,
}

/// The spreads of greatest likelihood.
struct Fit<'a> {
    layout: &'a Layout,
    ratios: Ratios,
    /// Standard deviation of the rest.
    rest: f64,
    mean: f64,
    deviance: f64,
}

impl<'a> Fit<'a> {
    fn of(layout: &'a Layout) -> Self {
        // On the scale of standard deviations the deviance has no edge at zero: left of it, it is its own mirror.
        let start = vec![1.0; layout.free()];
        let (at, _) = minimum(start, |point| layout.profiled(layout.ratios(point)).deviance);
        let ratios = layout.ratios(&at).without_nothing(NOTHING);
        let profiled = layout.profiled(ratios);
        Self { layout, ratios, rest: profiled.rest, mean: profiled.mean, deviance: profiled.deviance }
    }

    fn deviation(&self, of: Of) -> f64 {
        match of {
            Of::Rest => self.rest,
            Of::Units => self.rest * self.ratios.units.sqrt(),
            Of::Raters => self.rest * self.ratios.raters.sqrt(),
        }
    }

    /// How much the deviance rises where one spread is held at a value and the others are at their best.
    fn rise(&self, of: Of, held: f64) -> f64 {
        let layout = self.layout;
        let mut start: Vec<f64> = Vec::new();
        if of != Of::Rest {
            start.push(self.rest.ln());
        }
        for (other, is_free) in [(Of::Units, layout.tells_units), (Of::Raters, layout.tells_raters)] {
            if is_free && other != of {
                start.push((self.deviation(other) / self.rest).max(0.1));
            }
        }
        let (_, least) = minimum(start, |point| {
            let (rest, others) = if of == Of::Rest { (held, point) } else { (point[0].exp(), &point[1..]) };
            let mut others = others.iter().map(|ratio| ratio * ratio);
            let ratio = |this: Of, is_free: bool, others: &mut dyn Iterator<Item = f64>| match (
                is_free,
                this == of,
            ) {
                (false, _) => 0.0,
                (true, true) => (held / rest).powi(2),
                (true, false) => others.next().unwrap_or_default(),
            };
            let units = ratio(Of::Units, layout.tells_units, &mut others);
            let raters = ratio(Of::Raters, layout.tells_raters, &mut others);
            layout.deviance(Ratios { units, raters }, rest)
        });
        least - self.deviance
    }

    fn limits(&self, of: Of) -> Option<Limits> {
        let allowed = chi_squared_quantile(1.0, CONFIDENCE);
        let over = |held: f64| self.rise(of, held) - allowed;
        let best = self.deviation(of);
        let scale = if best > 0.0 { best } else { NOTHING * self.rest };
        let upper = crossing(scale, 2.0, over)?;
        let may_be_none = of != Of::Rest && (best <= 0.0 || over(0.0) <= 0.0);
        let lower = if may_be_none { 0.0 } else { crossing(scale, 0.5, over)? };
        Some(Limits { lower: Some(lower), upper: Some(upper) })
    }
}
