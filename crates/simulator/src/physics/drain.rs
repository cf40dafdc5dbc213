use domain::equipment::Drain as Drains;

use super::command::Output;
use super::machine::Machine;
use crate::defect::{Defect, Severities, remains};
use crate::random::Random;

/// How a full sump emptied.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drain {
    /// `None` if it was not empty after the time allowed.
    pub seconds: Option<f64>,
    pub residue_l: f64,
    /// Whether a bucket poured down the building's drain goes away.
    pub building_takes: bool,
    pub backs_up: bool,
}

impl Machine {
    /// Drain flow over the new machine's, without anything that chance decides.
    pub fn drain_share(&self, severities: &Severities) -> f64 {
        let open = |blocked| remains(severities[blocked], 0.95).max(1e-3);
        let (building, hose) = (open(Defect::BuildingDrainBlocked), open(Defect::DrainHoseBlocked));
        let pump = match self.design.drain {
            Drains::Pump { .. } if severities.has(Defect::DrainPumpDead) => return 0.0,
            Drains::Pump { .. } | Drains::Gravity { .. } => open(Defect::DrainPumpClogged),
        };
        // three resistances in series
        let resistance = |open: f64| 1.0 / (open * open) - 1.0;
        1.0 / (1.0 + resistance(pump) + resistance(hose) + resistance(building)).sqrt()
    }

    pub fn drain(&self, severities: &Severities, level_l: f64, for_s: f64, random: &mut Random) -> Drain {
        const STEP: f64 = 0.25;
        let commanded = self.commanded(Output::DrainPump, severities, random);
        let share = if commanded { self.drain_share(severities) } else { 0.0 };
        // the pump cannot take the last of it, the less so behind a blocked trap
        let remains = 0.012 * self.full_l();
        let floor = remains + 0.25 * severities[Defect::BuildingDrainBlocked] * level_l.min(1.0);
        let (mut volume, mut time) = (level_l, 0.0);
        while time < for_s && volume > floor + 0.005 * self.full_l() {
            let rate = match self.design.drain {
                Drains::Pump { flow_l_per_s } => flow_l_per_s * (0.93 + 0.14 * volume / level_l.max(0.1)),
                Drains::Gravity { outlet_area_m2, discharge_coefficient, head_full_m, .. } => {
                    let head = head_full_m * volume / self.full_l();
                    discharge_coefficient * outlet_area_m2 * (2.0 * 9.81 * head).sqrt() * 1000.0
                }
            };
            volume = (volume - rate * share * STEP).max(floor);
            time += STEP;
        }
        let blocked = severities[Defect::BuildingDrainBlocked];
        Drain {
            seconds: (volume <= floor + 0.005 * self.full_l()).then_some(time),
            residue_l: volume,
            building_takes: blocked < 0.45,
            backs_up: blocked > 0.75,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::machine::worked_design;
    use super::*;

    /// Water poured behind a blocked hose runs off.
    #[test]
    fn a_blocked_hose_is_not_the_building() {
        let machine = Machine::nominal(worked_design());
        let hose = Severities::default().with(Defect::DrainHoseBlocked, 0.95);
        let drain = machine.drain(&hose, 2.9, 60.0, &mut Random::new(1, 1));
        assert!(drain.seconds.is_none() && drain.building_takes, "{drain:?}");
    }

    #[test]
    fn sound_clogged_and_dead() {
        let machine = Machine::nominal(worked_design());
        let mut random = Random::new(1, 1);
        let seconds = |severities: Severities, random: &mut Random| {
            machine.drain(&severities, 2.9, 60.0, random).seconds
        };
        let sound = seconds(Severities::default(), &mut random).unwrap();
        assert!((8.0..10.0).contains(&sound), "{sound}");
        let clogged =
            seconds(Severities::default().with(Defect::DrainPumpClogged, 0.6), &mut random).unwrap();
        assert!(clogged > 1.8 * sound, "{clogged}");
        assert_eq!(seconds(Severities::default().with(Defect::DrainPumpDead, 1.0), &mut random), None);
        let building = machine.drain(
            &Severities::default().with(Defect::BuildingDrainBlocked, 0.8),
            2.9,
            60.0,
            &mut random,
        );
        assert!(!building.building_takes && building.backs_up);
    }
}
