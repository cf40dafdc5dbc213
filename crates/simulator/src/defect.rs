//! What can be wrong, in the simulator's own terms: each defect has one continuous severity, 0 sound
//! and 1 entirely failed. From [`Defect::NOTICEABLE`] on, a technician who looked would call it a
//! fault; that is where the labels of the diagnosis cases come from.

use domain::vocabulary::{Cause, FailureMode, Mechanism, Position};
use serde::Serialize;

macro_rules! defects {
    ($($variant:ident $key:literal $position:ident $mode:ident $mechanism:ident $cause:ident;)+) => {
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Defect { $($variant,)+ }

        impl Defect {
            pub const ALL: &[Self] = &[$(Self::$variant,)+];
            pub const COUNT: usize = Self::ALL.len();

            pub const fn key(self) -> &'static str {
                match self { $(Self::$variant => $key,)+ }
            }

            pub const fn position(self) -> Position {
                match self { $(Self::$variant => Position::$position,)+ }
            }

            pub const fn failure_mode(self) -> FailureMode {
                match self { $(Self::$variant => FailureMode::$mode,)+ }
            }

            pub const fn mechanism(self) -> Mechanism {
                match self { $(Self::$variant => Mechanism::$mechanism,)+ }
            }

            /// The usual cause; an event that brought it about may have had another.
            pub const fn cause(self) -> Cause {
                match self { $(Self::$variant => Cause::$cause,)+ }
            }
        }
    };
}

defects! {
    ChemicalWrong "chemical_wrong" ChemicalLoad Missing Unknown WrongPartOrChemical;
    Misuse "misuse" Use Other Unknown Misuse;
    SupplyPressureLow "supply_pressure_low" SitePressure OperatesWeakly Unknown WaterSupply;
    SupplyValvePartShut "supply_valve_part_shut" SitePressure PartlyBlocked Unknown WaterSupply;
    TreatmentExhausted "treatment_exhausted" Treatment PartlyBlocked Fouling WaterQuality;
    InletStrainerClogged "inlet_strainer_clogged" InletStrainer PartlyBlocked Fouling PipeDebris;
    StrainerMisfitted "strainer_misfitted" InletStrainer Misaligned Unknown InstalledWrong;
    FillValveWeak "fill_valve_weak" FillValve Slow Scaling Limescale;
    FillValveCoilOpen "fill_valve_coil_open" FillValve OpenCircuit ElectricalBreakdown Age;
    FillValvePasses "fill_valve_passes" FillValve LeaksInside Wear PipeDebris;
    RestrictorScaled "restrictor_scaled" FlowRestrictor PartlyBlocked Scaling Limescale;
    WashPumpClogged "wash_pump_clogged" WashPump OperatesWeakly Fouling Grease;
    WashPumpFades "wash_pump_fades" WashPump StartsThenFades Wear Wear;
    WashMotorDead "wash_motor_dead" WashMotor DoesNotOperate Seizure Age;
    RunCapacitorWeak "run_capacitor_weak" RunCapacitor Drifted Ageing Age;
    SprayBlocked "spray_blocked" SprayManifold PartlyBlocked Fouling FoodDebris;
    DrainPumpClogged "drain_pump_clogged" DrainPump PartlyBlocked Fouling FoodDebris;
    DrainPumpDead "drain_pump_dead" DrainPump DoesNotOperate Seizure Age;
    BuildingDrainBlocked "building_drain_blocked" BuildingDrain PartlyBlocked Fouling BuildingDrain;
    SumpSeatLeaks "sump_seat_leaks" SumpSeat LeaksInside Fouling FoodDebris;
    DoorSwitchFails "door_switch_fails" DoorSwitch NoSignal Wear Wear;
    DoorSwitchSticks "door_switch_sticks" DoorSwitch SticksClosed Wear Wear;
    GasketTorn "gasket_torn" DoorGasket Broken Ageing Age;
    DoorSags "door_sags" DoorBuffer Worn Wear Wear;
    SteamGeneratorScaled "steam_generator_scaled" SteamGenerator OperatesWeakly Scaling Limescale;
    ElementOpen "element_open" Heater OpenCircuit ElectricalBreakdown Age;
    ProbeDrifted "probe_drifted" CavityProbe Drifted Ageing Age;
    DosingWeak "dosing_weak" DosingPump OperatesWeakly Wear Wear;
    RinseFails "rinse_fails" Rinse OperatesWeakly Unknown Wear;
    LevelSensorFouled "level_sensor_fouled" LevelSensor FalseSignal Scaling Limescale;
    OutputDead "output_dead" FillValveDriver DoesNotOperate ElectricalBreakdown Age;
    WiringCorroded "wiring_corroded" Wiring OpenCircuit Corrosion CleaningPractice;
    BoardWet "board_wet" ControlBoard FalseSignal MoistureIngress CleaningPractice;
    SupplyVoltageLow "supply_voltage_low" SiteVoltage OperatesWeakly Unknown ElectricalSupply;
    VerminDamage "vermin_damage" Wiring Broken Unknown Vermin;
    InsulationLow "insulation_low" Heater LowInsulation MoistureIngress CleaningPractice;
    Intermittent "intermittent" Wiring Intermittent Loosening Unknown;
    FillValveSticks "fill_valve_sticks_shut" FillValve SticksClosed Scaling Limescale;
    ValveStrainerClogged "valve_strainer_clogged" ValveStrainer PartlyBlocked Fouling PipeDebris;
    GasketMisfitted "gasket_misfitted" DoorGasket Misaligned Unknown ReassembledWrong;
    HoseLeaks "hose_leaks" PumpHose LeaksOutside Ageing Age;
    DrainHoseBlocked "drain_hose_blocked" DrainTrap PartlyBlocked Fouling FoodDebris;
    HoseDrawsAir "hose_draws_air" PumpHose StartsThenFades Loosening Age;
    CutOutOpens "cut_out_opens" Heater Drifted Ageing Age;
    DoorMagnet "door_magnet" DoorSwitch Misaligned Loosening Wear;
    InsulationDamp "insulation_damp" Heater LowInsulation MoistureIngress CleaningPractice;
}

impl Defect {
    /// The severity from which a look or a reading would call it a fault.
    pub const NOTICEABLE: f64 = 0.42;

    /// Not of the machine: the building's supply and drain, and how people use it.
    pub const fn is_external(self) -> bool {
        self.position().is_external()
    }

    /// How people use it.
    pub const fn is_of_use(self) -> bool {
        matches!(self, Self::ChemicalWrong | Self::Misuse)
    }

    /// Held by the kitchen rather than by one machine.
    pub const fn is_of_the_kitchen(self) -> bool {
        matches!(
            self,
            Self::SupplyPressureLow
                | Self::SupplyValvePartShut
                | Self::SupplyVoltageLow
                | Self::BuildingDrainBlocked
                | Self::TreatmentExhausted
        )
    }
}

/// What is left, 0…1, of an effect that falls by `slope` of itself while something goes bad and is gone
/// when it has failed entirely: most faults stay partial, a few do not.
pub(crate) fn remains(severity: f64, slope: f64) -> f64 {
    let entirely = severity.powi(12);
    (1.0 - slope * severity - (1.0 - slope) * entirely).max(0.0)
}

/// What shows of a severity: parts are sized with a reserve, and until that is used up little is felt.
pub(crate) fn felt(severity: f64) -> f64 {
    severity * (severity / Defect::NOTICEABLE).min(1.0).powi(4)
}

/// The severity of every defect of one machine, its kitchen's included.
#[derive(Debug, Clone, PartialEq)]
pub struct Severities([f64; Defect::COUNT]);

impl Default for Severities {
    fn default() -> Self {
        Self([0.0; Defect::COUNT])
    }
}

impl std::ops::Index<Defect> for Severities {
    type Output = f64;

    fn index(&self, defect: Defect) -> &f64 {
        &self.0[defect as usize]
    }
}

impl Severities {
    /// Held to 0…1.
    pub fn set(&mut self, defect: Defect, severity: f64) {
        self.0[defect as usize] = severity.clamp(0.0, 1.0);
    }

    pub fn add(&mut self, defect: Defect, more: f64) {
        self.set(defect, self[defect] + more);
    }

    #[must_use]
    pub fn with(mut self, defect: Defect, severity: f64) -> Self {
        self.set(defect, severity);
        self
    }

    /// What shows of them.
    #[must_use]
    pub fn felt(&self) -> Self {
        Self(self.0.map(felt))
    }

    pub fn has(&self, defect: Defect) -> bool {
        self[defect] >= Defect::NOTICEABLE
    }

    /// Those that a technician who looked would call a fault.
    pub fn noticeable(&self) -> impl Iterator<Item = Defect> + '_ {
        Defect::ALL.iter().copied().filter(|defect| self.has(*defect))
    }
}
