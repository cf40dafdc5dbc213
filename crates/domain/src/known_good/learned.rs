//! What is kept of the learning of one measurement: the fleet's reference, and the spread within units
//! from which a unit's own reference and its drift charts follow.

use serde::{Deserialize, Serialize};

use super::drift::Spread;
use super::fleet::FleetReference;
use super::own::{LEAST_DEGREES, own_reference};
use super::tolerance::{Limits, Sides};
use super::variance_components::PooledSpread;
use crate::equipment::{Bounds, Measurement, Model};
use crate::grading::{HealthyReference, ReferenceSource};
use crate::quantity::QuantityKind;
use crate::text::Key;

/// One measurement of one model, in the canonical unit of its quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LearnedMeasurement {
    pub model: Key,
    pub of: Measurement,
    pub quantity: QuantityKind,
    pub reference: FleetReference,
    /// None where no unit was read twice.
    pub within: Option<PooledSpread>,
}

impl LearnedMeasurement {
    /// What healthy units of the model show; none where they are too few.
    pub fn fleet(&self) -> Option<HealthyReference> {
        let interval = self.reference.interval?;
        Some(self.healthy(ReferenceSource::Fleet, interval.centre, interval.limits, self.reference.units))
    }

    /// What one unit shows as long as it is as it was at its verified-good readings, which are given since
    /// the last change of the position, in their unit. None without any, or where the spread within units
    /// rests on too few degrees of freedom or is zero.
    pub fn own(&self, readings: &[f64]) -> Option<HealthyReference> {
        let plan = self.reference.plan;
        let own = own_reference(readings, self.within?, plan.scale, plan.aim.sides()).ok()?;
        Some(self.healthy(ReferenceSource::OwnReadings, own.centre, own.limits, own.n))
    }

    /// In what a unit's drift is measured.
    pub fn spread(&self) -> Spread {
        match self.within {
            Some(within) if within.degrees >= LEAST_DEGREES && within.standard_deviation > 0.0 => {
                Spread::Pooled(within.standard_deviation)
            }
            _ => Spread::Own,
        }
    }

    fn healthy(&self, source: ReferenceSource, centre: f64, limits: Limits, n: u32) -> HealthyReference {
        let bounds = Bounds { lower: limits.lower, upper: limits.upper };
        let knowledge_version = Some(i64::from(self.reference.plan.version));
        HealthyReference { source, centre: Some(centre), bounds, n: Some(n), knowledge_version }
    }
}

/// On which sides a reading can be unusual: those of the model's typical range, else of its functional
/// limit, else both.
pub fn sides(model: &Model, of: &Measurement) -> Sides {
    let typical = model.typical_value(of).map(|typical| (typical.lower, typical.upper));
    let limit = || model.functional_limit(of).map(|limit| (limit.lower, limit.upper));
    let given = typical.filter(|ends| *ends != (None, None)).or_else(limit);
    match given {
        Some((Some(_), None)) => Sides::Lower,
        Some((None, Some(_))) => Sides::Upper,
        _ => Sides::Both,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::equipment::demo_combi;
    use crate::known_good::fleet::{Method, Plan, learn_selected};
    use crate::known_good::selection::{KnownGood, LeftOut};
    use crate::known_good::tolerance::Aim;
    use crate::quantity::Scale;

    fn learned(values: &[f64], within: Option<PooledSpread>) -> LearnedMeasurement {
        let at = "2026-01-01T00:00:00Z".parse().unwrap();
        let id = |number: usize| format!("01890a5d-ac96-774b-bcce-b3020000{number:04x}");
        let readings: Vec<KnownGood> = values
            .iter()
            .enumerate()
            .map(|(number, value)| KnownGood {
                appliance: id(number).parse().unwrap(),
                test_run: id(number).parse().unwrap(),
                taken_at: at,
                value: *value,
            })
            .collect();
        let plan = Plan {
            method: Method::Normal,
            scale: Scale::Linear,
            aim: Aim::usual(Sides::Both),
            as_of: at,
            version: 7,
        };
        LearnedMeasurement {
            model: demo_combi().key.clone(),
            of: Measurement::value("fill_time", "fill_time"),
            quantity: QuantityKind::Duration,
            reference: learn_selected(&readings, LeftOut::new(), plan),
            within,
        }
    }

    /// k₂ for 99 % and 95 % at n = 10 is 4.437 (ISO 16269-6, from the plan's table).
    #[test]
    fn references_name_their_source_n_and_version() {
        let values = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0];
        let spread = PooledSpread { standard_deviation: 0.5, degrees: 30, units: 10 };
        let learned = learned(&values, Some(spread));
        let fleet = learned.fleet().unwrap();
        assert_eq!(
            (fleet.source, fleet.n, fleet.knowledge_version),
            (ReferenceSource::Fleet, Some(10), Some(7))
        );
        let upper = 5.5 + 4.437 * (82.5_f64 / 9.0).sqrt();
        assert!((fleet.bounds.upper.unwrap() - upper).abs() < 2e-3, "{fleet:?}");
        let own = learned.own(&[4.0, 6.0]).unwrap();
        let half_width = 1.959963984540054 * 0.5 * 1.5_f64.sqrt();
        assert_eq!((own.source, own.n, own.centre), (ReferenceSource::OwnReadings, Some(2), Some(5.0)));
        assert!((own.bounds.lower.unwrap() - (5.0 - half_width)).abs() < 1e-12);
        assert_eq!((learned.own(&[]), learned.spread()), (None, Spread::Pooled(0.5)));
    }

    #[test]
    fn too_little_gives_no_reference() {
        let few = PooledSpread { standard_deviation: 0.5, degrees: 29, units: 10 };
        let few_units = learned(&[1.0, 2.0, 3.0], Some(few));
        assert_eq!((few_units.fleet(), few_units.own(&[1.0]), few_units.spread()), (None, None, Spread::Own));
        assert_eq!(learned(&[1.0], None).own(&[1.0]), None);
    }

    #[test]
    fn sides_are_those_of_the_models_record() {
        assert_eq!(sides(demo_combi(), &Measurement::value("fill_time", "fill_time")), Sides::Both);
        assert_eq!(sides(demo_combi(), &Measurement::value("no_such", "step")), Sides::Both);
        let mut model = demo_combi().clone();
        model.typical_values.clear();
        assert_eq!(sides(&model, &Measurement::value("fill_time", "fill_time")), Sides::Upper);
    }
}
