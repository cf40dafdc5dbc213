use domain::evidence::{Censored, Instrument, InstrumentKind, Measured, Reading};
use domain::quantity::AsRead;
use domain::text::{Key, Text};

use super::{Bench, Taken};
use crate::history::Code;

/// How an instrument shows a quantity.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub kind: InstrumentKind,
    pub unit: Code,
    pub decimals: usize,
    /// Standard error as a share of the value, and beside it.
    pub relative: f64,
    pub absolute: f64,
}

pub(super) const GAUGE: Scale =
    Scale { kind: InstrumentKind::DialGauge, unit: "bar", decimals: 2, relative: 0.01, absolute: 0.03 };
pub(super) const WATCH: Scale =
    Scale { kind: InstrumentKind::Stopwatch, unit: "s", decimals: 1, relative: 0.0, absolute: 0.54 };
pub(super) const JUG: Scale =
    Scale { kind: InstrumentKind::MeasuringJug, unit: "L", decimals: 2, relative: 0.015, absolute: 0.03 };
pub(super) const CLAMP: Scale =
    Scale { kind: InstrumentKind::CurrentClamp, unit: "A", decimals: 2, relative: 0.02, absolute: 0.03 };
pub(super) const VOLTMETER: Scale =
    Scale { kind: InstrumentKind::Multimeter, unit: "V", decimals: 0, relative: 0.005, absolute: 0.6 };
pub(super) const THERMOMETER: Scale =
    Scale { kind: InstrumentKind::Thermometer, unit: "Cel", decimals: 1, relative: 0.0, absolute: 0.4 };

/// Share of looks that go wrong outright.
const SEEN_WRONG: f64 = 0.001;

/// How often a reading goes wrong outright, and how many of such readings still lie near the truth.
struct Slip {
    chance: f64,
    near: f64,
}

/// Common practice, no source: a meter shows what there is unless it is held wrongly, a gauge or a jug
/// is misread now and then, a hand on a watch more often.
fn slip_of(kind: InstrumentKind) -> Slip {
    match kind {
        InstrumentKind::Multimeter
        | InstrumentKind::CapacitanceMeter
        | InstrumentKind::InsulationTester
        | InstrumentKind::CurrentClamp
        | InstrumentKind::ConductivityMeter
        | InstrumentKind::Thermometer => Slip { chance: 0.003, near: 0.0 },
        InstrumentKind::Stopwatch => Slip { chance: 0.02, near: 0.7 },
        _ => Slip { chance: 0.01, near: 0.7 },
    }
}

/// What an instrument of that scale shows at that value.
#[expect(clippy::expect_used, reason = "a formatted finite number is a short text")]
pub(super) fn measured(value: f64, scale: Scale) -> Measured {
    let text = format!("{value:.*}", scale.decimals);
    let as_read = AsRead {
        text: Text::new(text).expect("a formatted number has from 1 to 100 characters"),
        value,
        unit: scale.unit.to_owned(),
        hardness_scale: None,
    };
    let instrument = Instrument {
        kind: scale.kind,
        name: None,
        accuracy: None,
        resolution: Some(libm::pow(10.0, -(scale.decimals as f64))),
        calibrated_on: None,
        calibration_due: None,
    };
    Measured { instrument: Some(instrument), ..Measured::new(as_read) }
}

/// A key of the catalogue, written out in this crate.
#[expect(clippy::expect_used, reason = "a test checks every run against its procedure")]
pub(crate) fn key(code: Code) -> Key {
    Key::new(code).expect("a key of the catalogue")
}

impl Bench<'_> {
    /// A value as read: instrument error, and now and then a plain misreading.
    pub(super) fn read(&mut self, value: f64, scale: Scale) -> f64 {
        let spread = (scale.relative * value).hypot(scale.absolute);
        let mut read = value + self.random.normal(0.0, spread);
        let slip = slip_of(scale.kind);
        if self.random.chance(slip.chance * self.habits.carelessness) {
            // a clock stopped late, a mark misread; or a wrong range, a wrong pair of terminals
            let far = if self.random.chance(slip.near) { 0.4 } else { 1.5 };
            read *= self.random.factor(far);
        }
        let digits = libm::pow(10.0, scale.decimals as f64);
        (read.max(0.0) * digits).round() / digits
    }

    pub(super) fn number(
        taken: &mut Taken,
        step: Code,
        value: f64,
        scale: Scale,
        censored: Option<Censored>,
    ) {
        let measured = Measured { censored, ..measured(value, scale) };
        taken.readings.push(Reading::value(key(step), measured));
    }

    /// Reads and records.
    pub(super) fn measure(&mut self, taken: &mut Taken, step: Code, value: f64, scale: Scale) -> f64 {
        let read = self.read(value, scale);
        // Even a misread strip shows a colour of its own scale.
        let read = if scale.unit == "[pH]" { read.clamp(0.0, 14.0) } else { read };
        Self::number(taken, step, read, scale, None);
        read
    }

    /// A time by hand: `None` was given up after `patience` seconds.
    pub(super) fn time(
        &mut self,
        taken: &mut Taken,
        step: Code,
        seconds: Option<f64>,
        patience: f64,
        scale: Scale,
    ) -> super::Timed {
        let reached = seconds.is_some_and(|seconds| seconds <= patience);
        let seconds = if reached { seconds.unwrap_or(patience) * self.habits.time_bias } else { patience };
        let (read, censored) = if reached {
            (self.read(seconds, scale).max(0.1), None)
        } else {
            (seconds, Some(Censored::AtLeast))
        };
        Self::number(taken, step, read, scale, censored);
        super::Timed { seconds: read, reached }
    }

    pub(super) fn choose(taken: &mut Taken, step: Code, choice: Code) {
        taken.readings.push(Reading::choice(key(step), key(choice)));
    }

    pub(super) fn not_read(taken: &mut Taken, step: Code, reason: &'static str) {
        taken.not_tested.push((step, reason));
    }

    /// A severity as the eye judges it. Where nothing is there is nothing to misjudge; what is there is
    /// taken for a little more or less; and once in a thousand looks somebody sees what is not so.
    pub(super) fn judged(&mut self, severity: f64) -> f64 {
        if self.random.chance(SEEN_WRONG * self.habits.carelessness) {
            return self.random.uniform();
        }
        severity + self.random.normal(0.0, self.habits.eye * (0.2 + severity).min(1.0))
    }
}
