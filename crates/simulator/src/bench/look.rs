//! What is judged by eye: chemical, door, seals, strainers, the full cycle.

use domain::evidence::InstrumentKind;
use domain::vocabulary::Position;

use super::reading::{Scale, key};
use super::{Bench, Taken};
use crate::defect::Defect;
use crate::history::Code;
use crate::physics::Performance;

fn graded(severity: f64, steps: [(f64, Code); 3]) -> Code {
    let [(first, ok), (second, middle), (_, worst)] = steps;
    match () {
        () if severity < first => ok,
        () if severity < second => middle,
        () => worst,
    }
}

impl Bench<'_> {
    pub(super) fn chemical_delivery(&mut self, taken: &mut Taken) {
        let wrong = self.judged(self.severities[Defect::ChemicalWrong]);
        let loaded = match () {
            () if wrong < Defect::NOTICEABLE => "right",
            () if self.machine.weak_circuit < 0.3 => "misplaced",
            () if self.machine.weak_circuit < 0.5 => "wrong_product",
            () => "none",
        };
        let weak = self.judged(self.severities[Defect::DosingWeak]);
        let delivered = match () {
            () if loaded == "none" => "nothing",
            () if loaded == "misplaced" => "too_little",
            () if self.machine.design.has(Position::DosingPump) => {
                graded(weak, [(0.35, "arrives"), (0.8, "too_little"), (1.0, "nothing")])
            }
            () => "arrives",
        };
        Self::choose(taken, "loaded", loaded);
        Self::choose(taken, "delivered", delivered);
        (self.seen.loaded, self.seen.delivered) = (Some(loaded), Some(delivered));
    }

    pub(super) fn seal_and_buffer_look(&mut self, taken: &mut Taken) {
        if self.machine.design.has(Position::DoorGasket) {
            let torn = self.judged(self.severities[Defect::GasketTorn]);
            let misfit = self.judged(self.severities[Defect::GasketMisfitted]);
            let gasket = match () {
                () if misfit >= Defect::NOTICEABLE && self.machine.weak_circuit < 0.7 => "misfitted",
                () if misfit >= Defect::NOTICEABLE => "missing",
                () => graded(torn, [(0.3, "whole"), (0.6, "hard"), (1.0, "torn")]),
            };
            Self::choose(taken, "gasket", gasket);
            self.seen.gasket = Some(gasket);
        }
        if self.machine.design.has(Position::DoorBuffer) {
            let sags = self.judged(self.severities[Defect::DoorSags]);
            let buffer = graded(sags, [(0.35, "in_line"), (0.7, "sags"), (1.0, "does_not_shut")]);
            Self::choose(taken, "buffer", buffer);
            self.seen.buffer = Some(buffer);
        }
    }

    /// By the switch or by the door's magnet.
    fn lost_door_signal(&self) -> f64 {
        self.severities[Defect::DoorSwitchFails].max(self.severities[Defect::DoorMagnet])
    }

    pub(super) fn door_switch(&mut self, taken: &mut Taken) {
        self.seen.test_magnet = None;
        let severity = self.judged(self.lost_door_signal().max(0.4 * self.severities[Defect::DoorSags]));
        let shut = graded(severity, [(0.35, "at_once"), (0.6, "when_pushed"), (1.0, "never")]);
        Self::choose(taken, "shut_recognised", shut);
        let sticks = self.judged(self.severities[Defect::DoorSwitchSticks]);
        let opening = graded(sticks, [(0.35, "at_once"), (0.6, "late"), (1.0, "never")]);
        Self::choose(taken, "opening_recognised", opening);
        let runs_open = self.judged(self.severities[Defect::DoorSwitchSticks]) >= 0.6;
        let refuses = if runs_open { "runs" } else { "refuses" };
        Self::choose(taken, "pump_refuses", refuses);
        self.seen.pump_runs_open = runs_open || opening == "never";
        if shut == "never" && self.second_person {
            let switch = self.judged(self.severities[Defect::DoorSwitchFails]);
            let answers = if switch < 0.6 { "answers" } else { "silent" };
            Self::choose(taken, "with_test_magnet", answers);
            self.seen.test_magnet = Some(answers);
            taken.defeated_interlock = true;
        }
        self.seen.door = Some(shut);
    }

    pub(super) fn strainer_look(&mut self, taken: &mut Taken) {
        let misfit = self.judged(self.severities[Defect::StrainerMisfitted]);
        let fouled = self.judged(self.severities[Defect::InletStrainerClogged]);
        let look = match () {
            () if misfit >= Defect::NOTICEABLE && self.machine.weak_circuit < 0.7 => "wrong_way_round",
            () if misfit >= Defect::NOTICEABLE => "missing",
            () => graded(fouled, [(0.3, "clear"), (0.62, "dirty"), (1.0, "clogged")]),
        };
        let inlet = self.machine.design.has(Position::InletStrainer);
        if inlet {
            Self::choose(taken, "inlet_strainer", look);
        }
        if self.machine.design.has(Position::ValveStrainer) {
            // behind the inlet's mesh it stays clean, unless that lets dirt through
            let through =
                self.severities[Defect::StrainerMisfitted] * self.severities[Defect::InletStrainerClogged];
            let inner = self.judged((0.75 * through).max(self.severities[Defect::ValveStrainerClogged]));
            let inner = graded(inner, [(0.3, "clear"), (0.62, "dirty"), (1.0, "clogged")]);
            Self::choose(taken, "valve_strainer", if inlet { inner } else { look });
            self.seen.valve_strainer = inlet.then_some(inner);
        }
        self.seen.strainer = Some(look);
    }

    pub(super) fn wiring_look(&mut self, taken: &mut Taken) {
        let gnawed = self.judged(self.severities[Defect::VerminDamage]);
        let corroded = self.judged(self.severities[Defect::WiringCorroded]);
        let connectors = match () {
            () if gnawed > 0.4 => "gnawed",
            () if corroded > 0.4 => "corroded",
            () => "sound",
        };
        let wet = self.judged(self.severities[Defect::BoardWet]);
        taken.conditions.confirmed.insert(key("isolation_proven"));
        Self::choose(taken, "connectors", connectors);
        Self::choose(taken, "board", if wet > 0.5 { "wet" } else { "dry" });
        self.seen.connectors = Some(connectors);
        self.seen.board_wet = Some(wet > 0.5);
    }

    pub(super) fn use_review(&mut self, taken: &mut Taken) {
        let misused = self.judged(self.severities[Defect::Misuse]) >= Defect::NOTICEABLE;
        let strainer_out = misused && self.machine.weak_circuit < 0.3;
        let wrong = misused && !(strainer_out && self.random.chance(0.5)) && self.random.chance(0.9);
        Self::choose(taken, "programme", if wrong { "cancelled_or_wrong" } else { "as_meant" });
        Self::choose(taken, "cavity_strainer", if strainer_out { "out" } else { "in_place" });
        self.seen.misused = Some(wrong || strainer_out);
    }

    pub(super) fn full_cycle(&mut self, taken: &mut Taken) {
        let performance = Performance::of(self.machine, self.severities, &self.surroundings);
        let completes = self.random.chance(performance.starts * performance.runs_through);
        let message = self.random.chance(0.3 * self.severities[Defect::BoardWet]);
        let outcome = match (completes, message) {
            (false, _) => "stopped",
            (true, true) => "completed_with_message",
            (true, false) => "completed",
        };
        taken.conditions.confirmed.insert(key("chemical_loaded"));
        Self::choose(taken, "outcome", outcome);
        if completes {
            self.see_the_cycle_through(&performance, taken);
        } else {
            for step in ["start_temperature", "time_to_first_stage", "duration", "ph"] {
                Self::not_read(taken, step, "The cycle stopped by itself.");
            }
        }
        let dirt = self.judged(1.0 - performance.cleaning);
        let cleanliness =
            if completes { graded(dirt, [(0.4, "clean"), (0.7, "partly"), (1.0, "dirty")]) } else { "dirty" };
        Self::choose(taken, "cleanliness", cleanliness);
        let wet = performance.leak_l + performance.leak_below_l + self.random.normal(0.0, 0.03);
        let leaks = graded(wet, [(0.12, "dry"), (0.5, "seeps"), (1.0, "leaks")]);
        Self::choose(taken, "leaks", leaks);
        let fails = self.machine.design.limits.fail("full_cycle", &taken.readings);
        self.seen.cycle_ok = Some(cleanliness == "clean" && leaks == "dry" && !fails);
    }

    /// What only a cycle that runs to its end shows.
    fn see_the_cycle_through(&mut self, performance: &Performance, taken: &mut Taken) {
        let minutes = Scale {
            kind: InstrumentKind::Stopwatch,
            unit: "min",
            decimals: 0,
            relative: 0.02,
            absolute: 0.6,
        };
        let slow = 46.0 + 12.0 * (1.0 - performance.heat) + 6.0 * (1.0 - performance.drain);
        let read = self.read(slow, minutes);
        Self::number(taken, "duration", read.max(1.0), minutes, None);
        self.heating_in_the_cycle(taken);
        self.rinse_ph(taken);
    }
}
