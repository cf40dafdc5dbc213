//! What is read on the water: pressures, fills, tightness, wash, drain, quality.

use domain::evidence::{Censored, InstrumentKind, Reading, Series};
use domain::vocabulary::Position;

use super::reading::{CLAMP, GAUGE, JUG, Scale, THERMOMETER, WATCH, key, measured};
use super::{Bench, Taken};
use crate::defect::Defect;
use crate::physics::{Wash, supply};

const BUCKET_L: f64 = 8.0;
/// How long the procedures let a shut valve drip and a sump stand, s.
const DRIP_S: f64 = 120.0;
const STAND_S: f64 = 180.0;

impl Bench<'_> {
    fn give_up_after(&self) -> f64 {
        3.0 * self.machine.design.fill_limit_s
    }

    fn state_pressure(&self, taken: &mut Taken) {
        taken.conditions.dynamic_pressure = self.seen.dynamic_bar.map(|bar| measured(bar, GAUGE));
        let water = (self.surroundings.water_cel * 2.0).round() / 2.0;
        taken.conditions.water_temperature = Some(measured(water, THERMOMETER));
    }

    pub(super) fn inlet_pressure(&mut self, taken: &mut Taken) {
        let (machine, severities, surroundings) = (self.machine, self.severities, self.surroundings);
        let full = machine.full_l();
        let fill = machine.fill(severities, &surroundings, 0.0, full, 15.0, self.random);
        let read = self.measure(taken, "static_pressure", supply(severities, &surroundings), GAUGE);
        self.seen.static_bar = Some(read);
        if fill.litres > 0.0 {
            let read = self.measure(taken, "dynamic_pressure", fill.dynamic_bar, GAUGE);
            self.seen.dynamic_bar = Some(read);
            if machine.design.has(Position::InletStrainer) && self.random.chance(0.3) {
                let after = fill.after_strainer_bar;
                let read = self.measure(taken, "downstream_pressure", after, GAUGE);
                self.seen.downstream_bar = Some(read);
            }
        } else {
            Self::not_read(taken, "dynamic_pressure", "No water flowed.");
        }
    }

    pub(super) fn fill_time(&mut self, taken: &mut Taken) {
        let full = self.machine.full_l();
        let patience = self.give_up_after();
        let fill =
            self.machine.fill(self.severities, &self.surroundings, 0.0, full, patience + 5.0, self.random);
        taken.conditions.confirmed.insert(key("sump_empty"));
        self.state_pressure(taken);
        self.seen.fill = Some(self.time(taken, "fill_time", fill.seconds, patience, WATCH));
    }

    pub(super) fn start_up_catch(&mut self, taken: &mut Taken) {
        let call = self.machine.design.call_s;
        let fill = self.machine.fill(self.severities, &self.surroundings, 0.0, BUCKET_L, call, self.random);
        self.state_pressure(taken);
        Self::number(taken, "bucket_volume", BUCKET_L, JUG, None);
        let read = self.read(fill.litres, JUG).min(BUCKET_L);
        let brim = (fill.seconds.is_some() || read >= BUCKET_L).then_some(Censored::AtLeast);
        let read = if brim.is_some() { BUCKET_L } else { read };
        Self::number(taken, "caught", read, JUG, brim);
    }

    pub(super) fn valve_shuts_tight(&mut self, taken: &mut Taken) {
        let cup = Scale {
            kind: InstrumentKind::MeasuringJug,
            unit: "mL",
            decimals: 0,
            relative: 0.05,
            absolute: 0.7,
        };
        let passed =
            self.machine.passes_l_per_min(self.severities, &self.surroundings) * DRIP_S / 60.0 * 1000.0;
        self.seen.passed_ml = Some(self.measure(taken, "passed", passed, cup));
    }

    pub(super) fn sump_holds(&mut self, taken: &mut Taken) {
        self.filled(taken);
        let ruler =
            Scale { kind: InstrumentKind::Ruler, unit: "mm", decimals: 0, relative: 0.02, absolute: 0.5 };
        let lost = self.machine.seat_leak(self.severities) * self.machine.full_l().sqrt() * STAND_S;
        let gained = self.machine.passes_l_per_min(self.severities, &self.surroundings) * STAND_S / 60.0;
        let fall = ((lost - gained) / self.machine.design.sump_surface_m2)
            .clamp(0.0, self.machine.full_l() / self.machine.design.sump_surface_m2);
        self.seen.level_fall_mm = Some(self.measure(taken, "level_fall", fall, ruler));
    }

    /// Where the machine's own fill ends, unless its patience ends first.
    fn filled(&mut self, taken: &mut Taken) {
        let (machine, severities) = (self.machine, self.severities);
        let (stop, patience) = (machine.stops_at_l(severities), machine.design.patience_s);
        let fill = machine.fill(severities, &self.surroundings, 0.0, stop, patience, self.random);
        self.seen.stops_at = None;
        if fill.seconds.is_some() {
            let read = self.measure(taken, "filled", stop, JUG);
            self.seen.stops_at = Some(read / machine.full_l());
        } else if fill.litres <= 0.0 {
            self.measure(taken, "filled", 0.0, JUG);
        } else {
            Self::not_read(taken, "filled", "The machine gave up before the water reached its sensor.");
        }
    }

    pub(super) fn wash_flow_hold(&mut self, taken: &mut Taken) {
        let (machine, severities, surroundings) = (self.machine, self.severities, self.surroundings);
        let (full, run) = (machine.full_l(), machine.design.run_s);
        // most pour a known volume up to the mark; the others let the machine fill
        let level = if self.random.chance(0.8) {
            full * self.random.normal(1.0, 0.015)
        } else {
            let stop = machine.stops_at_l(severities).min(1.1 * full);
            machine.fill(severities, &surroundings, 0.0, stop, machine.design.patience_s, self.random).litres
        };
        let wash = machine.wash(severities, &surroundings, level, run, self.random);
        taken.conditions.door_closed = Some(true);
        let read = self.measure(taken, "level_before", level, JUG);
        self.seen.level_before = Some(read / full);
        Self::number(taken, "run_length", run, WATCH, None);
        let strength = wash.first_l_per_min / 60.0 / machine.design.pump_flow();
        let strength = match strength + self.random.normal(0.0, self.habits.eye * 0.5) {
            _ if wash.first_l_per_min <= 0.0 => "none",
            judged if judged > 0.78 => "strong",
            judged if judged > 0.05 => "weak",
            _ => "none",
        };
        Self::choose(taken, "strength", strength);
        self.seen.strength = Some(strength);
        self.sound(taken, &wash);
        if strength == "none" {
            Self::not_read(taken, "hold_time", "There was no flow to fall.");
        } else {
            let held = self.time(taken, "hold_time", wash.held_s, run, WATCH);
            self.seen.hold = Some(held);
        }
        let blocked = self.judged(severities[Defect::SprayBlocked]);
        let pattern = match () {
            () if strength == "none" => "dry",
            () if blocked > 0.4 => "uneven",
            () => "even",
        };
        Self::choose(taken, "pattern", pattern);
        self.seen.pattern = Some(pattern);
        if self.random.chance(0.7) {
            let under = wash.below_l * self.random.factor(0.3);
            let below = match () {
                () if under < 0.1 => "dry",
                () if under < 0.6 => "drips",
                () => "runs",
            };
            Self::choose(taken, "below", below);
            self.seen.below = Some(below);
        }
        if self.random.chance(0.75) {
            let read = self.measure(taken, "motor_current", wash.current_a, CLAMP);
            self.seen.current = Some(read / machine.design.pump_current_a);
        }
        if self.flow_meter && strength != "none" {
            let values: Vec<_> = wash.series.iter().map(|flow| (flow * 10.0).round() / 10.0).collect();
            let times_s = (0..values.len()).map(|second| second as f64).collect();
            let series = Series { values, times_s, unit: "L/min".to_owned(), instrument: None };
            taken.readings.push(Reading::series(key("flow"), series));
        }
    }

    /// What is heard of the motor, by most who stand beside it.
    fn sound(&mut self, taken: &mut Taken, wash: &Wash) {
        self.seen.hums = false;
        if !self.random.chance(0.85) {
            return;
        }
        let sound = match () {
            () if wash.hums => "hums",
            () if wash.current_a <= 0.0 => "silent",
            () => "runs",
        };
        Self::choose(taken, "sound", sound);
        self.seen.hums = sound == "hums";
    }

    pub(super) fn drain_time(&mut self, taken: &mut Taken) {
        let full = self.machine.full_l();
        let patience = self.give_up_after();
        let drain = self.machine.drain(self.severities, full, patience, self.random);
        taken.conditions.confirmed.insert(key("sump_full"));
        let timed = self.time(taken, "drain_time", drain.seconds, patience, WATCH);
        self.measure(taken, "residue", drain.residue_l, JUG);
        self.seen.drain = Some(timed);
        if !timed.reached || self.random.chance(0.25) {
            let pour = match () {
                () if drain.backs_up => "backs_up",
                () if !drain.building_takes => "slow",
                () => "runs_off",
            };
            Self::choose(taken, "pour_test", pour);
            self.seen.pour = Some(pour);
        }
    }

    pub(super) fn water_quality(&mut self, taken: &mut Taken) {
        let kit =
            Scale { kind: InstrumentKind::TestKit, unit: "mg/L", decimals: 0, relative: 0.06, absolute: 4.0 };
        let hardness = self.surroundings.hardness_mg_per_l;
        self.seen.hardness_mg_per_l = Some(self.measure(taken, "hardness", hardness, kit).max(1.0));
        if self.random.chance(0.4) {
            let meter = Scale {
                kind: InstrumentKind::ConductivityMeter,
                unit: "uS/cm",
                decimals: 0,
                relative: 0.02,
                absolute: 3.0,
            };
            let conductivity = 120.0 + 2.1 * hardness;
            self.measure(taken, "conductivity", conductivity, meter);
        }
    }

    pub(super) fn rinse_clear(&mut self, taken: &mut Taken) {
        let severity = self
            .judged(self.severities[Defect::RinseFails].max(0.6 * self.severities[Defect::ChemicalWrong]));
        let water = self.machine.expected_fill_flow(self.severities, &self.surroundings) > 0.5;
        let clarity = match () {
            () if !water || severity > 0.9 => "no_water",
            () if severity > Defect::NOTICEABLE => "cloudy",
            () => "clear",
        };
        Self::choose(taken, "clarity", clarity);
        self.seen.clarity = Some(clarity);
        if clarity == "no_water" {
            Self::not_read(taken, "ph", "No rinse water came.");
        } else {
            self.rinse_ph(taken);
        }
    }

    /// The pH of the last water.
    pub(super) fn rinse_ph(&mut self, taken: &mut Taken) {
        let strip = Scale {
            kind: InstrumentKind::TestStrip,
            unit: "[pH]",
            decimals: 1,
            relative: 0.0,
            absolute: 0.2,
        };
        let ph = 7.4 + 4.0 * self.severities[Defect::RinseFails];
        let mut read = self.read(ph, strip).min(14.0);
        // what looks wrong is dipped again
        if !(6.0..=8.5).contains(&read) {
            read = self.read(ph, strip).min(14.0);
        }
        Self::number(taken, "ph", read, strip, None);
    }
}
