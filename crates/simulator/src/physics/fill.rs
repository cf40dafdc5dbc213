use domain::vocabulary::Position;

use super::command::Output;
use super::machine::{Machine, Surroundings};
use crate::defect::{Defect, Severities, remains};
use crate::random::Random;

/// A fill of the sump, or of a bucket, as it really went.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Fill {
    /// From first water to the level at which it was stopped; `None` if that was not reached.
    pub seconds: Option<f64>,
    /// What went in.
    pub litres: f64,
    /// Mean pressures while water ran (static ones if none ran).
    pub dynamic_bar: f64,
    pub after_strainer_bar: f64,
    pub mean_l_per_min: f64,
}

/// Resistances in the way of the water, each Δp = (Q/Kv)^(1/n) with Q in m³/h.
struct Path {
    /// Sum of 1/Kv² of what follows the square law, before and after the inlet strainer.
    line: f64,
    rest: f64,
    strainer_kv: f64,
    strainer_exponent: f64,
    regulated_m3_per_h: f64,
}

impl Path {
    fn strainer_bar(&self, flow: f64) -> f64 {
        let relative = flow / self.strainer_kv;
        if self.strainer_exponent > 0.5 {
            libm::pow(relative, 1.0 / self.strainer_exponent)
        } else {
            relative * relative
        }
    }

    /// Pressure past the strainer, of a flow that the pressure at the tap drives.
    fn after_strainer_bar(&self, at_tap: f64, flow: f64) -> f64 {
        if flow < self.regulated_m3_per_h {
            // what is left is used up behind it
            self.rest * flow * flow
        } else {
            (at_tap - self.strainer_bar(flow)).max(0.0)
        }
    }
}

impl Machine {
    fn path(&self, severities: &Severities) -> Path {
        let design = &self.design;
        let fouled = severities[Defect::InletStrainerClogged];
        let misfit = 1.0 - 0.35 * severities[Defect::StrainerMisfitted];
        let spent =
            if design.has(Position::Treatment) { severities[Defect::TreatmentExhausted] } else { 0.0 };
        let treatment = remains(spent, 0.75).max(LEAST_OPENING);
        let shut = severities[Defect::SupplyValvePartShut];
        let cock = (1.0 - 0.97 * libm::sqrt(libm::sqrt(shut)) - 0.03 * shut.powi(12)).max(LEAST_OPENING);
        // a strainer put in the wrong way round lets dirt through to the one inside the valve
        let inner = (1.0 - 0.3 * severities[Defect::StrainerMisfitted] * fouled)
            * mesh_open(severities[Defect::ValveStrainerClogged]);
        let bare = design.kv_restrictor.is_none() && design.regulated_l_per_min.is_none();
        // where the nozzle has no data of its own it is part of the valve
        let nozzle_open = remains(severities[Defect::RestrictorScaled], 0.85).max(LEAST_OPENING);
        let own_nozzle = if bare { nozzle_open } else { 1.0 };
        let valve = remains(severities[Defect::FillValveWeak], 0.92).max(LEAST_OPENING) * own_nozzle;
        let square = |kv: f64| 1.0 / (kv * kv);
        // the first mesh in the way takes the dirt
        let (mesh, second) = match (design.kv_inlet_strainer, design.kv_valve_strainer) {
            (Some(inlet), second) => (inlet, second),
            (None, Some(only)) => (only, None),
            (None, None) => (f64::INFINITY, None),
        };
        let nozzle = design.kv_restrictor.map_or(0.0, |kv| square(kv * nozzle_open));
        let regulator_scaled =
            if design.kv_restrictor.is_none() { severities[Defect::RestrictorScaled] } else { 0.0 };
        Path {
            line: square(design.kv_line * self.kv_line * treatment * cock),
            rest: second.map_or(0.0, |kv| square(kv * inner))
                + square(design.kv_fill_valve * self.kv_fill_valve * valve)
                + nozzle,
            strainer_kv: mesh * misfit * mesh_open(fouled),
            strainer_exponent: 0.5 + 0.3 * fouled,
            regulated_m3_per_h: design
                .regulated_l_per_min
                .map_or(f64::INFINITY, |flow| flow * 0.06 * (1.0 - 0.7 * regulator_scaled)),
        }
    }

    /// Steady flow at that static pressure with the valve fully open, m³/h.
    fn steady_flow(path: &Path, static_pressure_bar: f64, guess: f64) -> f64 {
        if static_pressure_bar <= 0.0 {
            return 0.0;
        }
        let quadratic = path.line + path.rest;
        // Δp rises and curves upwards with Q, so Newton from any point above the root never overshoots
        let mut flow = guess.max(1e-6);
        for _ in 0..40 {
            let strainer = path.strainer_bar(flow);
            let excess = quadratic * flow * flow + strainer - static_pressure_bar;
            let slope = 2.0 * quadratic * flow + strainer / (path.strainer_exponent * flow);
            let next = (flow - excess / slope).max(flow * 0.1);
            // each step squares what was wrong: a change of 1e-5 leaves about 1e-10
            if (next - flow).abs() < 1e-5 * flow {
                flow = next;
                break;
            }
            flow = next;
        }
        flow.min(path.regulated_m3_per_h)
    }

    /// Litres a minute with the valve open, without anything that chance decides.
    pub fn expected_fill_flow(&self, severities: &Severities, surroundings: &Surroundings) -> f64 {
        let opens = pulls_in(severities, surroundings);
        if !opens {
            return 0.0;
        }
        let path = self.path(severities);
        Self::steady_flow(&path, supply(severities, surroundings), 0.8) / 0.06
    }

    /// Fills from `start_l` until the level sensor (or the eye, at `until_l`) stops it, or for
    /// `for_s` seconds from the command.
    pub fn fill(
        &self,
        severities: &Severities,
        surroundings: &Surroundings,
        start_l: f64,
        until_l: f64,
        for_s: f64,
        random: &mut Random,
    ) -> Fill {
        const STEP: f64 = 0.1;
        let mean_pressure = supply(severities, surroundings);
        let opens =
            pulls_in(severities, surroundings) && self.commanded(Output::FillValve, severities, random);
        if !opens {
            return Fill { dynamic_bar: mean_pressure, after_strainer_bar: mean_pressure, ..Fill::default() };
        }
        let path = self.path(severities);
        let open_s = self.design.open_s * self.open;
        let seat = self.seat_leak(severities);
        // the mains sway with a memory of some seconds while neighbours draw on them
        let (sway, memory) = (surroundings.pressure_flutter_bar, 4.0);
        let mut swing = random.normal(0.0, sway);
        let kept = libm::exp(-STEP / memory);
        let kick = sway * (1.0 - kept * kept).sqrt();
        let (mut level, mut flow, mut time) = (start_l, 0.8, 0.0);
        let (mut litres, mut dynamic, mut after, mut ran) = (0.0, 0.0, 0.0, 0.0);
        let mut full_at = None;
        while open_s + time < for_s {
            if kick > 0.0 {
                swing = kept * swing + random.normal(0.0, kick);
            }
            let pressure = (mean_pressure + swing).max(0.0);
            flow = Self::steady_flow(&path, pressure, flow);
            let opening = ((time + STEP / 2.0) / 0.2).min(1.0);
            let step_l = flow * opening / 3.6 * STEP;
            let at_tap = pressure - path.line * flow * flow;
            dynamic += at_tap * STEP;
            after += path.after_strainer_bar(at_tap, flow) * STEP;
            ran += STEP;
            let next = level + step_l - seat * level.max(0.0).sqrt() * STEP;
            litres += step_l;
            if next >= until_l {
                full_at = Some(time + STEP * ((until_l - level) / (next - level)).clamp(0.0, 1.0));
                break;
            }
            level = next;
            time += STEP;
        }
        let ran = f64::max(ran, STEP);
        Fill {
            seconds: full_at,
            litres,
            dynamic_bar: dynamic / ran,
            after_strainer_bar: after / ran,
            mean_l_per_min: litres / ran * 60.0,
        }
    }

    /// L/s out of the sump per root of a litre in it.
    pub fn seat_leak(&self, severities: &Severities) -> f64 {
        let severity = severities[Defect::SumpSeatLeaks];
        0.01 * self.full_l().sqrt() * severity * severity * severity
    }

    /// What trickles in through the shut valve, L/min.
    pub fn passes_l_per_min(&self, severities: &Severities, surroundings: &Surroundings) -> f64 {
        let severity = severities[Defect::FillValvePasses];
        if severity < 0.05 {
            0.0
        } else {
            0.12 * severity * severity * supply(severities, surroundings).max(0.0).sqrt()
        }
    }
}

/// What still passes where nothing does, so that the resistances stay finite.
const LEAST_OPENING: f64 = 1e-4;

/// Of a mesh that is fouled so far.
fn mesh_open(fouled: f64) -> f64 {
    libm::pow(remains(fouled, 0.96), 1.5).max(LEAST_OPENING)
}

/// Whether the coil lifts the valve, and the valve does not stick.
fn pulls_in(severities: &Severities, surroundings: &Surroundings) -> bool {
    !severities.has(Defect::FillValveCoilOpen)
        && !severities.has(Defect::FillValveSticks)
        && voltage(severities, surroundings) > 0.78
}

/// Mean gauge pressure at the head of the line while no water flows, bar.
pub(crate) fn supply(severities: &Severities, surroundings: &Surroundings) -> f64 {
    surroundings.static_pressure_bar * (1.0 - 1.4 * severities[Defect::SupplyPressureLow]).max(0.05)
}

/// Voltage over the design's.
pub(super) fn voltage(severities: &Severities, surroundings: &Surroundings) -> f64 {
    surroundings.voltage * (1.0 - 0.3 * severities[Defect::SupplyVoltageLow])
}

#[cfg(test)]
mod tests {
    use super::super::machine::{calm_surroundings, worked_design};
    use super::*;

    fn timed(severities: &Severities, static_pressure_bar: f64) -> Fill {
        let machine = Machine::nominal(worked_design());
        let full = machine.full_l();
        machine.fill(
            severities,
            &calm_surroundings(static_pressure_bar),
            0.0,
            full,
            300.0,
            &mut Random::new(1, 1),
        )
    }

    /// The square law's worked values for the sound machine (12.71, 17.97, 22.01 s at 3.0, 1.5 and
    /// 1.0 bar): a sound strainer follows it, and the valve's opening adds about a tenth of a second.
    #[test]
    fn a_sound_machine_fills_as_the_square_law_says() {
        for (pressure, seconds, dynamic) in [(3.0, 12.71, 2.831), (1.5, 17.97, 1.416), (1.0, 22.01, 0.944)] {
            let fill = timed(&Severities::default(), pressure);
            assert!((fill.seconds.unwrap() - seconds - 0.1).abs() < 0.02, "{pressure} bar: {fill:?}");
            assert!((fill.dynamic_bar - dynamic).abs() < 0.001, "{pressure} bar: {fill:?}");
        }
    }

    #[test]
    fn a_fouled_strainer_does_not_follow_the_square_law() {
        let fouled = Severities::default().with(Defect::InletStrainerClogged, 0.85);
        let ratio = timed(&fouled, 1.5).seconds.unwrap() / timed(&fouled, 3.0).seconds.unwrap();
        assert!(ratio > 1.45, "the square law gives 1.414, a fouled mesh more: {ratio}");
    }

    #[test]
    fn what_is_open_or_dry_fills_nothing() {
        for dead in [Defect::FillValveCoilOpen, Defect::OutputDead, Defect::FillValveSticks] {
            let fill = timed(&Severities::default().with(dead, 1.0), 3.0);
            assert_eq!((fill.seconds, fill.litres), (None, 0.0), "{dead:?}");
        }
        let fill = timed(&Severities::default(), 0.0);
        assert_eq!((fill.seconds, fill.litres), (None, 0.0));
        assert!(timed(&Severities::default(), -1.0).litres == 0.0);
    }

    #[test]
    fn what_has_failed_entirely_lets_next_to_nothing_through() {
        for blocked in [
            Defect::InletStrainerClogged,
            Defect::ValveStrainerClogged,
            Defect::FillValveWeak,
            Defect::RestrictorScaled,
            Defect::SupplyValvePartShut,
            Defect::TreatmentExhausted,
        ] {
            let fill = timed(&Severities::default().with(blocked, 1.0), 3.0);
            assert!(fill.seconds.is_none() && fill.litres < 0.1, "{blocked:?}: {fill:?}");
            let bad = timed(&Severities::default().with(blocked, 0.8), 3.0);
            assert!(bad.litres > 1.0, "{blocked:?}: {bad:?}");
        }
    }
}
