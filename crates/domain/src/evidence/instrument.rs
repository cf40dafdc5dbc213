use chrono::{Months, NaiveDate};
use serde::{Deserialize, Serialize};

use crate::text::Name;

/// What a value was read with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Instrument {
    pub kind: InstrumentKind,
    /// The company's own name or number for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<Name>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<Accuracy>,
    /// Smallest step of the display or the scale, in the unit of the reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resolution: Option<f64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibrated_on: Option<NaiveDate>,
    /// A year after the calibration where it does not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_due: Option<NaiveDate>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InstrumentKind {
    DialGauge,
    DigitalGauge,
    Stopwatch,
    /// A clock that the machine or the phone starts and stops itself.
    AutomaticTimer,
    Bucket,
    MeasuringJug,
    Ruler,
    FlowMeter,
    Thermometer,
    Multimeter,
    CurrentClamp,
    InsulationTester,
    CapacitanceMeter,
    TestKit,
    TestStrip,
    PhMeter,
    ConductivityMeter,
    Other,
}

/// The error that the instrument may have by its maker's or its calibration's word.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Accuracy {
    /// Accuracy class: per cent of the full scale, which is in the unit of the reading (EN 837-1).
    Class { percent: f64, full_scale: f64 },
    /// Maximum permissible error `absolute + percent of the reading`, absolute in its unit.
    MaximumPermissibleError { absolute: f64, percent: f64 },
}

/// Whether an instrument could be trusted on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Calibration {
    /// In date, or nothing is known of its calibration.
    Valid,
    /// Out of date by at most a year.
    Expired,
    /// Out of date for longer.
    LongExpired,
}

impl Instrument {
    /// The state of its calibration on `day`. Common practice, no source: a year's interval unless it
    /// says otherwise.
    pub fn calibration(&self, day: NaiveDate) -> Calibration {
        let year = Months::new(12);
        let from_calibration = self.calibrated_on.and_then(|date| date.checked_add_months(year));
        let Some(due) = self.calibration_due.or(from_calibration) else { return Calibration::Valid };
        if day <= due {
            Calibration::Valid
        } else if due.checked_add_months(year).is_some_and(|end| day <= end) {
            Calibration::Expired
        } else {
            Calibration::LongExpired
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calibration_lasts_a_year_and_is_doubtful_for_another() {
        let date = |text: &str| text.parse::<NaiveDate>().unwrap();
        let mut gauge = Instrument {
            kind: InstrumentKind::DialGauge,
            name: None,
            accuracy: None,
            resolution: None,
            calibrated_on: Some(date("2025-03-01")),
            calibration_due: None,
        };
        assert_eq!(gauge.calibration(date("2026-03-01")), Calibration::Valid);
        assert_eq!(gauge.calibration(date("2026-03-02")), Calibration::Expired);
        assert_eq!(gauge.calibration(date("2027-03-02")), Calibration::LongExpired);
        gauge.calibration_due = Some(date("2028-01-01"));
        assert_eq!(gauge.calibration(date("2027-03-02")), Calibration::Valid);
        gauge.calibrated_on = None;
        gauge.calibration_due = None;
        assert_eq!(gauge.calibration(date("2099-01-01")), Calibration::Valid);
    }
}
