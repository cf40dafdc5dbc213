//! What is done about a defect, with which part, and what is left of it afterwards.

use domain::vocabulary::{Action, Position};
use serde::Serialize;

use crate::defect::Defect;
use crate::random::Random;

/// A kind of part; which number it has depends on the model.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub enum PartKind {
    Mesh,
    FillValve,
    Nozzle,
    PumpHead,
    WashMotor,
    Capacitor,
    SprayArm,
    DrainPump,
    SumpSeal,
    DoorSwitch,
    Gasket,
    BufferSet,
    Element,
    Probe,
    DosingTube,
    LevelSensor,
    Board,
    Loom,
    Cartridge,
    HoseSet,
    CutOut,
}

/// Title, position, price in hundredths, chance that a van carries it, usual days from the supplier.
type Row = (&'static str, Position, i64, f64, f64);

impl PartKind {
    pub const ALL: [Self; 21] = [
        Self::Mesh,
        Self::FillValve,
        Self::Nozzle,
        Self::PumpHead,
        Self::WashMotor,
        Self::Capacitor,
        Self::SprayArm,
        Self::DrainPump,
        Self::SumpSeal,
        Self::DoorSwitch,
        Self::Gasket,
        Self::BufferSet,
        Self::Element,
        Self::Probe,
        Self::DosingTube,
        Self::LevelSensor,
        Self::Board,
        Self::Loom,
        Self::Cartridge,
        Self::HoseSet,
        Self::CutOut,
    ];

    const fn row(self) -> Row {
        match self {
            Self::Mesh => ("Strainer mesh", Position::InletStrainer, 1_450, 0.95, 2.0),
            Self::FillValve => ("Fill valve", Position::FillValve, 8_900, 0.70, 3.0),
            Self::Nozzle => ("Restrictor nozzle", Position::FlowRestrictor, 2_200, 0.60, 3.0),
            Self::PumpHead => ("Wash pump head", Position::WashPump, 21_400, 0.30, 4.0),
            Self::WashMotor => ("Wash motor", Position::WashMotor, 34_900, 0.15, 5.0),
            Self::Capacitor => ("Run capacitor", Position::RunCapacitor, 1_900, 0.90, 2.0),
            Self::SprayArm => ("Spray distributor", Position::SprayManifold, 12_600, 0.35, 5.0),
            Self::DrainPump => ("Drain pump", Position::DrainPump, 11_800, 0.55, 3.0),
            Self::SumpSeal => ("Sump seat seal", Position::SumpSeat, 1_650, 0.90, 2.0),
            Self::DoorSwitch => ("Door switch and magnet", Position::DoorSwitch, 4_300, 0.75, 3.0),
            Self::Gasket => ("Door gasket", Position::DoorGasket, 9_700, 0.55, 4.0),
            Self::BufferSet => ("Hinge and buffer set", Position::DoorBuffer, 5_400, 0.40, 5.0),
            Self::Element => ("Heating element", Position::Heater, 18_800, 0.25, 6.0),
            Self::Probe => ("Cavity probe", Position::CavityProbe, 6_100, 0.65, 3.0),
            Self::DosingTube => ("Dosing tube set", Position::DosingPump, 2_800, 0.85, 2.0),
            Self::LevelSensor => ("Level sensor", Position::LevelSensor, 5_200, 0.55, 4.0),
            Self::Board => ("Control board", Position::ControlBoard, 61_000, 0.08, 7.0),
            Self::Loom => ("Wiring loom", Position::Wiring, 7_300, 0.30, 6.0),
            Self::Cartridge => ("Treatment cartridge", Position::Treatment, 14_200, 0.45, 3.0),
            Self::HoseSet => ("Wash hose set", Position::PumpHose, 3_900, 0.60, 3.0),
            Self::CutOut => ("Safety cut-out", Position::Heater, 4_700, 0.50, 4.0),
        }
    }

    pub const fn title(self) -> &'static str {
        self.row().0
    }

    /// The part in words, as a number of a part begins: the same words as in the catalogues of faults.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Mesh => "inlet-strainer",
            Self::FillValve => "fill-valve",
            Self::Nozzle => "restrictor",
            Self::PumpHead => "wash-pump",
            Self::WashMotor => "wash-motor",
            Self::Capacitor => "run-capacitor",
            Self::SprayArm => "spray-distributor",
            Self::DrainPump => "drain-pump",
            Self::SumpSeal => "sump-seal",
            Self::DoorSwitch => "door-switch",
            Self::Gasket => "door-gasket",
            Self::BufferSet => "door-buffer",
            Self::Element => "heating-element",
            Self::Probe => "cavity-probe",
            Self::DosingTube => "dosing-tube",
            Self::LevelSensor => "level-sensor",
            Self::Board => "control-board",
            Self::Loom => "wiring",
            Self::Cartridge => "treatment-cartridge",
            Self::HoseSet => "hose-set",
            Self::CutOut => "safety-cut-out",
        }
    }

    pub const fn position(self) -> Position {
        self.row().1
    }

    pub const fn price_hundredths(self) -> i64 {
        self.row().2
    }

    pub const fn on_van(self) -> f64 {
        self.row().3
    }

    pub const fn supply_days(self) -> f64 {
        self.row().4
    }

    pub const fn is_consumable(self) -> bool {
        matches!(self, Self::Mesh | Self::SumpSeal | Self::Gasket | Self::DosingTube | Self::Cartridge)
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Remedy {
    pub action: Action,
    pub part: Option<PartKind>,
    pub minutes: i64,
    /// What is left of the severity.
    pub leaves: f64,
}

impl Remedy {
    fn of(action: Action, minutes: i64, leaves: f64) -> Self {
        Self { action, part: None, minutes, leaves }
    }

    fn replace(part: PartKind, minutes: i64) -> Self {
        Self { action: Action::Replaced, part: Some(part), minutes, leaves: 0.0 }
    }

    /// What a technician does about it.
    pub fn chosen(defect: Defect, random: &mut Random) -> Self {
        let mut either =
            |chance: f64, this: Self, that: Self| if random.chance(chance) { this } else { that };
        match defect {
            Defect::ChemicalWrong | Defect::Misuse => Self::of(Action::ExplainedUse, 8, 0.0),
            Defect::SupplyPressureLow => {
                either(0.35, Self::of(Action::Adjusted, 6, 0.3), Self::of(Action::Referred, 5, 1.0))
            }
            Defect::SupplyValvePartShut => {
                either(0.6, Self::of(Action::Adjusted, 6, 0.0), Self::of(Action::Referred, 5, 1.0))
            }
            Defect::SupplyVoltageLow => Self::of(Action::Referred, 5, 1.0),
            Defect::BuildingDrainBlocked => {
                either(0.35, Self::of(Action::Cleared, 20, 0.2), Self::of(Action::Referred, 5, 1.0))
            }
            Defect::TreatmentExhausted => Self::replace(PartKind::Cartridge, 15),
            Defect::InletStrainerClogged => {
                either(0.85, Self::of(Action::Cleaned, 8, 0.05), Self::replace(PartKind::Mesh, 8))
            }
            Defect::StrainerMisfitted => {
                either(0.8, Self::of(Action::RefittedRightWay, 6, 0.0), Self::replace(PartKind::Mesh, 8))
            }
            Defect::FillValveWeak => {
                either(0.8, Self::replace(PartKind::FillValve, 20), Self::of(Action::Descaled, 30, 0.25))
            }
            Defect::FillValvePasses => {
                either(0.7, Self::replace(PartKind::FillValve, 20), Self::of(Action::Cleaned, 20, 0.15))
            }
            Defect::FillValveCoilOpen => Self::replace(PartKind::FillValve, 20),
            Defect::RestrictorScaled => {
                either(0.6, Self::of(Action::Descaled, 20, 0.1), Self::replace(PartKind::Nozzle, 15))
            }
            Defect::WashPumpClogged => Self::of(Action::Cleaned, 30, 0.06),
            Defect::WashPumpFades => Self::replace(PartKind::PumpHead, 40),
            Defect::WashMotorDead => Self::replace(PartKind::WashMotor, 45),
            Defect::RunCapacitorWeak => Self::replace(PartKind::Capacitor, 12),
            Defect::SprayBlocked => {
                either(0.85, Self::of(Action::Cleaned, 15, 0.05), Self::replace(PartKind::SprayArm, 20))
            }
            Defect::DrainPumpClogged => Self::of(Action::Cleared, 20, 0.05),
            Defect::DrainPumpDead => Self::replace(PartKind::DrainPump, 25),
            Defect::SumpSeatLeaks => {
                either(0.45, Self::of(Action::Cleaned, 10, 0.1), Self::replace(PartKind::SumpSeal, 15))
            }
            Defect::DoorSwitchSticks => Self::replace(PartKind::DoorSwitch, 20),
            Defect::DoorSwitchFails => {
                either(0.35, Self::of(Action::Adjusted, 10, 0.1), Self::replace(PartKind::DoorSwitch, 20))
            }
            Defect::GasketTorn => Self::replace(PartKind::Gasket, 20),
            Defect::DoorSags => {
                either(0.5, Self::of(Action::Adjusted, 15, 0.15), Self::replace(PartKind::BufferSet, 25))
            }
            Defect::SteamGeneratorScaled => Self::of(Action::Descaled, 45, 0.1),
            Defect::ElementOpen => Self::replace(PartKind::Element, 45),
            Defect::ProbeDrifted => {
                either(0.3, Self::of(Action::Recalibrated, 10, 0.1), Self::replace(PartKind::Probe, 20))
            }
            Defect::DosingWeak => Self::replace(PartKind::DosingTube, 15),
            Defect::RinseFails => Self::of(Action::Repaired, 25, 0.0),
            Defect::LevelSensorFouled => {
                either(0.6, Self::of(Action::Cleaned, 12, 0.05), Self::replace(PartKind::LevelSensor, 20))
            }
            Defect::OutputDead => Self::replace(PartKind::Board, 35),
            Defect::WiringCorroded | Defect::VerminDamage => {
                either(0.7, Self::of(Action::Repaired, 30, 0.05), Self::replace(PartKind::Loom, 45))
            }
            Defect::BoardWet => {
                either(0.5, Self::of(Action::Repaired, 30, 0.1), Self::replace(PartKind::Board, 35))
            }
            Defect::InsulationLow => {
                either(0.6, Self::of(Action::Repaired, 30, 0.05), Self::replace(PartKind::Element, 45))
            }
            Defect::Intermittent => Self::of(Action::Tightened, 15, 0.1),
            Defect::FillValveSticks => {
                either(0.8, Self::replace(PartKind::FillValve, 20), Self::of(Action::Cleaned, 20, 0.1))
            }
            Defect::ValveStrainerClogged => Self::of(Action::Cleaned, 10, 0.05),
            Defect::GasketMisfitted => {
                either(0.5, Self::of(Action::RefittedRightWay, 10, 0.0), Self::replace(PartKind::Gasket, 20))
            }
            Defect::HoseLeaks => {
                either(0.4, Self::of(Action::Tightened, 15, 0.1), Self::replace(PartKind::HoseSet, 25))
            }
            Defect::HoseDrawsAir => {
                either(0.6, Self::of(Action::Tightened, 15, 0.05), Self::replace(PartKind::HoseSet, 25))
            }
            Defect::DrainHoseBlocked => Self::of(Action::Cleared, 15, 0.05),
            Defect::CutOutOpens => Self::replace(PartKind::CutOut, 25),
            Defect::DoorMagnet => Self::of(Action::Adjusted, 10, 0.05),
            Defect::InsulationDamp => Self::of(Action::Repaired, 30, 0.02),
        }
    }
}
