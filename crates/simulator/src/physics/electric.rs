use super::fill::voltage;
use super::machine::{Machine, Surroundings};
use crate::defect::{Defect, Severities, remains};
use crate::random::Random;

/// What instruments would read at the machine's terminals, before any reading error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Electrics {
    pub supply_v: f64,
    /// At the load when commanded.
    pub volts_at_fill_valve: f64,
    pub volts_at_wash_pump: f64,
    /// Infinite if open.
    pub coil_ohm: f64,
    pub winding_ohm: f64,
    pub drain_winding_ohm: f64,
    /// Of one element; infinite if open.
    pub element_ohm: f64,
    pub capacitor_uf: f64,
    pub insulation_mohm: f64,
    /// After the elements were dried: what was damp alone reads well again.
    pub insulation_dried_mohm: f64,
    pub probe_ohm: f64,
}

impl Machine {
    pub fn electrics(
        &self,
        severities: &Severities,
        surroundings: &Surroundings,
        ambient_cel: f64,
        random: &mut Random,
    ) -> Electrics {
        use super::command::Output::{FillValve, WashPump};
        let design = &self.design;
        let supply = design.voltage_v * voltage(severities, surroundings);
        let copper = (234.5 + ambient_cel) / (234.5 + 20.0);
        let open_if = |open: bool, ohm: f64| if open { f64::INFINITY } else { ohm };
        let lost = severities[Defect::InsulationLow].max(0.25 * severities[Defect::BoardWet]);
        let damp = lost.max(severities[Defect::InsulationDamp]);
        let insulation =
            |share: f64, random: &mut Random| 100.0 * libm::pow(10.0, -4.0 * share) * random.factor(0.3);
        Electrics {
            supply_v: supply,
            volts_at_fill_valve: if self.commanded(FillValve, severities, random) { supply } else { 0.0 },
            volts_at_wash_pump: if self.commanded(WashPump, severities, random) { supply } else { 0.0 },
            coil_ohm: open_if(
                severities.has(Defect::FillValveCoilOpen),
                design.coil_ohm * self.ohms * copper,
            ),
            winding_ohm: open_if(self.winding_open(severities), design.winding_ohm * self.ohms * copper),
            drain_winding_ohm: open_if(severities.has(Defect::DrainPumpDead), 165.0 * self.ohms * copper),
            element_ohm: open_if(
                severities.has(Defect::ElementOpen),
                230.0 * 230.0 / (design.element_kw * 1000.0) / self.power,
            ),
            capacitor_uf: design.capacitor_uf
                * self.current
                * remains(severities[Defect::RunCapacitorWeak], 0.55),
            insulation_mohm: insulation(damp, random),
            insulation_dried_mohm: insulation(lost, random),
            probe_ohm: 100.0 * (1.0 + 0.0039083 * ambient_cel)
                + 0.39 * 15.0 * severities[Defect::ProbeDrifted],
        }
    }
}
