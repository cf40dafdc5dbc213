use chrono::NaiveDate;
use domain::evidence;
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::schema;

/// What a value was read with.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    kind: InstrumentKind,
    /// The company's own name or number for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<schema::Name>)]
    name: Option<Name>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    accuracy: Option<Accuracy>,
    /// Smallest step of the display or the scale, in the unit of the reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    resolution: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<schema::Day>)]
    calibrated_on: Option<NaiveDate>,
    /// A year after the calibration where it does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<schema::Day>)]
    calibration_due: Option<NaiveDate>,
}

macro_rules! instrument_kinds {
    ($($kind:ident),+ $(,)?) => {
        /// The kind of an instrument, from which its uncertainty follows where nothing better is said.
        #[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
        #[serde(rename_all = "snake_case")]
        pub enum InstrumentKind { $($kind),+ }

        impl From<InstrumentKind> for evidence::InstrumentKind {
            fn from(kind: InstrumentKind) -> Self {
                match kind { $(InstrumentKind::$kind => Self::$kind),+ }
            }
        }

        impl From<evidence::InstrumentKind> for InstrumentKind {
            fn from(kind: evidence::InstrumentKind) -> Self {
                match kind { $(evidence::InstrumentKind::$kind => Self::$kind),+ }
            }
        }
    };
}

instrument_kinds! {
    DialGauge, DigitalGauge, Stopwatch, AutomaticTimer, Bucket, MeasuringJug, Ruler, FlowMeter, Thermometer,
    Multimeter, CurrentClamp, InsulationTester, CapacitanceMeter, TestKit, TestStrip, PhMeter, ConductivityMeter,
    Other,
}

/// The error that the instrument may have by its maker's or its calibration's word.
#[derive(Clone, Copy, Serialize, Deserialize, ToSchema)]
#[serde(tag = "kind", rename_all = "snake_case", deny_unknown_fields)]
pub enum Accuracy {
    /// Accuracy class: per cent of the full scale, which is in the unit of the reading.
    #[schema(title = "AccuracyClass")]
    Class { percent: f64, full_scale: f64 },
    /// `absolute + percent of the reading`, absolute in its unit.
    #[schema(title = "AccuracyMaximumPermissibleError")]
    MaximumPermissibleError { absolute: f64, percent: f64 },
}

impl From<Accuracy> for evidence::Accuracy {
    fn from(accuracy: Accuracy) -> Self {
        match accuracy {
            Accuracy::Class { percent, full_scale } => Self::Class { percent, full_scale },
            Accuracy::MaximumPermissibleError { absolute, percent } => {
                Self::MaximumPermissibleError { absolute, percent }
            }
        }
    }
}

impl From<evidence::Accuracy> for Accuracy {
    fn from(accuracy: evidence::Accuracy) -> Self {
        match accuracy {
            evidence::Accuracy::Class { percent, full_scale } => Self::Class { percent, full_scale },
            evidence::Accuracy::MaximumPermissibleError { absolute, percent } => {
                Self::MaximumPermissibleError { absolute, percent }
            }
        }
    }
}

impl From<Instrument> for evidence::Instrument {
    fn from(instrument: Instrument) -> Self {
        Self {
            kind: instrument.kind.into(),
            name: instrument.name,
            accuracy: instrument.accuracy.map(Into::into),
            resolution: instrument.resolution,
            calibrated_on: instrument.calibrated_on,
            calibration_due: instrument.calibration_due,
        }
    }
}

impl From<evidence::Instrument> for Instrument {
    fn from(instrument: evidence::Instrument) -> Self {
        Self {
            kind: instrument.kind.into(),
            name: instrument.name,
            accuracy: instrument.accuracy.map(Into::into),
            resolution: instrument.resolution,
            calibrated_on: instrument.calibrated_on,
            calibration_due: instrument.calibration_due,
        }
    }
}
