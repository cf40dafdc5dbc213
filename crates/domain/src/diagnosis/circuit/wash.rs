//! The wash run: pump against system, and the sump's balance on a grid, because it is asked for
//! thousands of states.

use super::State;
use crate::diagnosis::node::Node;
use crate::equipment::{Parameter, Reads, Sump, WashPump};
use crate::physics::PhysicsError;
use crate::physics::sump::{Fade, WashRun};
use crate::quantity::{Duration, Ratio, Volume, VolumeFlow};

/// Water in the sump at the start over its full volume: the grid on which a run is solved.
pub(in crate::diagnosis) const LEVELS: [f64; 8] = [0.12, 0.3, 0.42, 0.52, 0.62, 0.72, 0.82, 1.0];

/// Flow over the sound pump's; flow after the fade over the flow before. Leaks are those of the node.
const FLOWS: [f64; 7] = [0.15, 0.3, 0.45, 0.6, 0.8, 1.0, 1.25];
const FADES: [f64; 8] = [0.0, 0.2, 0.4, 0.55, 0.7, 0.85, 0.95, 1.0];

/// **Common practice, no source**: flow that falls after about two seconds with a full sump is a weak
/// pump. How much sooner or later is a severity of its own.
const FADES_AFTER_S: f64 = 2.0;
/// Who times a run sees it fall when this share of the first flow is left.
const SEEN_TO_FALL: f64 = 0.9;
/// A run that holds to its end is taken to hold this many times as long.
const HOLDS: f64 = 10.0;
/// How much more coarsely than the flow fade and current need to be told apart: they are predicted and
/// read less closely.
const FADE_COARSENESS: f64 = 2.0;
const CURRENT_COARSENESS: f64 = 2.0;
const FADES_AFTER_COARSENESS: f64 = 10.0;
/// What is written down where nothing held, s: nobody times less.
const LEAST_HELD_S: f64 = 0.3;
/// Local error of a solved run, in litres: far below what a sump can be read to.
const TABLE_TOLERANCE: f64 = 1e-5;
/// Slip of a small induction motor at its rated voltage; it grows as 1/U² (textbook, equivalent circuit
/// at small slip).
const RATED_SLIP: f64 = 0.05;
/// Share of the full current that the motor draws when its pump moves nothing. **Common practice, no
/// source**: a centrifugal pump that is starved or throttled unloads its motor.
const IDLE_CURRENT: f64 = 0.6;

pub(super) struct Wash {
    pump: WashPump,
    sound_flow: f64,
    pub run_s: f64,
    /// For each flow, fade and leak, the first fall in s and the share of the last fifth as a fraction, by level.
    courses: Vec<[(f64, f64); LEVELS.len()]>,
}

impl Wash {
    pub fn new(pump: &WashPump, sump: &Sump) -> Result<Self, PhysicsError> {
        let mut wash = Self { pump: *pump, sound_flow: 0.0, run_s: pump.run_s, courses: Vec::new() };
        wash.sound_flow = wash.flow(1.0, 1.0);
        for flow in FLOWS {
            for fade in FADES {
                for leak in Node::DoorLeak.grid() {
                    let mut by_level = [(0.0, 0.0); LEVELS.len()];
                    for (course, level) in by_level.iter_mut().zip(LEVELS) {
                        *course = wash.solve(sump, flow, fade, *leak, level)?;
                    }
                    wash.courses.push(by_level);
                }
            }
        }
        Ok(wash)
    }

    fn solve(
        &self,
        sump: &Sump,
        flow: f64,
        fade: f64,
        leak: f64,
        level: f64,
    ) -> Result<(f64, f64), PhysicsError> {
        let litres_per_minute = self.sound_flow * flow * 60.0;
        let run = WashRun {
            sump: sump.try_into()?,
            start: Volume::from_litres(sump.full_l * level)?,
            inflow: VolumeFlow::from_litres_per_minute(0.0)?,
            pump_flow: VolumeFlow::from_litres_per_minute(litres_per_minute)?,
            fade: (fade < 1.0).then_some(Fade {
                after: Duration::from_seconds(FADES_AFTER_S)?,
                pump_flow: VolumeFlow::from_litres_per_minute(litres_per_minute * fade)?,
            }),
            lost_on_return: Ratio::from_fraction(leak)?,
            duration: Duration::from_seconds(self.run_s)?,
        };
        let course = run.solve_to(TABLE_TOLERANCE)?;
        // Below the dry level nothing flows from the start, and there is nothing to hold.
        let Ok(fall) = course.first_fall_below(SEEN_TO_FALL) else { return Ok((0.0, 0.0)) };
        let seconds = if fall.is_censored() { self.run_s * HOLDS } else { fall.value().seconds() };
        Ok((seconds, course.share_in_last_fifth()?.fraction()))
    }

    /// `Q* = sqrt((s·H₀ − H_st)/(a + k))`, L/s.
    fn flow(&self, head: f64, system: f64) -> f64 {
        let lift = head * self.pump.shut_off_head_m - self.pump.system_static_head_m;
        let resistance =
            self.pump.curve_m_per_l_per_s_squared + system * self.pump.system_curve_m_per_l_per_s_squared;
        (lift.max(0.0) / resistance).sqrt()
    }

    /// Flow at the start and after the fade, L/s.
    fn flows(&self, state: &State, voltage: f64) -> (f64, f64) {
        if state.get(Parameter::MotorTurns) < 0.5 {
            return (0.0, 0.0);
        }
        let speed = (1.0 - RATED_SLIP / (voltage * voltage)).max(0.0) / (1.0 - RATED_SLIP);
        let head = state.get(Parameter::PumpHead) * speed * speed;
        let system = state.get(Parameter::SystemCurve);
        (self.flow(head, system), self.flow(head * state.get(Parameter::FadedHead), system))
    }

    pub fn coordinates(&self, state: &State) -> Vec<f64> {
        let (first, faded) = self.flows(state, 1.0);
        let turns = state.get(Parameter::MotorTurns);
        let current = state.get(Parameter::MotorCurrent).max(1e-6).ln();
        let fade = (faded / first.max(1e-6)).max(0.05).ln();
        let fades = faded < SEEN_TO_FALL * first;
        let after = if fades { state.get(Parameter::FadesAfter).max(1e-6).ln() } else { 0.0 };
        vec![
            turns,
            first.max(0.01).ln(),
            fade / FADE_COARSENESS,
            current / CURRENT_COARSENESS,
            after / FADES_AFTER_COARSENESS,
        ]
    }

    pub fn predict(&self, reads: &Reads, state: &State, powered: bool, voltage: f64, leak: f64) -> Vec<f64> {
        let (first, faded) = if powered { self.flows(state, voltage) } else { (0.0, 0.0) };
        match reads {
            Reads::FirstFlow => vec![first * 60.0],
            Reads::MotorCurrent => {
                let full = self.pump.motor_current_a.unwrap_or(0.0) * state.get(Parameter::MotorCurrent);
                let load = IDLE_CURRENT + (1.0 - IDLE_CURRENT) * (first / self.sound_flow).min(1.5);
                let turns = state.get(Parameter::MotorTurns) > 0.5;
                vec![if !powered {
                    0.0
                } else if turns {
                    full * load
                } else {
                    full
                }]
            }
            Reads::FirstFall if first <= 0.0 => vec![LEAST_HELD_S; LEVELS.len()],
            _ if first <= 0.0 => vec![0.0; LEVELS.len()],
            // Until it fades the pump is sound: the flow falls then, or before for want of water. What is left
            // at the end depends little on when it faded.
            Reads::FirstFall if faded < SEEN_TO_FALL * first => {
                let after = FADES_AFTER_S * state.get(Parameter::FadesAfter);
                let sound = self.course(first / self.sound_flow, 1.0, leak, true);
                sound.into_iter().map(|starves| starves.min(after)).collect()
            }
            _ => self.course(first / self.sound_flow, faded / first, leak, *reads == Reads::FirstFall),
        }
    }

    /// By linear interpolation of the solved runs, times on their logarithms.
    fn course(&self, flow: f64, fade: f64, leak: f64, first_fall: bool) -> Vec<f64> {
        let leaks = Node::DoorLeak.grid();
        let (flows, fades, at_leaks) = (place(&FLOWS, flow), place(&FADES, fade), place(leaks, leak));
        let mut by_level = vec![0.0; LEVELS.len()];
        for (at_flow, of_flow) in flows {
            for (at_fade, of_fade) in fades {
                for (at_leak, of_leak) in at_leaks {
                    let weight = of_flow * of_fade * of_leak;
                    if weight == 0.0 {
                        continue;
                    }
                    let row = &self.courses[(at_flow * FADES.len() + at_fade) * leaks.len() + at_leak];
                    for (value, (fall, share)) in by_level.iter_mut().zip(row) {
                        *value += weight * if first_fall { fall.max(0.1).ln() } else { share * 100.0 };
                    }
                }
            }
        }
        if first_fall {
            for value in &mut by_level {
                *value = value.exp();
            }
        }
        by_level
    }
}

/// The two neighbours of a value on an ascending grid, with their weights; the ends hold beyond.
pub(in crate::diagnosis) fn place(grid: &[f64], value: f64) -> [(usize, f64); 2] {
    let above = grid.iter().position(|node| *node >= value).unwrap_or(grid.len() - 1);
    if above == 0 || value >= grid[above] {
        return [(above, 1.0), (above, 0.0)];
    }
    let share = (value - grid[above - 1]) / (grid[above] - grid[above - 1]);
    [(above - 1, 1.0 - share), (above, share)]
}
