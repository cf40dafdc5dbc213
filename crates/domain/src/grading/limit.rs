use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::GradingError;
use crate::equipment::{Bounds, FunctionalLimit, Measurement, Model};

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

/// What the records say of one measurement, in the canonical unit.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Record {
    pub limit: Option<AppliedLimit>,
    /// Value and range of a healthy machine.
    pub typical: Option<(f64, Bounds)>,
}

impl Record {
    pub fn functional(&self) -> Bounds {
        self.limit.map_or(Bounds::default(), |limit| limit.bounds)
    }
}

/// What the records say of each measurement.
pub(super) struct Records(BTreeMap<Measurement, Record>);

impl Records {
    pub fn new(model: &Model, of_appliance: &[FunctionalLimit]) -> Result<Self, GradingError> {
        let mut records: BTreeMap<Measurement, Record> = BTreeMap::new();
        let of_water = model.water_limits.functional_limits();
        let of_model =
            of_water.iter().chain(&model.functional_limits).map(|limit| (limit, LimitSource::Model));
        let all = of_model.chain(of_appliance.iter().map(|limit| (limit, LimitSource::Appliance)));
        for (limit, source) in all {
            let fault = |source| GradingError::Limit { step: limit.of.step.clone(), source };
            let bounds = limit.canonical().map_err(fault)?;
            records.entry(limit.of.clone()).or_default().limit = Some(AppliedLimit { bounds, source });
        }
        for value in &model.typical_values {
            let fault = |source| GradingError::Limit { step: value.of.step.clone(), source };
            let typical = value.canonical().map_err(fault)?;
            records.entry(value.of.clone()).or_default().typical = Some(typical);
        }
        Ok(Self(records))
    }

    pub fn of(&self, measurement: &Measurement) -> Record {
        self.0.get(measurement).copied().unwrap_or_default()
    }
}
