use super::command::{Output, bites};
use super::machine::{Machine, Surroundings};
use crate::defect::{Defect, Severities, remains};

/// What an ordinary cleaning cycle does with the machine as it is: quasi-steady and without chance,
/// because it is asked for every machine every few days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Performance {
    /// L/min into the sump; 0 if no water comes.
    pub fill_l_per_min: f64,
    /// Level when the wash begins, over the full one. The controls fill by level, and when their patience
    /// ends they wash with what there is.
    pub filled: f64,
    /// Mean wash flow over the new machine's.
    pub flow: f64,
    /// The wash motor hums, on the stand or as it turns.
    pub hums: bool,
    /// How much of the cavity the spray reaches.
    pub pattern: f64,
    pub chemical: f64,
    /// Heat delivered in the time allowed.
    pub heat: f64,
    pub steam: f64,
    pub rinse: f64,
    /// Drain flow over the new machine's.
    pub drain: f64,
    /// Litres a cycle onto the floor.
    pub leak_l: f64,
    /// Litres a cycle under the machine.
    pub leak_below_l: f64,
    /// Litres that trickle into the shut machine in an idle hour.
    pub trickle_l: f64,
    /// Share of cycles that start, and that then run through.
    pub starts: f64,
    pub runs_through: f64,
    /// Share of the soil removed by a cycle.
    pub cleaning: f64,
}

impl Performance {
    pub fn of(machine: &Machine, severities: &Severities, surroundings: &Surroundings) -> Self {
        let design = &machine.design;
        let arrives = |output| machine.command_arrives(output, severities);
        let fill = machine.expected_fill_flow(severities, surroundings);
        let wanted = machine.stops_at_l(severities);
        let came = fill / 60.0 * design.patience_s;
        let passing = machine.passes_l_per_min(severities, surroundings);
        let seat = machine.seat_leak(severities) * wanted.sqrt() * 15.0;
        let level = (came.min(wanted) - seat).max(0.0);

        let pump = machine.pump(severities, surroundings);
        let (door, below) = (machine.leak_share(severities), Machine::leak_below(severities));
        let leak = door + below;
        let span = design.starve_l - design.dry_l + design.return_s * pump.flow;
        let steady = ((level - design.dry_l) / span).clamp(0.0, 1.0);
        let held = steady * (1.0 - (4.0 * leak).min(0.6)) * (1.0 - 0.8 * pump.air_share);
        let flow = pump.flow / design.pump_flow() * held;

        let blocked = severities[Defect::SprayBlocked];
        let pattern = 1.0 - 0.75 * blocked;
        let chemical =
            (1.0 - severities[Defect::ChemicalWrong]) * remains(severities[Defect::DosingWeak], 0.95);
        let whole = f64::from(design.elements) * design.element_kw;
        let power = machine.heating_kw(severities, surroundings) / whole * arrives(Output::Heater);
        let probe = 1.0 - 0.6 * severities[Defect::ProbeDrifted];
        let cut = 1.0 - 0.6 * bites(severities[Defect::CutOutOpens]);
        let heat = cut
            * ((power * 1.6 - 0.3) * (1.0 - 0.25 * severities[Defect::SteamGeneratorScaled]) * probe)
                .clamp(0.0, 1.0);
        let steam =
            power * cut * remains(severities[Defect::SteamGeneratorScaled], 0.85) * (fill / 4.0).min(1.0);
        let rinse = (1.0 - severities[Defect::RinseFails]) * (fill / 5.0).min(1.0);
        let drain = machine.drain_share(severities) * arrives(Output::DrainPump);

        let starts = arrives(Output::FillValve).min(arrives(Output::WashPump))
            * if level < design.dry_l { 0.0 } else { 1.0 }
            * if pump.turns { 1.0 } else { 0.0 };
        let runs_through = (1.0 - 0.35 * bites(severities[Defect::Intermittent]))
            * (1.0 - 0.9 * severities[Defect::Misuse])
            * (1.0 - 0.8 * bites(severities[Defect::InsulationLow].max(severities[Defect::InsulationDamp])))
            * (drain * 3.0).min(1.0);
        let mechanical = libm::pow(flow.clamp(0.0, 1.0), 0.8) * pattern;
        let cleaning = mechanical
            * (0.25 + 0.75 * chemical)
            * (0.5 + 0.5 * heat)
            * (0.6 + 0.4 * rinse)
            * (1.0 - 0.5 * severities[Defect::Misuse]);
        Self {
            fill_l_per_min: fill * arrives(Output::FillValve),
            filled: level / machine.full_l(),
            flow,
            hums: pump.hums && arrives(Output::WashPump) > 0.5,
            pattern,
            chemical,
            heat,
            steam,
            rinse,
            drain,
            leak_l: door * 0.3 * 60.0 * flow,
            leak_below_l: below * 0.3 * 60.0 * flow,
            trickle_l: 60.0 * passing,
            starts,
            runs_through,
            cleaning: cleaning * starts.min(1.0),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::machine::{calm_surroundings, worked_design};
    use super::*;

    #[test]
    fn a_sound_machine_cleans_and_each_serious_defect_shows() {
        let machine = Machine::nominal(worked_design());
        let surroundings = calm_surroundings(3.0);
        let of = |severities: &Severities| Performance::of(&machine, severities, &surroundings);
        let sound = of(&Severities::default());
        assert!(sound.cleaning > 0.9 && sound.starts > 0.99 && sound.runs_through > 0.99, "{sound:?}");
        for defect in [
            Defect::ChemicalWrong,
            Defect::InletStrainerClogged,
            Defect::FillValveWeak,
            Defect::WashPumpClogged,
            Defect::WashPumpFades,
            Defect::WashMotorDead,
            Defect::SprayBlocked,
            Defect::DoorSwitchFails,
            Defect::DoorMagnet,
            Defect::FillValveSticks,
            Defect::ValveStrainerClogged,
            Defect::HoseDrawsAir,
        ] {
            let failed = of(&Severities::default().with(defect, 1.0));
            assert!(failed.cleaning < 0.55, "{defect:?}: {failed:?}");
        }
    }
}
