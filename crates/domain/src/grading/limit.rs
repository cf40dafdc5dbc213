use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::GradingError;
use crate::equipment::{Bounds, FunctionalLimit, Measurement, Model, TypicalValue};

/// The functional limit that a reading was held against, in the canonical unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct AppliedLimit {
    #[serde(flatten)]
    pub bounds: Bounds,
    pub source: LimitSource,
}

/// Where a limit stands. A warranty claim needs one of these, never a learned one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitSource {
    Model,
    Appliance,
}

/// What the records say of each measurement, in canonical units.
pub(super) struct Records {
    limits: BTreeMap<Measurement, AppliedLimit>,
    typical: BTreeMap<Measurement, (f64, Bounds)>,
}

impl Records {
    pub fn new(model: &Model, of_appliance: &[FunctionalLimit]) -> Result<Self, GradingError> {
        let mut limits = BTreeMap::new();
        let of_model = model.functional_limits.iter().map(|limit| (limit, LimitSource::Model));
        let all = of_model.chain(of_appliance.iter().map(|limit| (limit, LimitSource::Appliance)));
        for (limit, source) in all {
            let fault = |source| GradingError::Limit { step: limit.of.step.clone(), source };
            let bounds = limit.canonical().map_err(fault)?;
            limits.insert(limit.of.clone(), AppliedLimit { bounds, source });
        }
        let mut typical = BTreeMap::new();
        for value in &model.typical_values {
            let fault = |source| GradingError::Limit { step: value.of.step.clone(), source };
            typical.insert(value.of.clone(), TypicalValue::canonical(value).map_err(fault)?);
        }
        Ok(Self { limits, typical })
    }

    pub fn limit(&self, of: &Measurement) -> Option<AppliedLimit> {
        self.limits.get(of).copied()
    }

    pub fn typical(&self, of: &Measurement) -> Option<(f64, Bounds)> {
        self.typical.get(of).copied()
    }
}
