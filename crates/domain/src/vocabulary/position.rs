use super::term::terms;

terms! {
    /// A role in the one generic wash circuit, whatever part is fitted in it. A model lists those that
    /// it has.
    Position is "position" {
        Treatment "treatment" "water treatment ahead of the machine"
        InletStrainer "inlet_strainer" "strainer at the head of the machine's water inlet"
        ValveStrainer "valve_strainer" "fine strainer inside the fill valve's inlet"
        FillValve "fill_valve" "valve that lets water into the sump"
        FillValveDriver "fill_valve_driver" "control output that switches the fill valve"
        FlowRestrictor "flow_restrictor" "restrictor, nozzle or flow regulator after the fill valve"
        Sump "sump" "vessel that holds the wash water"
        SumpSeat "sump_seat" "seat or stopper that keeps the sump from draining"
        LevelSensor "level_sensor" "sensor of the water level in the sump"
        WashPump "wash_pump" "hydraulic part of the wash pump: impeller, housing, shaft seal"
        WashMotor "wash_motor" "motor of the wash pump"
        RunCapacitor "run_capacitor" "run capacitor of the wash motor"
        PumpHose "pump_hose" "hoses between sump, pump and spray"
        SprayManifold "spray_manifold" "spray distributor in the cavity"
        DrainPump "drain_pump" "pump that empties the sump"
        DrainTrap "drain_trap" "trap and hose between the machine and the building's drain"
        DoorSwitch "door_switch" "switch or magnet by which the machine knows that the door is shut"
        DoorGasket "door_gasket" "gasket between door and cavity"
        DoorBuffer "door_buffer" "buffer and hinge that hold the door in line"
        ChemicalLoad "chemical_load" "cleaning chemical as loaded"
        DosingPump "dosing_pump" "pump or tube that doses liquid chemical"
        Rinse "rinse" "rinsing with fresh water after the wash"
        SteamGenerator "steam_generator" "steam generator with its scale and its feed"
        Heater "heater" "heating elements"
        CavityProbe "cavity_probe" "temperature probe of the cavity"
        FanMotor "fan_motor" "motor of the circulation fan"
        Wiring "wiring" "connectors and wiring"
        ControlBoard "control_board" "control electronics"
        SitePressure "site_pressure" "water pressure that the building gives"
        SiteVoltage "site_voltage" "voltage that the building gives"
        BuildingDrain "building_drain" "drain of the building"
        Use "use" "how the machine is used: programme chosen, cancelled, loaded"
    }
}

impl Position {
    /// Whether it stands for something outside the machine, whose state is no fault of the machine.
    pub const fn is_external(self) -> bool {
        matches!(self, Self::SitePressure | Self::SiteVoltage | Self::BuildingDrain | Self::Use)
    }

    /// Whether work on it lets water out, or in where it does not belong. Common practice, no source.
    pub const fn holds_water(self) -> bool {
        !matches!(
            self,
            Self::FillValveDriver
                | Self::RunCapacitor
                | Self::DoorSwitch
                | Self::DoorGasket
                | Self::DoorBuffer
                | Self::ChemicalLoad
                | Self::CavityProbe
                | Self::FanMotor
                | Self::Wiring
                | Self::ControlBoard
                | Self::SiteVoltage
                | Self::Use
        )
    }
}
