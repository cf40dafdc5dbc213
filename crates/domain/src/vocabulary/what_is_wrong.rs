use super::term::terms;

terms! {
    /// What the caller notices.
    Symptom is "symptom" {
        NoStart "no_start" "the cleaning cycle does not start"
        StopsMidway "stops_midway" "the cycle stops before its end"
        DoesNotClean "does_not_clean" "the cycle ends and nothing is clean"
        CleansPartly "cleans_partly" "some surfaces stay dirty"
        ResidueLeft "residue_left" "chemical, foam or deposit is left after the rinse"
        NoWaterHeard "no_water_heard" "no water is heard at the start"
        Overfills "overfills" "more water comes in than should"
        StandingWater "standing_water" "water stands in the cavity or the sump"
        BacksUp "backs_up" "water comes back out of the drain"
        LeaksFront "leaks_front" "water on the floor in front, at the door"
        LeaksRear "leaks_rear" "water on the floor behind"
        LeaksBelow "leaks_below" "water under the machine"
        NoSteam "no_steam" "no steam or too little"
        NoHeat "no_heat" "it does not heat"
        SlowHeat "slow_heat" "it takes too long to heat"
        WrongTemperature "wrong_temperature" "temperature other than set"
        NoChemicalUsed "no_chemical_used" "the chemical is still there after the cycle"
        Noisy "noisy" "unusual noise"
        Smell "smell" "unusual smell"
        TripsSupply "trips_supply" "it trips a breaker or a residual-current device"
        MessageShown "message_shown" "the display shows a message"
        Intermittent "intermittent" "it comes and goes"
        Other "other" "something else, in the caller's words"
    }
}

terms! {
    /// The generic manner in which a position fails.
    FailureMode is "failure mode" {
        DoesNotOperate "does_not_operate" "does nothing when commanded"
        OperatesWeakly "operates_weakly" "works steadily, with too little effect"
        StartsThenFades "starts_then_fades" "begins with full effect and loses it"
        Slow "slow" "does its work, too slowly"
        SticksOpen "sticks_open" "stays open when told to close"
        SticksClosed "sticks_closed" "stays closed when told to open"
        LeaksInside "leaks_inside" "lets through when shut"
        LeaksOutside "leaks_outside" "lets out to where nothing should be"
        Blocked "blocked" "nothing passes"
        PartlyBlocked "partly_blocked" "too little passes"
        Misaligned "misaligned" "fitted or standing in the wrong way"
        Missing "missing" "is not there"
        Broken "broken" "cracked, torn or in pieces"
        Worn "worn" "used up beyond its tolerance"
        Noisy "noisy" "does its work with unusual noise"
        Overheats "overheats" "becomes hotter than it may"
        OpenCircuit "open_circuit" "no electrical continuity where there should be"
        ShortCircuit "short_circuit" "electrical continuity where there should be none"
        LowInsulation "low_insulation" "insulation resistance too low"
        FalseSignal "false_signal" "reports what is not so"
        NoSignal "no_signal" "reports nothing"
        Drifted "drifted" "reports or holds a shifted value"
        Intermittent "intermittent" "fails at times only"
        WrongPart "wrong_part" "is not the part that belongs there"
        NoneFound "none_found" "no failure mode was found"
        Other "other" "another manner, in words"
    }
}
