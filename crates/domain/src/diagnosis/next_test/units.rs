//! What is decided on: each fault by itself, look-alikes together; and what a decision costs.

use super::step::{due_looks, proofs};
use crate::diagnosis::case::Case;
use crate::diagnosis::tables::{HypothesisKind, Tables};
use crate::equipment::Fault;
use crate::procedure::Procedure;

/// Minutes lost on average: by the better decision on what to mend, and by the doubt in which it is made.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::diagnosis) struct Loss {
    pub decision: f64,
    pub doubt: f64,
}

impl Loss {
    pub fn minutes(self) -> f64 {
        self.decision + self.doubt
    }
}

impl std::iter::Sum for Loss {
    fn sum<I: Iterator<Item = Self>>(losses: I) -> Self {
        losses.fold(Self::default(), |sum, loss| Self {
            decision: sum.decision + loss.decision,
            doubt: sum.doubt + loss.doubt,
        })
    }
}

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
    /// Loss by each nat of doubt about it.
    pub doubt: f64,
    /// Share of all machines on which it stands, called for or not.
    pub usual: f64,
}

impl Unit {
    /// Average loss, from `P(it stands)·w` and `w`.
    pub fn loss(&self, stands: f64, weight: f64) -> Loss {
        let stands = stands.clamp(0.0, weight.max(0.0));
        let decision = (self.missed * stands).min(self.needless * (weight - stands)).max(0.0);
        let nats = |part: f64| if part > 0.0 { part * (weight / part).ln() } else { 0.0 };
        Loss { decision, doubt: self.doubt * (nats(stands) + nats(weight - stands)).max(0.0) }
    }

    /// The share of its probability that call and readings brought: doubt about what nothing speaks for, which
    /// stands as often on any machine, is nobody's worry.
    pub fn spoken_for(&self, stands: f64) -> f64 {
        if stands > self.usual { 1.0 - self.usual / stands } else { 0.0 }
    }

    /// Whether mending it costs less on average than leaving it: `p·m > (1 − p)·needless`.
    pub fn is_worth_mending(&self, stands: f64) -> bool {
        stands * self.missed > (1.0 - stands) * self.needless
    }
}

/// All units.
pub(in crate::diagnosis) fn units(tables: &Tables, case: &Case) -> Vec<Unit> {
    let losses = &tables.catalogue.losses;
    let (looks, proofs) = (due_looks(tables, case), proofs(tables, case));
    let mut units: Vec<Unit> = Vec::new();
    for (index, hypothesis) in tables.hypotheses.iter().enumerate() {
        let Some(subsystem) = tables.subsystems.iter().position(|of| of.subsystem == hypothesis.subsystem)
        else {
            continue;
        };
        let usual = hypothesis.odds / (1.0 + hypothesis.odds);
        let HypothesisKind::Fault(fault) = hypothesis.kind else {
            // Nobody mends what nobody described, but to know of it ends the search elsewhere.
            let doubt = losses.doubt_minutes;
            units.push(Unit { members: vec![index], subsystem, missed: 0.0, needless: 0.0, doubt, usual });
            continue;
        };
        let fault = &tables.catalogue.faults[fault];
        let needless = losses.needless(fault);
        let missed = losses.missed(fault, shown_by(&looks, fault), shown_by(&proofs, fault));
        let alike = tables.look_alikes.iter().find(|group| group.contains(&index));
        let together = units.iter_mut().find(|unit| {
            unit.subsystem == subsystem && alike.is_some_and(|group| group.contains(&unit.members[0]))
        });
        match together {
            Some(unit) => {
                unit.members.push(index);
                unit.needless = unit.needless.max(needless);
                unit.missed = unit.missed.max(missed);
                unit.usual += usual;
            }
            None => units.push(Unit {
                members: vec![index],
                subsystem,
                missed,
                needless,
                doubt: losses.doubt_minutes,
                usual,
            }),
        }
    }
    units
}

/// The probability that some step of these procedures shows the fault, each by itself.
fn shown_by(procedures: &[&Procedure], fault: &Fault) -> f64 {
    let mut unseen = 1.0;
    let mut steps: Vec<&str> = Vec::new();
    for shows in &fault.shows {
        let is_among = procedures.iter().any(|of| of.key.as_str() == shows.at.procedure());
        if !is_among || steps.contains(&shows.at.as_str()) {
            continue;
        }
        steps.push(shows.at.as_str());
        let of_step = fault.shows.iter().filter(|of| of.at == shows.at);
        unseen *= (1.0 - of_step.map(|of| of.probability).sum::<f64>()).max(0.0);
    }
    1.0 - unseen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_decision_is_the_better_one_and_doubt_is_greatest_at_even_odds() {
        let unit =
            Unit { members: vec![0], subsystem: 0, missed: 100.0, needless: 25.0, doubt: 60.0, usual: 0.02 };
        let loss = |p: f64| unit.loss(p, 1.0);
        assert!((loss(0.1).decision - 10.0).abs() < 1e-12 && !unit.is_worth_mending(0.1));
        assert!((loss(0.6).decision - 10.0).abs() < 1e-12 && unit.is_worth_mending(0.6));
        assert!((loss(0.5).doubt - 60.0 * 2.0_f64.ln()).abs() < 1e-12);
        assert_eq!(loss(0.0), Loss::default());
        assert_eq!(loss(1.0), Loss::default());
        assert!(unit.spoken_for(0.01) == 0.0 && (unit.spoken_for(0.04) - 0.5).abs() < 1e-12);
        // Half of the weight, half of the loss.
        assert!((unit.loss(0.05, 0.5).minutes() - 0.5 * loss(0.1).minutes()).abs() < 1e-12);
    }
}
