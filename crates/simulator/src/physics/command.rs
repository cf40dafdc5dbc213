use super::machine::Machine;
use crate::defect::{Defect, Severities};
use crate::random::Random;

/// What the controls switch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Output {
    FillValve,
    WashPump,
    DrainPump,
    Heater,
    DosingPump,
}

impl Machine {
    /// The share of commands on this output that arrive as voltage at the load, 0…1: in between when
    /// moisture or a loose contact decides from time to time.
    pub fn command_arrives(&self, output: Output, severities: &Severities) -> f64 {
        let driver =
            if output == Output::FillValve && severities.has(Defect::OutputDead) { 0.0 } else { 1.0 };
        let door_lost =
            |severities: &Severities| severities[Defect::DoorSwitchFails].max(severities[Defect::DoorMagnet]);
        let door = if output == Output::WashPump { passes(door_lost(severities)) } else { 1.0 };
        let weak = match output {
            Output::FillValve => self.weak_circuit < 0.4,
            Output::WashPump => (0.4..0.7).contains(&self.weak_circuit),
            Output::Heater => self.weak_circuit >= 0.7,
            Output::DrainPump | Output::DosingPump => false,
        };
        let wiring = severities[Defect::WiringCorroded].max(severities[Defect::VerminDamage]);
        let wiring = if weak { passes(wiring) } else { 1.0 };
        let board = 1.0 - 0.5 * bites(severities[Defect::BoardWet]);
        let contact = 1.0 - 0.04 * severities[Defect::Intermittent];
        driver * door * wiring * board * contact
    }

    pub fn commanded(&self, output: Output, severities: &Severities, random: &mut Random) -> bool {
        random.chance(self.command_arrives(output, severities))
    }
}

/// A trace of moisture or a slightly loose contact does nothing yet: what bites, of a severity.
pub(super) fn bites(severity: f64) -> f64 {
    ((severity - 0.2) / 0.8).max(0.0)
}

/// Sound up to a third, dead from two thirds.
fn passes(severity: f64) -> f64 {
    ((0.67 - severity) / 0.34).clamp(0.0, 1.0)
}
