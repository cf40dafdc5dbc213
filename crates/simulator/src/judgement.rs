//! How a technician reasons from what he saw to what he opens: the usual rules for telling look-alikes
//! apart, applied to readings that may be wrong, and never to the truth.

use domain::vocabulary::{Position, Symptom};

use crate::bench::{JUDGED_BY, Seen, Test, Timed};
use crate::defect::Defect;
use crate::physics::Design;

/// What may be behind the readings, the likeliest first.
pub fn suspects(seen: &Seen, symptoms: &[Symptom], design: &Design) -> Vec<Defect> {
    let mut list = Vec::new();
    let mut add = |defects: &[Defect]| {
        for &defect in defects {
            if !list.contains(&defect) && design.may_have(defect) {
                list.push(defect);
            }
        }
    };
    let is = |value: Option<f64>, test: &dyn Fn(f64) -> bool| value.is_some_and(test);
    if seen.loaded.is_some_and(|loaded| loaded != "right") {
        add(&[Defect::ChemicalWrong]);
    } else if seen.delivered.is_some_and(|delivered| delivered != "arrives") {
        add(&[Defect::DosingWeak]);
    }
    if is(seen.static_bar, &|bar| bar < 1.7) {
        add(&[Defect::SupplyPressureLow]);
    }
    if let (Some(at_rest), Some(flowing)) = (seen.static_bar, seen.dynamic_bar)
        && (flowing < 0.7 * at_rest || flowing < 1.5)
    {
        add(&[Defect::SupplyValvePartShut, Defect::TreatmentExhausted, Defect::SupplyPressureLow]);
    }
    if is(seen.hardness_mg_per_l, &|hardness| hardness > 110.0) {
        add(&[Defect::TreatmentExhausted]);
    }
    match seen.strainer {
        Some("dirty" | "clogged") => add(&[Defect::InletStrainerClogged]),
        Some("wrong_way_round" | "missing") => add(&[Defect::StrainerMisfitted]),
        _ => {}
    }
    if seen.valve_strainer.is_some_and(|strainer| strainer != "clear") {
        add(&[Defect::ValveStrainerClogged]);
    }
    fill(seen, design, &mut add);
    wash(seen, design, &mut add);
    if is(seen.passed_ml, &|millilitres| millilitres > 20.0) {
        add(&[Defect::FillValvePasses]);
    }
    if is(seen.level_fall_mm, &|fall| fall > 4.0) {
        add(&[Defect::SumpSeatLeaks]);
    }
    if is(seen.stops_at, &|share| !(0.82..=1.18).contains(&share)) {
        add(&[Defect::LevelSensorFouled]);
    }
    let slow_drain = |drain: Timed| !drain.reached || drain.seconds > drain_limit(design);
    if seen.drain.is_some_and(slow_drain) {
        match seen.pour {
            Some("slow" | "backs_up") => add(&[Defect::BuildingDrainBlocked]),
            _ => add(&[
                Defect::DrainPumpClogged,
                Defect::DrainPumpDead,
                Defect::DrainHoseBlocked,
                Defect::BuildingDrainBlocked,
            ]),
        }
    }
    door(seen, symptoms, &mut add);
    heat(seen, design, &mut add);
    if is(seen.insulation_mohm, &|megaohm| megaohm < 2.0) || symptoms.contains(&Symptom::TripsSupply) {
        if is(seen.dried_mohm, &|megaohm| megaohm >= 2.0) {
            add(&[Defect::InsulationDamp, Defect::BoardWet]);
        } else {
            add(&[Defect::InsulationLow, Defect::InsulationDamp, Defect::BoardWet]);
        }
    }
    if symptoms.contains(&Symptom::MessageShown) || symptoms.contains(&Symptom::Intermittent) {
        add(&[Defect::BoardWet, Defect::LevelSensorFouled, Defect::WiringCorroded, Defect::Intermittent]);
    }
    if symptoms.contains(&Symptom::StopsMidway) || symptoms.contains(&Symptom::NoStart) {
        add(&[Defect::Misuse]);
    }
    if symptoms.contains(&Symptom::WrongTemperature) {
        add(&[Defect::ProbeDrifted, Defect::CutOutOpens]);
    }
    if seen.cycle_ok == Some(false) {
        add(&[
            Defect::Misuse,
            Defect::WiringCorroded,
            Defect::BoardWet,
            Defect::Intermittent,
            Defect::SprayBlocked,
        ]);
        add(&[
            Defect::VerminDamage,
            Defect::RinseFails,
            Defect::DosingWeak,
            Defect::ElementOpen,
            Defect::CutOutOpens,
            Defect::ProbeDrifted,
            Defect::HoseLeaks,
            Defect::InsulationLow,
            Defect::InsulationDamp,
        ]);
    }
    // what was done with it is asked in the end, whatever else there was
    add(&[Defect::Misuse]);
    list
}

fn fill(seen: &Seen, design: &Design, add: &mut impl FnMut(&[Defect])) {
    let Some(fill) = seen.fill else { return };
    if fill.reached && fill.seconds <= healthy_fill_s(design) {
        return;
    }
    let no_voltage = seen.fill_output.is_some_and(|share| share < 0.3);
    match () {
        () if no_voltage => add(&[
            Defect::OutputDead,
            Defect::WiringCorroded,
            Defect::VerminDamage,
            Defect::BoardWet,
            Defect::SupplyVoltageLow,
        ]),
        () if seen.dynamic_bar.is_none() => add(&[
            Defect::FillValveCoilOpen,
            Defect::FillValveSticks,
            Defect::OutputDead,
            Defect::WiringCorroded,
            Defect::BoardWet,
            Defect::VerminDamage,
        ]),
        () if seen.strainer.is_some_and(|strainer| strainer != "clear") => {}
        () => add(&[
            Defect::FillValveWeak,
            Defect::RestrictorScaled,
            Defect::InletStrainerClogged,
            Defect::ValveStrainerClogged,
            Defect::FillValveSticks,
        ]),
    }
}

fn door(seen: &Seen, symptoms: &[Symptom], add: &mut impl FnMut(&[Defect])) {
    match seen.door {
        Some("when_pushed") => add(&[Defect::DoorSags, Defect::DoorMagnet, Defect::DoorSwitchFails]),
        Some("never") if seen.test_magnet == Some("answers") => add(&[Defect::DoorMagnet, Defect::DoorSags]),
        Some("never") => add(&[Defect::DoorSwitchFails, Defect::DoorMagnet, Defect::DoorSags]),
        _ => {}
    }
    if seen.pump_runs_open {
        add(&[Defect::DoorSwitchSticks]);
    }
    match seen.gasket {
        Some("misfitted" | "missing") => add(&[Defect::GasketMisfitted]),
        Some("hard" | "torn") => add(&[Defect::GasketTorn]),
        _ => {}
    }
    if seen.below.is_some_and(|below| below != "dry") || symptoms.contains(&Symptom::LeaksBelow) {
        add(&[Defect::HoseLeaks]);
    }
    if seen.buffer.is_some_and(|buffer| buffer != "in_line") {
        add(&[Defect::DoorSags]);
    }
}

fn wash(seen: &Seen, design: &Design, add: &mut impl FnMut(&[Defect])) {
    let starved = seen.level_before.is_some_and(|level| level < 0.85);
    let current = seen.current;
    match seen.strength {
        Some("none") if seen.hums || current.is_some_and(|share| share > 1.8) => {
            add(&[Defect::RunCapacitorWeak, Defect::WashMotorDead]);
        }
        Some("none") if seen.door == Some("never") => add(&[Defect::DoorSwitchFails]),
        Some("none") if seen.winding_open == Some(true) => add(&[Defect::WashMotorDead]),
        Some("none") => add(&[
            Defect::DoorSwitchFails,
            Defect::WashMotorDead,
            Defect::WiringCorroded,
            Defect::VerminDamage,
            Defect::BoardWet,
            Defect::WashPumpClogged,
        ]),
        Some("weak") if seen.hums || current.is_some_and(|share| share > 1.15) => {
            add(&[Defect::RunCapacitorWeak, Defect::SupplyVoltageLow, Defect::WashMotorDead]);
        }
        Some("weak") if seen.pattern == Some("uneven") => {
            add(&[Defect::SprayBlocked, Defect::WashPumpClogged]);
        }
        Some("weak") => add(&[Defect::WashPumpClogged, Defect::WashPumpFades, Defect::SprayBlocked]),
        _ => {}
    }
    if seen.hold.is_some_and(|hold| !hold.is_past(design.run_s)) && !starved {
        add(&[Defect::WashPumpFades, Defect::HoseDrawsAir, Defect::GasketTorn, Defect::SumpSeatLeaks]);
    } else if starved {
        add(&[Defect::LevelSensorFouled, Defect::FillValveWeak]);
    }
    if seen.pattern == Some("uneven") {
        add(&[Defect::SprayBlocked]);
    }
}

fn heat(seen: &Seen, design: &Design, add: &mut impl FnMut(&[Defect])) {
    let is = |value: Option<f64>, test: &dyn Fn(f64) -> bool| value.is_some_and(test);
    if seen.clarity.is_some_and(|clarity| clarity != "clear") {
        add(&[Defect::RinseFails]);
    }
    if seen.steam.is_some_and(|steam| !steam.reached || steam.seconds > 100.0) {
        add(&[Defect::SteamGeneratorScaled, Defect::ElementOpen, Defect::SupplyVoltageLow]);
        add(&[Defect::WiringCorroded, Defect::VerminDamage]);
    }
    if seen.heating.is_some_and(|heating| !heating.reached || heating.seconds > 1.4 * sound_heating_s(design))
    {
        add(&[Defect::ElementOpen, Defect::SupplyVoltageLow, Defect::SteamGeneratorScaled]);
        add(&[Defect::CutOutOpens]);
        add(&[Defect::WiringCorroded, Defect::VerminDamage]);
    }
    if is(seen.probe_off_k, &|off| off.abs() > 3.0) {
        add(&[Defect::ProbeDrifted]);
    }
    if is(seen.supply, &|supply| supply < 0.92) {
        add(&[Defect::SupplyVoltageLow]);
    }
    if is(seen.capacitance, &|share| share < 0.88) {
        add(&[Defect::RunCapacitorWeak]);
    }
    match seen.connectors {
        Some("gnawed") => add(&[Defect::VerminDamage]),
        Some("corroded") => add(&[Defect::WiringCorroded]),
        _ => {}
    }
    if seen.board_wet == Some(true) {
        add(&[Defect::BoardWet]);
    }
    if seen.misused == Some(true) {
        add(&[Defect::Misuse]);
    }
    if seen.coil_open == Some(true) {
        add(&[Defect::FillValveCoilOpen]);
    }
    if seen.element_open == Some(true) {
        add(&[Defect::ElementOpen]);
    }
}

impl Timed {
    /// Held to the end, or so near it that it makes no odds.
    fn is_past(self, end_s: f64) -> bool {
        !self.reached || self.seconds > 0.95 * end_s
    }
}

/// A fill that takes longer has something in its way.
fn healthy_fill_s(design: &Design) -> f64 {
    0.8 * design.fill_limit_s
}

fn drain_limit(design: &Design) -> f64 {
    match design.drain {
        domain::equipment::Drain::Pump { flow_l_per_s } => 1.6 * design.full_l / flow_l_per_s,
        domain::equipment::Drain::Gravity { .. } => 60.0,
    }
}

/// To the stage by which the heating is judged, from water of 13 °C.
fn sound_heating_s(design: &Design) -> f64 {
    let capacity = design.full_l * 4.18 + design.steel_kj_per_k;
    let stage_cel = design.wash_stages_cel.get(JUDGED_BY.index()).copied().unwrap_or(85.0);
    capacity * (stage_cel - 13.0) / (f64::from(design.elements) * design.element_kw - design.loss_kw)
}

/// The tests that show whether a repair of this defect worked.
pub fn proofs(defect: Defect) -> &'static [Test] {
    match defect.position() {
        Position::ChemicalLoad | Position::DosingPump => &[Test::ChemicalDelivery],
        Position::SitePressure | Position::Treatment => &[Test::InletPressure, Test::FillTime],
        Position::InletStrainer
        | Position::ValveStrainer
        | Position::FlowRestrictor
        | Position::FillValveDriver => &[Test::FillTime],
        Position::FillValve => &[Test::InletPressure, Test::FillTime, Test::ValveShutsTight],
        Position::PumpHose
        | Position::WashPump
        | Position::WashMotor
        | Position::RunCapacitor
        | Position::SprayManifold => &[Test::WashFlowHold],
        Position::DrainPump | Position::DrainTrap | Position::BuildingDrain => &[Test::DrainTime],
        Position::SumpSeat | Position::LevelSensor => &[Test::SumpHolds, Test::WashFlowHold],
        Position::DoorSwitch => &[Test::DoorSwitch, Test::WashFlowHold],
        Position::DoorGasket | Position::DoorBuffer => &[Test::SealAndBufferLook],
        Position::SteamGenerator => &[Test::Steam],
        Position::Heater => &[Test::DeadElectrical, Test::StagedHeating],
        Position::CavityProbe => &[Test::ProbeCheck],
        Position::Rinse => &[Test::RinseClear],
        Position::Wiring | Position::ControlBoard => {
            &[Test::CommandedVolts, Test::FillTime, Test::WashFlowHold]
        }
        _ => &[],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::equipment::demo_combi;

    fn first(seen: &Seen) -> Option<Defect> {
        suspects(seen, &[], &Design::of(demo_combi()).unwrap()).first().copied()
    }

    #[test]
    fn look_alikes_are_told_apart() {
        let slow = Some(Timed { seconds: 30.0, reached: true });
        let flowing = Seen { fill: slow, static_bar: Some(3.0), dynamic_bar: Some(2.9), ..Seen::default() };
        assert_eq!(first(&Seen { strainer: Some("clear"), ..flowing.clone() }), Some(Defect::FillValveWeak));
        assert_eq!(
            first(&Seen { strainer: Some("clogged"), ..flowing.clone() }),
            Some(Defect::InletStrainerClogged)
        );
        let weak = Seen { static_bar: Some(1.0), dynamic_bar: Some(0.9), ..flowing.clone() };
        assert_eq!(first(&weak), Some(Defect::SupplyPressureLow));
        assert_eq!(first(&Seen { dynamic_bar: Some(0.9), ..flowing }), Some(Defect::SupplyValvePartShut));
        let fading = Seen {
            strength: Some("strong"),
            level_before: Some(1.0),
            hold: Some(Timed { seconds: 2.0, reached: true }),
            ..Seen::default()
        };
        assert_eq!(first(&fading), Some(Defect::WashPumpFades));
        assert_eq!(first(&Seen { level_before: Some(0.5), ..fading }), Some(Defect::LevelSensorFouled));
        assert_eq!(first(&Seen::default()), Some(Defect::Misuse));
    }
}
