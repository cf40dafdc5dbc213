//! What is decided on: each fault by itself, look-alikes together.

use crate::diagnosis::tables::{HypothesisKind, Tables};

/// Faults between which no test decides are mended or left as one.
pub(in crate::diagnosis) struct Unit {
    /// Indices of hypotheses, all of one subsystem.
    pub members: Vec<usize>,
    /// Index into the subsystems of the tables.
    pub subsystem: usize,
    /// Loss in minutes if it stands and is left.
    pub missed: f64,
    /// Loss if it is mended and does not stand.
    pub needless: f64,
}

/// What it costs to decide in doubt, in minutes for each nat of it: asking back, quoting twice, a report
/// that names two parts. The kind of cost is **common practice, no source**; its size is where
/// `scripts/evaluate` finds little lost and few minutes spent. Without it no test would be worth its minutes
/// where one mends anyway, though nobody then knew what was wrong.
const DOUBT: f64 = 405.0;

impl Unit {
    /// Average loss of the better decision and of the doubt in which it is made, from
    /// `P(it stands)·w` and `w`.
    pub fn loss(&self, stands: f64, weight: f64) -> f64 {
        let stands = stands.clamp(0.0, weight.max(0.0));
        let decision = (self.missed * stands).min(self.needless * (weight - stands)).max(0.0);
        let doubt = |part: f64| if part > 0.0 { part * (weight / part).ln() } else { 0.0 };
        decision + DOUBT * (doubt(stands) + doubt(weight - stands))
    }
}

/// All units.
pub(in crate::diagnosis) fn units(tables: &Tables) -> Vec<Unit> {
    let mut units: Vec<Unit> = Vec::new();
    for (index, hypothesis) in tables.hypotheses.iter().enumerate() {
        let Some(subsystem) = tables.subsystems.iter().position(|of| of.subsystem == hypothesis.subsystem)
        else {
            continue;
        };
        let HypothesisKind::Fault(fault) = hypothesis.kind else {
            // Nobody mends what nobody described, but to know of it ends the search elsewhere.
            units.push(Unit { members: vec![index], subsystem, missed: 0.0, needless: 0.0 });
            continue;
        };
        let losses = &tables.catalogue.losses;
        let needless = losses.needless(&tables.catalogue.faults[fault]);
        let alike = tables.look_alikes.iter().find(|group| group.contains(&index));
        let together = units.iter_mut().find(|unit| {
            unit.subsystem == subsystem && alike.is_some_and(|group| group.contains(&unit.members[0]))
        });
        match together {
            Some(unit) => {
                unit.members.push(index);
                unit.needless = unit.needless.max(needless);
            }
            None => units.push(Unit {
                members: vec![index],
                subsystem,
                missed: losses.missed_fault_minutes,
                needless,
            }),
        }
    }
    units
}
