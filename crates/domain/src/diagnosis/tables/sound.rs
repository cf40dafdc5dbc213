use super::{Hypothesis, HypothesisKind};
use crate::diagnosis::likelihood::on_scale;
use crate::equipment::{Change, FaultCatalogue, MeasurementModel, Reads, Target};

/// What a sound machine reads, of measurements that have values of their own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::diagnosis) struct SoundReading {
    /// On the measurement's scale.
    pub value: f64,
    /// The side to which the faults lead, if it is one: beyond the sound value on the other there is nothing
    /// wrong.
    pub worse: Option<Side>,
    /// It is read on a part itself, and not on what the machine does.
    pub of_part: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::diagnosis) enum Side {
    Higher,
    Lower,
}

/// By measurement.
pub(super) fn readings(catalogue: &FaultCatalogue, hypotheses: &[Hypothesis]) -> Vec<Option<SoundReading>> {
    let of = |measurement: &MeasurementModel| {
        let Reads::Own { healthy, .. } = measurement.reads else { return None };
        let (mut higher, mut lower) = (false, false);
        for by in changes(catalogue, hypotheses, measurement) {
            higher |= by > 0.0;
            lower |= by < 0.0;
        }
        let worse = match (higher, lower) {
            (true, false) => Some(Side::Higher),
            (false, true) => Some(Side::Lower),
            _ => None,
        };
        let value = on_scale(measurement.scale, healthy);
        Some(SoundReading { value, worse, of_part: measurement.of_part })
    };
    catalogue.measurements.iter().map(of).collect()
}

/// By how much faults that can arise change a value, up or down.
fn changes<'a>(
    catalogue: &'a FaultCatalogue,
    hypotheses: &'a [Hypothesis],
    measurement: &'a MeasurementModel,
) -> impl Iterator<Item = f64> + 'a {
    let faults = hypotheses.iter().filter_map(|hypothesis| match hypothesis.kind {
        HypothesisKind::Fault(fault) => Some(&catalogue.faults[fault]),
        HypothesisKind::Other => None,
    });
    let on_this = |target: &Target| matches!(target, Target::Measurement(key) if *key == measurement.key);
    faults.flat_map(|fault| &fault.effects).filter(move |effect| on_this(&effect.on)).flat_map(|effect| {
        let sound = if matches!(effect.change, Change::Scale(_)) { 1.0 } else { 0.0 };
        effect.change.extents().iter().flat_map(move |extent| [extent.from() - sound, extent.to() - sound])
    })
}
