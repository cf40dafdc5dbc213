use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::limit::Record;
use crate::equipment::{Bounds, Measurement};

/// What healthy machines show, at reference conditions, in the canonical unit. A learned interval is
/// made of readings and holds their uncertainty already: no guard band is put on it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HealthyReference {
    pub source: ReferenceSource,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub centre: Option<f64>,
    #[serde(flatten)]
    pub bounds: Bounds,
    /// How many units or readings it was learned from; none for a model's own word.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub n: Option<u32>,
    /// The version of the knowledge that it was taken from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub knowledge_version: Option<i64>,
}

/// Variants stand from best to least.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReferenceSource {
    /// Verified good readings of this very appliance.
    OwnReadings,
    /// The interval of the fleet's healthy units of the model.
    Fleet,
    ModelTypical,
}

impl ReferenceSource {
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::OwnReadings => "this machine's own good readings",
            Self::Fleet => "healthy machines of this model",
            Self::ModelTypical => "the model's typical values",
        }
    }
}

/// Where learned references come from. The grader itself falls back on the model's typical values.
pub trait HealthyReferences {
    /// The best learned reference for a measurement.
    fn healthy(&self, of: &Measurement) -> Option<HealthyReference>;
}

/// Nothing learned yet.
impl HealthyReferences for () {
    fn healthy(&self, _: &Measurement) -> Option<HealthyReference> {
        None
    }
}

/// Learned references held in memory; the appliance's own go before the fleet's.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct LearnedReferences {
    pub own: BTreeMap<Measurement, HealthyReference>,
    pub fleet: BTreeMap<Measurement, HealthyReference>,
}

impl HealthyReferences for LearnedReferences {
    fn healthy(&self, of: &Measurement) -> Option<HealthyReference> {
        self.own.get(of).or_else(|| self.fleet.get(of)).copied()
    }
}

/// The best reference that exists, never wider than the functional limit: it may tighten it, not loosen
/// it. A reference that lies wholly outside the limit is no healthy one and is passed over.
pub(super) fn best(
    of: &Measurement,
    record: &Record,
    learned: &dyn HealthyReferences,
) -> Option<HealthyReference> {
    let typical = || {
        let (centre, bounds) = record.typical?;
        let source = ReferenceSource::ModelTypical;
        Some(HealthyReference { source, centre: Some(centre), bounds, n: None, knowledge_version: None })
    };
    let usable = |reference: HealthyReference| {
        let bounds = intersection(reference.bounds, record.functional())?;
        (!reference.bounds.is_open()).then_some(HealthyReference { bounds, ..reference })
    };
    learned.healthy(of).and_then(usable).or_else(|| typical().and_then(usable))
}

fn intersection(a: Bounds, b: Bounds) -> Option<Bounds> {
    let tighter = |a: Option<f64>, b: Option<f64>, pick: fn(f64, f64) -> f64| match (a, b) {
        (Some(a), Some(b)) => Some(pick(a, b)),
        (one, other) => one.or(other),
    };
    let bounds =
        Bounds { lower: tighter(a.lower, b.lower, f64::max), upper: tighter(a.upper, b.upper, f64::min) };
    match (bounds.lower, bounds.upper) {
        (Some(lower), Some(upper)) if lower > upper => None,
        _ => Some(bounds),
    }
}

#[cfg(test)]
mod tests {
    use super::super::limit::Records;
    use super::*;
    use crate::equipment::demo_combi;

    #[test]
    fn a_learned_interval_tightens_the_limit_and_never_loosens_it() {
        let of = Measurement::value("fill_time", "fill_time");
        let record = Records::new(demo_combi(), &[]).unwrap().of(&of);
        assert_eq!(record.functional(), Bounds::at_most(20.0));
        let learned = |lower, upper| {
            let bounds = Bounds::between(lower, upper);
            let source = ReferenceSource::Fleet;
            let reference =
                HealthyReference { source, centre: None, bounds, n: Some(40), knowledge_version: None };
            LearnedReferences { fleet: [(of.clone(), reference)].into(), ..LearnedReferences::default() }
        };
        let best = |learned: &LearnedReferences| best(&of, &record, learned).unwrap();
        assert_eq!(best(&learned(11.0, 14.0)).bounds, Bounds::between(11.0, 14.0));
        assert_eq!(best(&learned(11.0, 24.0)).bounds, Bounds::between(11.0, 20.0));
        assert_eq!(best(&learned(22.0, 24.0)).source, ReferenceSource::ModelTypical);
        assert_eq!(best(&LearnedReferences::default()).bounds, Bounds::between(10.0, 15.0));
    }
}
