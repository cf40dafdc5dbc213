use super::term::terms;

terms! {
    /// The physical or chemical process that led to the failure.
    Mechanism is "mechanism" {
        Fouling "fouling" "dirt, grease or debris settled on or in it"
        Scaling "scaling" "minerals out of the water settled on it"
        Corrosion "corrosion" "its material was eaten chemically"
        Wear "wear" "its material was rubbed away"
        Fatigue "fatigue" "it cracked under repeated load"
        Ageing "ageing" "its material hardened or lost its properties with time and heat"
        Overheating "overheating" "heat damaged it"
        Seizure "seizure" "moving surfaces stuck together"
        Loosening "loosening" "a joint or fixing came loose"
        MoistureIngress "moisture_ingress" "water came in where it must not"
        ElectricalBreakdown "electrical_breakdown" "an insulation, a winding or a component broke down"
        Deformation "deformation" "it was bent or warped"
        Unknown "unknown" "the process is not known"
    }
}

terms! {
    /// The circumstance in design, manufacture, installation, use or maintenance.
    Cause is "cause" {
        InstalledWrong "installed_wrong" "put in wrongly when the machine was installed"
        ReassembledWrong "reassembled_wrong" "put together wrongly after work on it"
        WrongPartOrChemical "wrong_part_or_chemical" "a part or chemical that does not belong there"
        Grease "grease" "grease from cooking"
        FoodDebris "food_debris" "remains of food"
        Limescale "limescale" "lime out of the supply"
        PipeDebris "pipe_debris" "rust, sand or swarf out of the pipes"
        Wear "wear" "ordinary wear of use"
        Age "age" "ordinary age"
        WaterSupply "water_supply" "pressure or flow of the water supply"
        WaterQuality "water_quality" "what is dissolved in the water"
        BuildingDrain "building_drain" "drain of the building"
        ElectricalSupply "electrical_supply" "voltage or phases of the supply"
        Misuse "misuse" "used otherwise than intended"
        CleaningPractice "cleaning_practice" "how the machine was cleaned, hosed down above all"
        NeglectedMaintenance "neglected_maintenance" "care that was due was not given"
        TransportDamage "transport_damage" "damaged on its way"
        Vermin "vermin" "animals"
        ManufacturingDefect "manufacturing_defect" "was made badly"
        DesignLimit "design_limit" "was asked for more than it was designed for"
        SoftwareSetting "software_setting" "a setting of the controls"
        PreviousRepair "previous_repair" "a repair before this one"
        Unknown "unknown" "the cause is not known"
    }
}

terms! {
    /// What was done to a position. Each action begins a new epoch of evidence.
    Action is "action" {
        ExplainedUse "explained_use" "showed people how to use it"
        Cleaned "cleaned" "cleaned it"
        Descaled "descaled" "took the scale off"
        Cleared "cleared" "took a blockage out"
        RefittedRightWay "refitted_right_way" "fitted it the right way round"
        Tightened "tightened" "tightened a joint or a terminal"
        Adjusted "adjusted" "set it anew"
        Reset "reset" "reset a protection or the controls"
        Recalibrated "recalibrated" "brought its reading back to truth"
        Repaired "repaired" "repaired it in place"
        Replaced "replaced" "fitted a new part"
        Removed "removed" "took its part out and fitted none"
        ReplacedTemporary "replaced_temporary" "fitted a stopgap part"
        BypassedTemporary "bypassed_temporary" "went round it for a time that must end"
        Isolated "isolated" "shut it off and made it safe"
        Referred "referred" "passed it on to another trade"
        NoAction "no_action" "left it as it was"
        DeclinedByCustomer "declined_by_customer" "the customer did not want it done"
    }
}

impl Action {
    /// Whether it is a stopgap: the job is then not repaired, and the stopgap needs an end.
    pub const fn is_temporary(self) -> bool {
        matches!(self, Self::ReplacedTemporary | Self::BypassedTemporary)
    }

    /// Whether it changes the machine, so that readings before and after do not mix.
    pub const fn changes_the_machine(self) -> bool {
        !matches!(self, Self::ExplainedUse | Self::Referred | Self::NoAction | Self::DeclinedByCustomer)
    }
}

terms! {
    /// The condition of a position as found: proposed from its readings, set by a person.
    Condition is "finding" {
        Ok "ok" "does its work as a healthy one does"
        Degraded "degraded" "does its work, but not as a healthy one does"
        Failed "failed" "does not do its work"
        Inconclusive "inconclusive" "the readings cannot tell"
        NotTested "not_tested" "was not tested, with a reason"
    }
}

terms! {
    /// How a finding is known.
    EvidenceKind is "evidence" {
        Measured "measured" "read on an instrument"
        Timed "timed" "timed by hand"
        Seen "seen" "looked at"
        Heard "heard" "listened to"
        Reported "reported" "told by somebody"
    }
}
