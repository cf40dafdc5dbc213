//! The moves of an order, and what each asks for.

use super::outcome::may_end;
use super::{ApplianceState, Missing, OrderAction, OrderKind, OrderState, Outcome, Situation, Waived};
use crate::text::Key;

/// A move with what it says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderMove {
    Assess,
    Plan,
    StartRepair,
    /// The time of restoration comes with it.
    ReportRepaired,
    ResumeRepair,
    Prove,
    Close {
        outcome: Outcome,
        /// The state in which the appliance is left, where it is said.
        leaves: Option<ApplianceState>,
    },
    Cancel,
}

impl OrderMove {
    pub const fn action(self) -> OrderAction {
        match self {
            Self::Assess => OrderAction::Assess,
            Self::Plan => OrderAction::Plan,
            Self::StartRepair => OrderAction::StartRepair,
            Self::ReportRepaired => OrderAction::ReportRepaired,
            Self::ResumeRepair => OrderAction::ResumeRepair,
            Self::Prove => OrderAction::Prove,
            Self::Close { .. } => OrderAction::Close,
            Self::Cancel => OrderAction::Cancel,
        }
    }
}

/// The state to which a move leads.
pub const fn after(action: OrderAction) -> OrderState {
    match action {
        OrderAction::Assess => OrderState::Assessed,
        OrderAction::Plan => OrderState::Planned,
        OrderAction::StartRepair | OrderAction::ResumeRepair => OrderState::UnderRepair,
        OrderAction::ReportRepaired => OrderState::RepairedUnproven,
        OrderAction::Prove => OrderState::Proven,
        OrderAction::Close => OrderState::Closed,
        OrderAction::Cancel => OrderState::Cancelled,
    }
}

/// The states from which a move begins; closing depends on the outcome.
const fn from(action: OrderAction) -> &'static [OrderState] {
    use OrderState::{Assessed, Planned, Proven, Received, RepairedUnproven, UnderRepair};
    match action {
        OrderAction::Assess => &[Received],
        OrderAction::Plan => &[Assessed],
        OrderAction::StartRepair => &[Planned],
        OrderAction::ReportRepaired => &[UnderRepair],
        OrderAction::ResumeRepair => &[RepairedUnproven, Proven],
        OrderAction::Prove => &[RepairedUnproven],
        OrderAction::Close => &[Received, Assessed, Planned, UnderRepair, RepairedUnproven, Proven],
        OrderAction::Cancel => &[Received, Assessed, Planned],
    }
}

/// Everything that is missing for a move; empty if it is allowed now.
pub fn check(situation: &Situation, order_move: OrderMove) -> Vec<Missing> {
    let state = situation.state;
    let action = order_move.action();
    if state.has_ended() {
        return vec![Missing::Ended];
    }
    let mut missing = Vec::new();
    if !from(action).contains(&state) {
        missing.push(Missing::State { state, action, from: from(action).to_vec() });
    }
    match order_move {
        OrderMove::Assess => {
            if situation.kind == OrderKind::Corrective && situation.symptoms == 0 {
                missing.push(Missing::Symptom);
            }
        }
        OrderMove::Plan => {
            if situation.open_visit().is_none() {
                missing.push(Missing::Visit);
            }
        }
        OrderMove::StartRepair => {
            if situation.appliance.is_none() {
                missing.push(Missing::Appliance);
            }
            if !situation.is_on_site() {
                missing.push(Missing::Arrival);
            }
        }
        OrderMove::ReportRepaired => {
            if !situation.machine_changed {
                missing.push(Missing::ChangeOfMachine);
            }
            let lacking = situation.part_lines.iter().filter(|line| line.lacks_action);
            let parts: Vec<String> = lacking.map(|line| line.part.clone()).collect();
            if !parts.is_empty() {
                missing.push(Missing::ActionForFittedPart { parts });
            }
        }
        OrderMove::ResumeRepair => {}
        OrderMove::Prove => proof(situation, &mut missing),
        OrderMove::Close { outcome, leaves } => close(situation, outcome, leaves, &mut missing),
        OrderMove::Cancel => end(situation, &mut missing),
    }
    missing
}

/// What an order lacks to be proven as a whole, whatever its state.
pub fn unproven(situation: &Situation) -> Vec<Missing> {
    let mut missing = Vec::new();
    proof(situation, &mut missing);
    missing
}

/// After-readings of what failed before, passing, a full cycle, all after the last action, and every symptom gone; or
/// the waivers that stand for them.
fn proof(situation: &Situation, missing: &mut Vec<Missing>) {
    let proof = &situation.proof;
    if !situation.waived.contains(&Waived::AfterReadings) {
        let procedures: Vec<Key> = proof.failed_before.difference(&proof.taken_after).cloned().collect();
        if !procedures.is_empty() {
            missing.push(Missing::AfterReadings { procedures });
        }
    }
    // Nothing waives a reading that says it still fails.
    if !proof.failing_after.is_empty() {
        missing.push(Missing::StillFailing { procedures: proof.failing_after.iter().cloned().collect() });
    }
    if !proof.remaining.is_empty() {
        missing.push(Missing::SymptomRemains { symptoms: proof.remaining.iter().cloned().collect() });
    }
    if !proof.not_tried.is_empty() && !situation.waived.contains(&Waived::Symptoms) {
        missing.push(Missing::SymptomTrial { symptoms: proof.not_tried.iter().cloned().collect() });
    }
    if !proof.full_cycle_passed && !situation.waived.contains(&Waived::FullCycle) {
        missing.push(Missing::FullCycle);
    }
}

fn close(
    situation: &Situation,
    outcome: Outcome,
    leaves: Option<ApplianceState>,
    missing: &mut Vec<Missing>,
) {
    if outcome == Outcome::Cancelled {
        missing.push(Missing::CancelAction);
        return;
    }
    let state = situation.state;
    if !may_end(outcome).contains(&state) {
        missing.push(Missing::OutcomeState { outcome, state, from: may_end(outcome).to_vec() });
    }
    if outcome == Outcome::Repaired {
        // What was proven once may have been contradicted since.
        if state == OrderState::Proven {
            proof(situation, missing);
        }
        if !situation.has_restoration_time {
            missing.push(Missing::RestoredAt);
        }
        if !situation.stopgaps.is_empty() {
            missing.push(Missing::LastingRepair { positions: situation.stopgaps.clone() });
        }
    }
    if outcome.leaves_it_in_use() {
        // A machine that is unsafe is released by somebody who says so, never by the way.
        if situation.appliance == Some(ApplianceState::UnsafeDoNotUse) {
            missing.push(Missing::Release);
        } else if leaves == Some(ApplianceState::UnsafeDoNotUse) {
            missing.push(Missing::StateOfUse { outcome });
        }
    }
    if matches!(outcome, Outcome::NoFaultFound | Outcome::ExplainedUse) && !situation.attended() {
        missing.push(Missing::Arrival);
    }
    end(situation, missing);
}

/// What no order may end with.
fn end(situation: &Situation, missing: &mut Vec<Missing>) {
    if !situation.open_interlock_defeats.is_empty() {
        missing.push(Missing::InterlockRemoval { ends: situation.open_interlock_defeats.clone() });
    }
    let lines = situation.open_part_lines();
    if !lines.is_empty() {
        missing.push(Missing::PartLineEnds { lines });
    }
    if situation.open_visit().is_some() {
        missing.push(Missing::VisitEnd);
    }
}

/// The outcomes that the order's state lets it end with.
pub fn open_outcomes(state: OrderState) -> impl Iterator<Item = Outcome> {
    let by_closing = Outcome::ALL.iter().copied().filter(|outcome| !matches!(outcome, Outcome::Cancelled));
    by_closing.filter(move |outcome| may_end(*outcome).contains(&state))
}

#[cfg(test)]
mod tests;
