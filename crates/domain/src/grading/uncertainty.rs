//! The standard uncertainty of a reading, from what is known of how it was read.
//!
//! JCGM 100:2008 (GUM): components are combined in squares; a maximum permissible error or the limit of
//! an accuracy class counts as rectangular, `a/√3` (4.3.7); a resolution as rectangular over its step,
//! `d/√12` (F.2.2.1); n repeats with standard deviation s add `s²/n`. Hand timing (0.21 s) and judging
//! "full" by eye (0.5 s) are common practice, no source, as are the errors assumed where no instrument
//! says its own.

use super::GradingError;
use crate::evidence::{Accuracy, Calibration, Censored, Instrument, InstrumentKind, Measured, Series};
use crate::procedure::{Reads, Step};
use crate::quantity::{AsReadError, Hardness, QuantityKind};
use crate::text::Key;
use crate::time::Timestamp;

/// Standard uncertainty of starting and stopping a watch by hand, s.
const HAND_TIMING_S: f64 = 0.21;
/// Standard uncertainty of judging by eye when something is full or ends, s.
const JUDGING_S: f64 = 0.5;
/// By how much an instrument out of calibration for up to a year widens.
const EXPIRED_FACTOR: f64 = 2.0;

/// A reading in the canonical unit of its quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assessed {
    pub value: f64,
    /// Greater than 0.
    pub standard_uncertainty: f64,
    pub censored: Option<Censored>,
    pub calibration: Calibration,
}

/// Canonical value and combined standard uncertainty of a reading of a measuring step.
///
/// An uncertainty that came with the reading stands for all but the repeats; it and the instrument's
/// own share are doubled where the calibration had expired.
pub fn assess(measured: &Measured, step: &Step, taken_at: Timestamp) -> Result<Assessed, GradingError> {
    match step.reads {
        Reads::Measure { quantity, judged, .. } => assess_as(measured, quantity, judged, &step.key, taken_at),
        _ => Err(GradingError::ReadingDoesNotFit { step: step.key.clone() }),
    }
}

/// A reading of what the building gives, taken at another machine of the kitchen: less sure, by what the
/// supply moves between two machines and between two hours of a day. A tenth of a pressure and a fiftieth
/// of a voltage are common practice, no source.
pub(super) fn assess_elsewhere(
    measured: &Measured,
    step: &Step,
    taken_at: Timestamp,
) -> Result<Assessed, GradingError> {
    let read = assess(measured, step, taken_at)?;
    let share = if step.quantity() == Some(QuantityKind::Voltage) { 0.02 } else { 0.1 };
    Ok(Assessed { standard_uncertainty: read.standard_uncertainty.hypot(share * read.value), ..read })
}

/// The same for a condition, which no step describes.
pub(super) fn assess_as(
    measured: &Measured,
    quantity: QuantityKind,
    judged: bool,
    step: &Key,
    taken_at: Timestamp,
) -> Result<Assessed, GradingError> {
    let fault = |source: AsReadError| GradingError::Reading { step: step.clone(), source };
    let value = measured.as_read.canonical(quantity).map_err(fault)?;
    let width = |width: f64| interval(measured, quantity, width).map_err(fault);
    let calibration = calibration(measured.instrument.as_ref(), taken_at);
    let mut instrument = if let Some(stated) = measured.standard_uncertainty {
        width(stated)?
    } else {
        let unit = |value: f64| value;
        let own =
            own_error(measured.instrument.as_ref(), measured.as_read.value, unit).map(width).transpose()?;
        let error = own.unwrap_or_else(|| assumed_error(kind(measured.instrument.as_ref()), quantity, value));
        let resolution = measured.instrument.as_ref().and_then(|instrument| instrument.resolution);
        let resolution = resolution.map(width).transpose()?.unwrap_or(0.0);
        (error / 3.0_f64.sqrt()).hypot(resolution / 12.0_f64.sqrt())
    };
    if calibration != Calibration::Valid {
        instrument *= EXPIRED_FACTOR;
    }
    // In squares, by a way that does not overflow.
    let mut combined = instrument;
    if measured.standard_uncertainty.is_none() && quantity == QuantityKind::Duration {
        let by_hand = kind(measured.instrument.as_ref()) != Some(InstrumentKind::AutomaticTimer);
        combined = combined.hypot(if by_hand { HAND_TIMING_S } else { 0.0 });
        combined = combined.hypot(if judged { JUDGING_S } else { 0.0 });
    }
    if let Some(repeats) = measured.repeats {
        let spread = width(repeats.standard_deviation)?;
        combined = combined.hypot(spread / f64::from(repeats.count.max(1)).sqrt());
    }
    // A reading of 0 by a purely relative error would be certain, which nothing is.
    let standard_uncertainty = combined.clamp(smallest(quantity), f64::MAX);
    Ok(Assessed { value, standard_uncertainty, censored: measured.censored, calibration })
}

/// Standard uncertainty of one sample of a series, in the canonical unit, and the instrument's state.
/// `typical` is a sample's canonical value.
pub(super) fn of_sample(
    series: &Series,
    quantity: QuantityKind,
    typical: f64,
    taken_at: Timestamp,
) -> (f64, Calibration) {
    let instrument = series.instrument.as_ref();
    let as_read = quantity.from_canonical(typical, &series.unit).unwrap_or(typical);
    let width = |width: f64| quantity.interval_to_canonical(width, &series.unit).unwrap_or(width);
    let error = own_error(instrument, as_read, width)
        .unwrap_or_else(|| assumed_error(kind(instrument), quantity, typical));
    let resolution = instrument.and_then(|instrument| instrument.resolution).map_or(0.0, width);
    let calibration = calibration(instrument, taken_at);
    let factor = if calibration == Calibration::Valid { 1.0 } else { EXPIRED_FACTOR };
    let u = factor * (error / 3.0_f64.sqrt()).hypot(resolution / 12.0_f64.sqrt());
    (u.max(smallest(quantity)), calibration)
}

fn calibration(instrument: Option<&Instrument>, taken_at: Timestamp) -> Calibration {
    instrument
        .map_or(Calibration::Valid, |instrument| instrument.calibration(taken_at.instant().date_naive()))
}

fn kind(instrument: Option<&Instrument>) -> Option<InstrumentKind> {
    instrument.map(|instrument| instrument.kind)
}

/// The error that the instrument says of itself.
fn own_error(instrument: Option<&Instrument>, as_read: f64, width: impl Fn(f64) -> f64) -> Option<f64> {
    let error = match instrument?.accuracy? {
        Accuracy::Class { percent, full_scale } => percent / 100.0 * full_scale,
        Accuracy::MaximumPermissibleError { absolute, percent } => absolute + percent / 100.0 * as_read.abs(),
    };
    Some(width(error))
}

/// A width in the unit as read, in the canonical unit.
fn interval(measured: &Measured, quantity: QuantityKind, width: f64) -> Result<f64, AsReadError> {
    match measured.as_read.hardness_scale {
        Some(scale) => Ok(Hardness::from_degrees(width, scale)?.millimoles_per_litre()),
        None => Ok(quantity.interval_to_canonical(width, &measured.as_read.unit)?),
    }
}

/// The maximum permissible error of an ordinary instrument, in the canonical unit: what a technician
/// carries. Common practice, no source.
#[expect(clippy::match_same_arms, reason = "one line a quantity; equal numbers are accidents")]
fn assumed_error(kind: Option<InstrumentKind>, quantity: QuantityKind, value: f64) -> f64 {
    let share = |percent: f64| percent / 100.0 * value.abs();
    match (kind, quantity) {
        // Timing by hand and by eye has its own entries.
        (Some(InstrumentKind::AutomaticTimer), QuantityKind::Duration) => 0.1,
        (_, QuantityKind::Duration) => 0.0,
        // A gauge of class 2.5 to 6 bar; a digital one of 0.5 % to 10 bar.
        (
            Some(InstrumentKind::DigitalGauge),
            QuantityKind::StaticPressure | QuantityKind::DynamicPressure,
        ) => 0.05,
        (_, QuantityKind::StaticPressure | QuantityKind::DynamicPressure) => 0.15,
        (_, QuantityKind::AbsolutePressure) => 0.02,
        (_, QuantityKind::Temperature | QuantityKind::TemperatureInterval) => 1.0,
        (Some(InstrumentKind::MeasuringJug), QuantityKind::Volume) => 0.005 + share(2.0),
        (_, QuantityKind::Volume) => 0.005 + share(5.0),
        (_, QuantityKind::Voltage) => 0.5 + share(1.5),
        (_, QuantityKind::Current) => 0.05 + share(3.0),
        (_, QuantityKind::Resistance) => 0.2 + share(1.5),
        (_, QuantityKind::InsulationResistance) => 0.1 + share(10.0),
        (_, QuantityKind::Capacitance) => 0.05 + share(3.0),
        (Some(InstrumentKind::PhMeter), QuantityKind::Ph) => 0.1,
        (_, QuantityKind::Ph) => 0.5,
        (_, QuantityKind::Ratio) => 2.0,
        (_, QuantityKind::Length) => 0.001,
        (_, QuantityKind::Altitude) => 50.0,
        (_, QuantityKind::Count) => 0.5,
        (_, QuantityKind::Frequency | QuantityKind::RotationalSpeed) => share(1.0),
        (_, QuantityKind::Hardness | QuantityKind::Alkalinity | QuantityKind::MassConcentration) => {
            share(10.0)
        }
        _ => share(5.0),
    }
}

/// The least standard uncertainty that any reading of the quantity has.
fn smallest(quantity: QuantityKind) -> f64 {
    match quantity {
        QuantityKind::Volume | QuantityKind::Length => 1e-4,
        QuantityKind::Duration => 1e-3,
        _ => 1e-6,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::Repeats;
    use crate::quantity::AsRead;

    fn at_noon() -> Timestamp {
        "2026-03-02T12:00:00Z".parse().unwrap()
    }

    fn read(value: f64, unit: &str) -> Measured {
        Measured::new(AsRead::new(&value.to_string(), value, unit).unwrap())
    }

    fn instrument(kind: InstrumentKind, accuracy: Option<Accuracy>, resolution: Option<f64>) -> Instrument {
        Instrument { kind, name: None, accuracy, resolution, calibrated_on: None, calibration_due: None }
    }

    #[track_caller]
    fn check(measured: &Measured, quantity: QuantityKind, judged: bool, expected: f64) {
        let step = Key::new("step").unwrap();
        let u = assess_as(measured, quantity, judged, &step, at_noon()).unwrap().standard_uncertainty;
        assert!((u - expected).abs() < 1e-9, "{u} against {expected}");
    }

    #[test]
    fn times_by_hand_and_by_eye_add_in_squares() {
        check(&read(12.7, "s"), QuantityKind::Duration, false, 0.21);
        check(&read(12.7, "s"), QuantityKind::Duration, true, 0.21_f64.hypot(0.5));
        let mut timed = read(12.7, "s");
        timed.instrument = Some(instrument(InstrumentKind::AutomaticTimer, None, None));
        check(&timed, QuantityKind::Duration, false, 0.1 / 3.0_f64.sqrt());
    }

    #[test]
    fn class_and_resolution_are_rectangular() {
        let mut gauge = read(120.0, "kPa");
        let class = Accuracy::Class { percent: 1.6, full_scale: 1000.0 };
        gauge.instrument = Some(instrument(InstrumentKind::DialGauge, Some(class), Some(20.0)));
        // 16 kPa and a step of 20 kPa, in bar.
        let expected = (0.16 / 3.0_f64.sqrt()).hypot(0.2 / 12.0_f64.sqrt());
        check(&gauge, QuantityKind::DynamicPressure, false, expected);
        let permissible = Accuracy::MaximumPermissibleError { absolute: 2.0, percent: 5.0 };
        gauge.instrument = Some(instrument(InstrumentKind::DigitalGauge, Some(permissible), None));
        check(&gauge, QuantityKind::DynamicPressure, false, 0.08 / 3.0_f64.sqrt());
    }

    #[test]
    fn a_stated_uncertainty_stands_for_all_but_repeats() {
        let mut stated = read(19.9, "s");
        stated.standard_uncertainty = Some(0.3);
        check(&stated, QuantityKind::Duration, true, 0.3);
        stated.repeats = Some(Repeats { count: 4, standard_deviation: 0.8 });
        check(&stated, QuantityKind::Duration, true, 0.3_f64.hypot(0.4));
        let mut fahrenheit = read(131.0, "[degF]");
        fahrenheit.standard_uncertainty = Some(1.8);
        check(&fahrenheit, QuantityKind::Temperature, false, 1.0);
    }

    #[test]
    fn an_expired_instrument_widens_twofold() {
        let mut clamp = read(3.2, "A");
        clamp.standard_uncertainty = Some(0.1);
        clamp.instrument = Some(instrument(InstrumentKind::CurrentClamp, None, None));
        clamp.instrument.as_mut().unwrap().calibrated_on = Some("2024-09-01".parse().unwrap());
        check(&clamp, QuantityKind::Current, false, 0.2);
    }

    #[test]
    fn nothing_is_certain() {
        check(&read(0.0, "mg/L"), QuantityKind::MassConcentration, false, 1e-6);
    }
}
