//! How machines come to be defective. Severities are continuous; what has gone wrong makes more go
//! wrong: a torn gasket wets what hangs below it, an under-filled sump wears the pump out, a tired
//! capacitor cooks the motor, a spent treatment scales everything after it.

use crate::clock::YEAR_DAYS;
use crate::defect::{Defect, Severities};
use crate::kitchen::Kitchen;
use crate::physics::Design;
use crate::random::Random;

/// What a machine has to bear, 1 is usual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stress {
    pub use_: f64,
    pub heat: f64,
    pub grease: f64,
    pub food: f64,
    pub lime: f64,
    pub debris: f64,
    pub hosing: f64,
    pub volts: f64,
    pub vermin: f64,
    pub care: f64,
    pub age_years: f64,
    /// How far below full the sump is when the pump starts, 0…1.
    pub short_of_water: f64,
}

impl Stress {
    pub fn of(kitchen: &Kitchen, age_years: f64, filled: f64) -> Self {
        let use_ = kitchen.kind.washes_per_day / 1.2;
        Self {
            use_,
            heat: kitchen.kind.cooking_hours / 9.0,
            grease: kitchen.grease / kitchen.care,
            food: (kitchen.grease / kitchen.care).sqrt(),
            lime: kitchen.fed_hardness() / 50.0 * use_,
            debris: kitchen.debris,
            hosing: kitchen.hosing,
            volts: 1.0 + 12.0 * (kitchen.voltage - 1.0).abs(),
            vermin: kitchen.vermin,
            care: kitchen.care,
            age_years,
            short_of_water: (0.8 - filled).clamp(0.0, 0.8),
        }
    }
}

/// One machine's way of ageing: each slow defect has its own pace, drawn anew when the part is new.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace([f64; Defect::COUNT]);

impl Pace {
    pub fn drawn(random: &mut Random) -> Self {
        let mut pace = [1.0; Defect::COUNT];
        for one in &mut pace {
            *one = random.factor(0.6);
        }
        Self(pace)
    }

    pub fn renew(&mut self, defect: Defect, random: &mut Random) {
        self.0[defect as usize] = random.factor(0.6);
    }
}

/// How fast everything goes, against the rates written below: set so that two faults or more stand
/// behind about a quarter of the calls, as common practice has it.
const TEMPO: f64 = 0.60;

/// Severity gained in a year by what creeps, at pace 1; none for what strikes.
fn creep(defect: Defect, stress: &Stress, now: &Severities) -> f64 {
    let torn = now[Defect::GasketTorn];
    let base = match defect {
        Defect::InletStrainerClogged => 0.078 * stress.debris * stress.use_.sqrt(),
        Defect::FillValveWeak => 0.102 * (0.4 + 0.6 * stress.lime) + 0.10 * now[Defect::StrainerMisfitted],
        Defect::FillValvePasses => {
            0.012 * (0.5 + 0.5 * stress.debris) + 0.15 * now[Defect::StrainerMisfitted]
        }
        Defect::RestrictorScaled => 0.072 * stress.lime,
        Defect::WashPumpClogged => 0.07 * stress.grease * stress.use_,
        Defect::WashPumpFades => 0.065 * stress.use_ * (1.0 + 6.0 * stress.short_of_water),
        Defect::RunCapacitorWeak => 0.020 * stress.heat * stress.volts,
        Defect::SprayBlocked => 0.042 * stress.food,
        // what the first mesh lets through
        Defect::ValveStrainerClogged => 0.042 * stress.debris * (1.0 + 3.0 * now[Defect::StrainerMisfitted]),
        Defect::HoseLeaks => 0.016 * (0.5 + 0.5 * stress.use_),
        Defect::DrainPumpClogged => 0.08 * stress.food * stress.use_,
        Defect::SumpSeatLeaks => 0.05 * stress.food + 0.2 * now[Defect::BuildingDrainBlocked],
        Defect::GasketTorn => 0.042 * stress.heat / stress.care * (1.0 + now[Defect::DoorSags]),
        Defect::DoorSags => 0.030 * stress.use_,
        Defect::SteamGeneratorScaled => 0.042 * stress.lime * stress.heat,
        Defect::ProbeDrifted => 0.023 * stress.heat,
        Defect::DosingWeak => 0.046 * stress.use_,
        Defect::LevelSensorFouled => 0.045 * (0.5 * stress.lime + 0.5 * stress.grease),
        Defect::WiringCorroded => 0.005 * stress.hosing * (1.0 + 8.0 * torn),
        _ => 0.0,
    };
    // What is rough gathers more: from nothing to noticeable in about 0.3/base years, most of which show little.
    TEMPO * base * 10.0 * (0.02 + now[defect])
}

/// Chance a year that it strikes.
fn strike(defect: Defect, stress: &Stress, now: &Severities) -> f64 {
    let torn = now[Defect::GasketTorn].max(now[Defect::GasketMisfitted]);
    let old = 0.4 + 0.12 * stress.age_years;
    match defect {
        Defect::ChemicalWrong => 0.27 / stress.care,
        Defect::Misuse => 0.18 / stress.care,
        Defect::StrainerMisfitted => 0.075 / stress.care,
        Defect::FillValveCoilOpen => 0.03 * stress.volts * old,
        Defect::FillValvePasses => 0.012 * stress.debris,
        Defect::WashMotorDead => {
            0.034 * old * (1.0 + 8.0 * now[Defect::RunCapacitorWeak] + 3.0 * now[Defect::WashPumpClogged])
        }
        Defect::RunCapacitorWeak => 0.025 * old,
        Defect::SprayBlocked => 0.03 / stress.care,
        Defect::DrainPumpClogged => 0.030 * stress.food,
        Defect::DrainPumpDead => 0.033 * old * (1.0 + 5.0 * now[Defect::DrainPumpClogged]),
        Defect::DoorSwitchFails => 0.037 * (1.0 + 2.0 * now[Defect::DoorSags]) * stress.use_,
        Defect::DoorSwitchSticks => 0.010,
        Defect::DoorSags | Defect::ProbeDrifted => 0.004,
        Defect::GasketTorn => 0.012 / stress.care,

        Defect::ElementOpen => 0.025 * old * stress.volts * (1.0 + 3.0 * now[Defect::SteamGeneratorScaled]),

        Defect::DosingWeak => 0.009,
        Defect::RinseFails => 0.011,
        Defect::OutputDead => 0.021 * stress.volts * (1.0 + 10.0 * now[Defect::BoardWet]),
        Defect::WiringCorroded => 0.025 * stress.hosing,
        Defect::BoardWet => 0.009 * stress.hosing * (1.0 + 14.0 * torn),
        Defect::VerminDamage => 0.005 * stress.vermin,
        Defect::InsulationLow => 0.002 * stress.hosing * (1.0 + 8.0 * torn),
        Defect::Intermittent => 0.038 * (1.0 + 2.0 * now[Defect::WiringCorroded]),
        Defect::FillValveSticks => 0.04 * (0.5 + 0.5 * stress.lime) * old,
        Defect::GasketMisfitted => 0.028 / stress.care,
        Defect::HoseLeaks => 0.035 * old,
        Defect::DrainHoseBlocked => 0.022 * stress.food,
        Defect::HoseDrawsAir => 0.016 * old,
        Defect::CutOutOpens => 0.020 * stress.heat * old,
        Defect::DoorMagnet => 0.05 * (1.0 + now[Defect::DoorSags]) * stress.use_,
        Defect::InsulationDamp => 0.009 * stress.hosing * (1.0 + 2.0 * torn),
        _ => 0.0,
    }
}

/// Share of what strikes that has failed entirely: broken off, blocked, burnt through.
const ENTIRELY: f64 = 0.15;

/// Chance a day that people put it right themselves, or that it dries.
fn passes_by_itself(defect: Defect) -> f64 {
    match defect {
        Defect::ChemicalWrong => 0.08,
        Defect::Misuse => 0.09,
        Defect::Intermittent => 0.006,
        Defect::InsulationLow => 0.01,
        Defect::InsulationDamp => 0.012,
        _ => 0.0,
    }
}

/// Lets `days` go by. Returns whether anything struck or passed, so that it must be looked at anew.
pub fn age(
    severities: &mut Severities,
    pace: &Pace,
    design: &Design,
    stress: &Stress,
    days: f64,
    random: &mut Random,
) -> bool {
    let years = days / YEAR_DAYS;
    let before = severities.clone();
    let mut hazards = [0.0; Defect::COUNT];
    let mut hazard = 0.0;
    for &defect in Defect::ALL {
        if defect.is_of_the_kitchen() || !design.may_have(defect) {
            continue;
        }
        let grown = creep(defect, stress, &before) * pace.0[defect as usize] * years;
        if grown > 0.0 {
            severities.add(defect, grown);
        }
        hazards[defect as usize] = TEMPO * strike(defect, stress, &before) * years;
        hazard += hazards[defect as usize];
    }
    let mut changed = false;
    if random.chance(1.0 - libm::exp(-hazard)) {
        let defect = Defect::ALL[random.weighted(&hazards)];
        let how_bad = if random.chance(ENTIRELY) { 1.0 } else { random.between(0.45, 1.0) };
        severities.add(defect, how_bad);
        changed = true;
    }
    for &defect in Defect::ALL.iter().filter(|defect| passes_by_itself(**defect) > 0.0) {
        let chance = 1.0 - libm::pow(1.0 - passes_by_itself(defect), days);
        if severities[defect] > 0.0 && random.chance(chance) {
            severities.set(defect, 0.0);
            changed = true;
        }
    }
    changed
}

/// How far a machine of that age has come, given that what was bad was mended before: each creeping
/// defect stands somewhere on its way to where it would be called.
pub fn history_until_now(design: &Design, pace: &Pace, stress: &Stress, random: &mut Random) -> Severities {
    let mut severities = Severities::default();
    let new = Severities::default();
    for &defect in Defect::ALL {
        let rate = creep(defect, stress, &new) * pace.0[defect as usize];
        if rate <= 0.0 || !design.may_have(defect) {
            continue;
        }
        // years from new to 0.6 with growth that gathers speed: ln(1 + 2·0.6)/2 over the rate
        let life = 0.394 / rate;
        let elapsed = random.between(0.0, stress.age_years.min(life));
        severities.set(defect, (libm::exp(2.0 * rate * elapsed) - 1.0) / 2.0);
    }
    severities
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kitchen::{KINDS, TOWNS};
    use domain::equipment::demo_combi;

    fn after_years(years: u32, change: impl Fn(&mut Severities), seed: u64) -> Severities {
        let mut random = Random::new(seed, 0);
        let design = Design::of(demo_combi()).unwrap();
        let kitchen = Kitchen::built(&KINDS[0], &TOWNS[0], &mut random);
        let stress = Stress::of(&kitchen, 5.0, 1.0);
        let pace = Pace::drawn(&mut random);
        let mut severities = Severities::default();
        change(&mut severities);
        for _ in 0..years * 122 {
            age(&mut severities, &pace, &design, &stress, 3.0, &mut random);
        }
        severities
    }

    #[test]
    fn a_torn_gasket_wets_the_board() {
        let wet = |torn: f64| {
            (0..60)
                .filter(|seed| {
                    after_years(3, |s| s.set(Defect::GasketTorn, torn), *seed)[Defect::BoardWet] > 0.0
                })
                .count()
        };
        let (whole, torn) = (wet(0.0), wet(1.0));
        assert!(torn >= whole + 8, "whole {whole}, torn {torn} of 60");
    }

    #[test]
    fn an_under_filled_sump_ages_the_pump() {
        let mut random = Random::new(3, 0);
        let kitchen = Kitchen::built(&KINDS[0], &TOWNS[0], &mut random);
        let fades = |filled| {
            let stress = Stress::of(&kitchen, 5.0, filled);
            creep(Defect::WashPumpFades, &stress, &Severities::default())
        };
        assert!(fades(0.4) > 2.0 * fades(1.0));
    }

    #[test]
    fn severities_stay_in_range_for_ever() {
        let severities = after_years(60, |_| (), 1);
        assert!(Defect::ALL.iter().all(|defect| (0.0..=1.0).contains(&severities[*defect])));
    }

    #[test]
    fn a_machine_lacks_the_defects_of_positions_that_it_lacks() {
        let design = Design::of(domain::equipment::demo_warewasher()).unwrap();
        let mut random = Random::new(2, 0);
        let kitchen = Kitchen::built(&KINDS[0], &TOWNS[0], &mut random);
        let (stress, pace) = (Stress::of(&kitchen, 5.0, 1.0), Pace::drawn(&mut random));
        let mut severities = Severities::default();
        for _ in 0..2000 {
            age(&mut severities, &pace, &design, &stress, 3.0, &mut random);
        }
        assert!(severities[Defect::SprayBlocked] > 0.0);
        assert!(severities[Defect::GasketTorn] <= 0.0 && severities[Defect::SteamGeneratorScaled] <= 0.0);
    }
}
