use super::command::Output;
use super::fill::voltage;
use super::machine::{Machine, Surroundings};
use crate::defect::{Defect, Severities, remains};
use crate::random::Random;

/// A wash run as it really went.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wash {
    pub level_before_l: f64,
    pub first_l_per_min: f64,
    /// When the flow first fell below nine tenths of the first; `None` if it held.
    pub held_s: Option<f64>,
    /// Flow in the last fifth over the first flow.
    pub last_share: f64,
    pub mean_l_per_min: f64,
    pub lost_l: f64,
    /// Of that, what ran out under the machine.
    pub below_l: f64,
    pub current_a: f64,
    pub hums: bool,
    /// Litres a minute, once a second.
    pub series: Vec<f64>,
}

/// How the pump stands before any air comes into it.
pub(super) struct Pump {
    /// L/s with a full sump.
    pub flow: f64,
    /// Where air on the suction side takes the head in the end, and how fast.
    pub air_share: f64,
    pub turns: bool,
    pub hums: bool,
}

impl Machine {
    pub(super) fn pump(&self, severities: &Severities, surroundings: &Surroundings) -> Pump {
        let design = &self.design;
        let (clogged, blocked) = (severities[Defect::WashPumpClogged], severities[Defect::SprayBlocked]);
        let (fades, capacitor) = (severities[Defect::WashPumpFades], severities[Defect::RunCapacitorWeak]);
        let volts = voltage(severities, surroundings);
        let dead = severities.has(Defect::WashMotorDead);
        let starts = volts * volts * remains(capacitor, 0.85) > 0.3;
        let turns = !dead && starts;
        // slip grows when torque goes missing
        let torque = libm::pow(volts.max(0.0), 2.0) * (1.0 - 0.55 * capacitor);
        let speed = 1.0 - 0.06 * (1.0 / torque.max(0.1) - 1.0);
        let strength = if turns { self.head * speed * speed * (1.0 - 0.2 * fades) } else { 0.0 };
        let loss = design.system_loss
            * self.system_loss
            * (1.0 + 5.0 * clogged * clogged * (1.0 + clogged) + 400.0 * clogged.powi(24))
            * (1.0 + 5.0 * blocked * blocked + 60.0 * blocked.powi(24));
        let lift = strength * design.pump_head_m - design.system_head_m;
        Pump {
            flow: if lift > 0.0 { (lift / (design.pump_fall + loss)).sqrt() } else { 0.0 },
            air_share: [Defect::WashPumpFades, Defect::HoseDrawsAir]
                .map(|defect| severities[defect])
                .into_iter()
                .filter(|severity| *severity > 0.2)
                .fold(0.0, |most: f64, severity| most.max(1.0 - remains(severity, 0.9))),
            turns,
            hums: !self.winding_open(severities) && (!turns || capacitor > 0.5),
        }
    }

    /// Runs the wash for `for_s` seconds from `level_l` in the sump, water shut off.
    pub fn wash(
        &self,
        severities: &Severities,
        surroundings: &Surroundings,
        level_l: f64,
        for_s: f64,
        random: &mut Random,
    ) -> Wash {
        const STEP: f64 = 0.05;
        let design = &self.design;
        let arrives = self.commanded(Output::WashPump, severities, random);
        let pump = self.pump(severities, surroundings);
        let open = self.winding_open(severities);
        let current = self.run_current(&pump, severities, surroundings, arrives, open);
        if !arrives || pump.flow <= 0.0 {
            let hums = arrives && pump.hums;
            return Wash { level_before_l: level_l, current_a: current, hums, ..Wash::default() };
        }
        let (door, below) = (self.leak_share(severities), Self::leak_below(severities));
        let leak = door + below;
        let seat = self.seat_leak(severities);
        let passing = self.passes_l_per_min(severities, surroundings) / 60.0;
        let delay = (design.return_s / STEP) as usize + 1;
        let mut returning = vec![0.0; delay];
        // a part of what comes back clings to the walls and runs down later
        let (mut film, film_s) = (0.0, 6.0);
        let (mut volume, mut air, mut locked, mut time, mut lost) = (level_l, 0.0, false, 0.0, 0.0);
        let (mut first, mut held, mut sum, mut last, mut steps, mut last_steps) =
            (0.0, None, 0.0, 0.0, 0u32, 0u32);
        let mut series = Vec::with_capacity(for_s as usize + 1);
        while time < for_s {
            // fades within a couple of seconds, the faster the worse
            air += (pump.air_share - air) * STEP / 1.2 * if time > 0.8 { 1.0 } else { 0.0 };
            // sucks air from near the bottom, and takes hold again only well above
            if volume < design.dry_l + 0.12 * (design.starve_l - design.dry_l) {
                locked = true;
            } else if volume > design.dry_l + 0.3 * (design.starve_l - design.dry_l) {
                locked = false;
            }
            let submerged = ((volume - design.dry_l) / (design.starve_l - design.dry_l)).clamp(0.0, 1.0);
            let flow = if locked { 0.0 } else { pump.flow * submerged * (1.0 - air) };
            let index = steps as usize % delay;
            let back = std::mem::replace(&mut returning[index], flow) * (1.0 - leak);
            lost += returning[index] * leak * STEP;
            film += (0.15 * back - film / film_s) * STEP;
            let step = -flow + 0.85 * back + film / film_s + passing - seat * volume.max(0.0).sqrt();
            volume = (volume + step * STEP).max(0.0);
            if steps == 0 {
                first = flow;
            } else if held.is_none() && flow < 0.9 * first {
                held = Some(time);
            }
            if steps.is_multiple_of(20) {
                series.push(flow * 60.0);
            }
            sum += flow;
            if time >= 0.8 * for_s {
                last += flow;
                last_steps += 1;
            }
            steps += 1;
            time += STEP;
        }
        Wash {
            level_before_l: level_l,
            first_l_per_min: first * 60.0,
            held_s: held,
            last_share: if first > 0.0 { last / f64::from(last_steps.max(1)) / first } else { 0.0 },
            mean_l_per_min: sum / f64::from(steps.max(1)) * 60.0,
            lost_l: lost,
            below_l: if leak > 0.0 { lost * below / leak } else { 0.0 },
            current_a: current,
            hums: pump.hums,
            series,
        }
    }

    /// The share of the water that goes past the door.
    pub fn leak_share(&self, severities: &Severities) -> f64 {
        let (gasket, sags) = (severities[Defect::GasketTorn], severities[Defect::DoorSags]);
        let misfit = severities[Defect::GasketMisfitted];
        0.08 * gasket * gasket + 0.03 * sags * sags + 0.15 * misfit * misfit
    }

    /// The share that goes out of a hose or past the pump's shaft, while the pump presses.
    pub(super) fn leak_below(severities: &Severities) -> f64 {
        0.10 * severities[Defect::HoseLeaks].powi(2)
    }

    /// A dead motor has an open winding, or is seized.
    pub(super) fn winding_open(&self, severities: &Severities) -> bool {
        severities.has(Defect::WashMotorDead) && self.weak_circuit < 0.5
    }

    fn run_current(
        &self,
        pump: &Pump,
        severities: &Severities,
        surroundings: &Surroundings,
        arrives: bool,
        winding_open: bool,
    ) -> f64 {
        let rated = self.design.pump_current_a * self.current;
        if !arrives || winding_open {
            return 0.0;
        }
        if !pump.turns {
            return rated * 2.8;
        }
        let healthy = self.design.pump_flow();
        let load = 0.4 + 0.6 * (pump.flow / healthy).min(1.3);
        let capacitor = severities[Defect::RunCapacitorWeak];
        rated * load * (1.0 + 0.6 * capacitor) / voltage(severities, surroundings).max(0.5).sqrt()
    }
}

impl super::machine::Design {
    /// L/s of the new machine.
    pub fn pump_flow(&self) -> f64 {
        ((self.pump_head_m - self.system_head_m) / (self.pump_fall + self.system_loss)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::super::machine::{calm_surroundings, worked_design};
    use super::*;

    fn run(severities: &Severities, level_l: f64) -> Wash {
        let machine = Machine::nominal(worked_design());
        machine.wash(severities, &calm_surroundings(3.0), level_l, 60.0, &mut Random::new(1, 1))
    }

    /// The worked run of the sound machine: 30.00 L/min, held to the end.
    #[test]
    fn a_sound_machine_washes_at_full_flow_to_the_end() {
        let wash = run(&Severities::default(), 2.9);
        assert!((wash.first_l_per_min - 30.0).abs() < 1e-9 && wash.held_s.is_none(), "{wash:?}");
        assert!((wash.last_share - 1.0).abs() < 1e-9);
    }

    /// An under-filled sump and a fading pump look alike on the clock; both within seconds.
    #[test]
    fn starved_and_fading_pumps_both_lose_flow_within_seconds() {
        let starved = run(&Severities::default(), 1.6);
        let fading = run(&Severities::default().with(Defect::WashPumpFades, 0.7), 2.9);
        assert!(starved.held_s.unwrap() < 3.0, "{starved:?}");
        assert!(fading.held_s.unwrap() < 3.0, "{fading:?}");
    }

    #[test]
    fn a_clogged_pump_is_weak_and_steady_and_draws_less() {
        let sound = run(&Severities::default(), 2.9);
        let clogged = run(&Severities::default().with(Defect::WashPumpClogged, 0.5), 2.9);
        assert!(clogged.first_l_per_min < 0.65 * sound.first_l_per_min && clogged.held_s.is_none());
        assert!(clogged.current_a < 0.9 * sound.current_a);
    }

    #[test]
    fn a_torn_gasket_loses_water_and_then_flow() {
        let wash = run(&Severities::default().with(Defect::GasketTorn, 0.9), 2.9);
        assert!(wash.lost_l > 0.5 && wash.held_s.is_some(), "{wash:?}");
    }

    #[test]
    fn a_hose_loses_water_under_the_machine_and_one_that_draws_air_loses_flow() {
        let leaks = run(&Severities::default().with(Defect::HoseLeaks, 0.9), 2.9);
        assert!(leaks.below_l > 0.5 && leaks.held_s.is_some(), "{leaks:?}");
        let torn = run(&Severities::default().with(Defect::GasketTorn, 0.9), 2.9);
        assert!(torn.below_l <= 0.0);
        let air = run(&Severities::default().with(Defect::HoseDrawsAir, 0.7), 2.9);
        assert!(air.held_s.unwrap() < 3.0 && air.lost_l <= 0.0, "{air:?}");
    }

    #[test]
    fn a_locked_sump_takes_hold_again_only_above_where_it_locked() {
        let wash = run(&Severities::default().with(Defect::FillValvePasses, 1.0), 0.36);
        assert!(wash.series.contains(&0.0), "locks with air");
        assert!(wash.series.last().unwrap() > &0.0, "water passing the shut valve brings it back");
    }

    #[test]
    fn weak_capacitor_hums_and_draws_more_and_a_jammed_motor_pumps_nothing() {
        let weak = run(&Severities::default().with(Defect::RunCapacitorWeak, 0.6), 2.9);
        assert!(weak.hums && weak.current_a > 1.15 * run(&Severities::default(), 2.9).current_a);
        let jammed = run(&Severities::default().with(Defect::WashMotorDead, 1.0), 2.9);
        assert!(jammed.first_l_per_min <= 0.0 && jammed.hums && jammed.current_a > 2.0 * weak.current_a);
    }
}
