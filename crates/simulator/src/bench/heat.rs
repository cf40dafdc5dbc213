use domain::equipment::WashStage;
use domain::evidence::InstrumentKind;

use super::reading::{Scale, THERMOMETER, VOLTMETER, measured};
use super::{Bench, Taken};

/// The steps that time the stages, in their order.
const STEPS: [&str; 3] = ["time_to_first_stage", "time_to_second_stage", "time_to_third_stage"];

/// By this stage people judge the heating: the first tells little yet, the third takes long.
pub(crate) const JUDGED_BY: WashStage = WashStage::Second;

/// A watch beside the machine's display.
const DISPLAY: Scale =
    Scale { kind: InstrumentKind::Stopwatch, unit: "s", decimals: 0, relative: 0.0, absolute: 2.5 };

impl Bench<'_> {
    pub(super) fn steam(&mut self, taken: &mut Taken) {
        let watch =
            Scale { kind: InstrumentKind::Stopwatch, unit: "s", decimals: 0, relative: 0.0, absolute: 2.0 };
        let steam = self.machine.steam(self.severities, &self.surroundings, self.random);
        let strength = match steam.strength + self.random.normal(0.0, 0.5 * self.habits.eye) {
            strength if strength > 0.7 => "full",
            strength if strength > 0.2 => "weak",
            _ => "none",
        };
        let timed = if strength == "none" {
            Self::not_read(taken, "time_to_steam", "No steam came.");
            super::Timed { seconds: 300.0, reached: false }
        } else {
            self.time(taken, "time_to_steam", steam.seconds, 300.0, watch)
        };
        Self::choose(taken, "strength", strength);
        self.seen.steam = Some(timed);
    }

    pub(super) fn staged_heating(&mut self, taken: &mut Taken) {
        let patience = self.patience_for_heat();
        let heating = self.machine.heat(self.severities, &self.surroundings, patience, self.random);
        let volts = self.seen.supply.map(|supply| supply * self.machine.design.voltage_v);
        taken.conditions.supply_voltage = volts.map(|volts| measured(volts.round(), VOLTMETER));
        self.measure(taken, "start_temperature", heating.start_cel, THERMOMETER);
        for ((stage, step), seconds) in WashStage::ALL.into_iter().zip(STEPS).zip(heating.to_stage_s) {
            let timed = self.time(taken, step, seconds, patience, DISPLAY);
            if stage == JUDGED_BY {
                self.seen.heating = Some(timed);
            }
        }
    }

    pub(super) fn probe_check(&mut self, taken: &mut Taken) {
        // signed, unlike what a gauge shows
        let off = self.machine.probe_error_cel(self.severities) + self.random.normal(0.0, 0.5);
        let off = (off * 10.0).round() / 10.0;
        let scale = Scale { unit: "K", ..THERMOMETER };
        Self::number(taken, "probe_above_reference", off, scale, None);
        self.seen.probe_off_k = Some(off);
    }

    /// The same heating as the display shows it while a cycle runs, the sprays cooling a little.
    pub(super) fn heating_in_the_cycle(&mut self, taken: &mut Taken) {
        let patience = self.patience_for_heat();
        let heating = self.machine.heat(self.severities, &self.surroundings, patience, self.random);
        self.measure(taken, "start_temperature", heating.start_cel, THERMOMETER);
        let first = heating.to_stage_s.first().copied().flatten();
        let seconds = first.map(|seconds| seconds * self.random.factor(0.04));
        self.time(taken, STEPS[0], seconds, patience, DISPLAY);
    }

    fn patience_for_heat(&self) -> f64 {
        (24.0 * self.machine.design.fill_limit_s).clamp(900.0, 2400.0)
    }
}
