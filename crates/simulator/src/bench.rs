//! Tests as a technician takes them: the machine's real behaviour, seen through a watch, a gauge, a
//! clamp and a pair of eyes.

mod electrical;
mod heat;
mod look;
mod reading;
mod seen;
#[cfg(test)]
mod tests;
mod water;

pub(crate) use heat::JUDGED_BY;
pub(crate) use reading::key;
pub use seen::{Seen, Timed};

use domain::evidence::{Conditions, Reading};
use domain::vocabulary::Position;

use crate::defect::Severities;
use crate::history::Code;
use crate::people::Habits;
use crate::physics::{Machine, Surroundings};
use crate::random::Random;

/// The built-in procedures, in the order in which one would take them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Test {
    ChemicalDelivery,
    SealAndBufferLook,
    DoorSwitch,
    InletPressure,
    StrainerLook,
    FillTime,
    StartUpCatch,
    ValveShutsTight,
    SumpHolds,
    WashFlowHold,
    DrainTime,
    WaterQuality,
    RinseClear,
    CommandedVolts,
    DeadElectrical,
    Steam,
    StagedHeating,
    ProbeCheck,
    WiringLook,
    UseReview,
    FullCycle,
}

impl Test {
    pub const ALL: [Self; 21] = [
        Self::ChemicalDelivery,
        Self::SealAndBufferLook,
        Self::DoorSwitch,
        Self::InletPressure,
        Self::StrainerLook,
        Self::FillTime,
        Self::StartUpCatch,
        Self::ValveShutsTight,
        Self::SumpHolds,
        Self::WashFlowHold,
        Self::DrainTime,
        Self::WaterQuality,
        Self::RinseClear,
        Self::CommandedVolts,
        Self::DeadElectrical,
        Self::Steam,
        Self::StagedHeating,
        Self::ProbeCheck,
        Self::WiringLook,
        Self::UseReview,
        Self::FullCycle,
    ];

    pub const fn key(self) -> Code {
        match self {
            Self::ChemicalDelivery => "chemical_delivery",
            Self::SealAndBufferLook => "seal_and_buffer_look",
            Self::DoorSwitch => "door_switch",
            Self::InletPressure => "inlet_pressure",
            Self::StrainerLook => "strainer_look",
            Self::FillTime => "fill_time",
            Self::StartUpCatch => "start_up_catch",
            Self::ValveShutsTight => "valve_shuts_tight",
            Self::SumpHolds => "sump_holds",
            Self::WashFlowHold => "wash_flow_hold",
            Self::DrainTime => "drain_time",
            Self::WaterQuality => "water_quality",
            Self::RinseClear => "rinse_clear",
            Self::CommandedVolts => "commanded_volts",
            Self::DeadElectrical => "dead_electrical",
            Self::Steam => "steam",
            Self::StagedHeating => "staged_heating",
            Self::ProbeCheck => "probe_check",
            Self::WiringLook => "wiring_look",
            Self::UseReview => "use_review",
            Self::FullCycle => "full_cycle",
        }
    }

    pub const fn minutes(self) -> i64 {
        match self {
            Self::DoorSwitch | Self::FillTime | Self::StartUpCatch => 2,
            Self::ChemicalDelivery
            | Self::SealAndBufferLook
            | Self::SumpHolds
            | Self::CommandedVolts
            | Self::UseReview => 3,
            Self::ValveShutsTight | Self::DrainTime | Self::ProbeCheck => 4,
            Self::InletPressure | Self::WashFlowHold | Self::WaterQuality | Self::RinseClear => 5,
            Self::StrainerLook | Self::Steam => 8,
            Self::DeadElectrical => 10,
            Self::StagedHeating => 20,
            Self::WiringLook => 6,
            Self::FullCycle => 60,
        }
    }

    /// Whether the machine has what the test is about.
    pub fn applies_to(self, machine: &Machine) -> bool {
        let has = |position| machine.design.has(position);
        match self {
            Self::StartUpCatch => machine.design.has_start_up_call,
            Self::SealAndBufferLook => has(Position::DoorGasket) || has(Position::DoorBuffer),
            Self::StrainerLook => has(Position::InletStrainer) || has(Position::ValveStrainer),
            Self::Steam => has(Position::SteamGenerator),
            Self::WaterQuality => has(Position::Treatment),
            Self::SumpHolds => has(Position::SumpSeat),
            Self::DoorSwitch => has(Position::DoorSwitch),
            _ => true,
        }
    }
}

/// One test as it was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    pub test: Test,
    pub conditions: Conditions,
    pub readings: Vec<Reading>,
    /// Steps that were not done, with their reasons.
    pub not_tested: Vec<(Code, &'static str)>,
    /// An interlock was bridged for it.
    pub defeated_interlock: bool,
}

/// A machine, a technician and a moment.
pub struct Bench<'a> {
    pub machine: &'a Machine,
    pub severities: &'a Severities,
    pub surroundings: Surroundings,
    pub habits: &'a Habits,
    pub random: &'a mut Random,
    pub seen: &'a mut Seen,
    /// A flow meter is fitted for the wash run.
    pub flow_meter: bool,
    /// Somebody else is there to watch over a bridged interlock.
    pub second_person: bool,
}

impl Bench<'_> {
    pub fn take(&mut self, test: Test) -> Taken {
        let mut taken = Taken {
            test,
            conditions: Conditions::default(),
            readings: Vec::new(),
            not_tested: Vec::new(),
            defeated_interlock: false,
        };
        match test {
            Test::ChemicalDelivery => self.chemical_delivery(&mut taken),
            Test::SealAndBufferLook => self.seal_and_buffer_look(&mut taken),
            Test::DoorSwitch => self.door_switch(&mut taken),
            Test::InletPressure => self.inlet_pressure(&mut taken),
            Test::StrainerLook => self.strainer_look(&mut taken),
            Test::FillTime => self.fill_time(&mut taken),
            Test::StartUpCatch => self.start_up_catch(&mut taken),
            Test::ValveShutsTight => self.valve_shuts_tight(&mut taken),
            Test::SumpHolds => self.sump_holds(&mut taken),
            Test::WashFlowHold => self.wash_flow_hold(&mut taken),
            Test::DrainTime => self.drain_time(&mut taken),
            Test::WaterQuality => self.water_quality(&mut taken),
            Test::RinseClear => self.rinse_clear(&mut taken),
            Test::CommandedVolts => self.commanded_volts(&mut taken),
            Test::DeadElectrical => self.dead_electrical(&mut taken),
            Test::Steam => self.steam(&mut taken),
            Test::StagedHeating => self.staged_heating(&mut taken),
            Test::ProbeCheck => self.probe_check(&mut taken),
            Test::WiringLook => self.wiring_look(&mut taken),
            Test::UseReview => self.use_review(&mut taken),
            Test::FullCycle => self.full_cycle(&mut taken),
        }
        taken
    }
}
