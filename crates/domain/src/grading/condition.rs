use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::verdict::{Comparison, Grading, NotTested, Verdict};
use super::{Conformity, Reason};
use crate::equipment::Model;
use crate::id::TestRunId;
use crate::text::Words;
use crate::vocabulary::{Condition, FailureMode, Position};

/// The condition that the readings propose for a position; a person sets it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProposedCondition {
    pub position: Position,
    pub condition: Condition,
    /// The runs whose verdicts led to it.
    pub because_of: Vec<TestRunId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failure_mode: Option<FailureMode>,
    /// Why it was not tested, where somebody said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_tested: Option<Words>,
}

/// The one mapping from a number's grading at reference to a condition: *failed* outside the functional
/// limit, *degraded* inside it but outside the healthy reference, *ok* inside both, *inconclusive* where
/// nothing can be said. Without a functional limit the healthy reference alone tells ok from degraded.
pub fn propose(at_reference: &Grading, comparison: Option<&Comparison>) -> Condition {
    let by_reference = match comparison {
        Some(comparison) if !comparison.usual => Condition::Degraded,
        _ => Condition::Ok,
    };
    match at_reference.conformity {
        Conformity::Fail | Conformity::ConditionalFail => Condition::Failed,
        Conformity::Pass | Conformity::ConditionalPass => by_reference,
        Conformity::Inconclusive => match at_reference.reason {
            Some(Reason::NoLimit) if comparison.is_some() => by_reference,
            _ => Condition::Inconclusive,
        },
    }
}

/// Of several verdicts on one position the worst counts.
fn severity(condition: Condition) -> u8 {
    match condition {
        Condition::NotTested => 0,
        Condition::Ok => 1,
        Condition::Inconclusive => 2,
        Condition::Degraded => 3,
        Condition::Failed => 4,
    }
}

/// One proposal for each position of the model and each external one that was read, in the order of the
/// vocabulary. `verdicts` are the latest of each measurement.
pub(super) fn propose_all<'a>(
    model: &Model,
    verdicts: impl Iterator<Item = &'a Verdict>,
    not_tested: &[NotTested],
) -> Vec<ProposedCondition> {
    let untested = |position| ProposedCondition {
        position,
        condition: Condition::NotTested,
        because_of: Vec::new(),
        failure_mode: None,
        not_tested: None,
    };
    let mut proposals: BTreeMap<Position, ProposedCondition> =
        model.positions.iter().map(|position| (*position, untested(*position))).collect();
    for verdict in verdicts {
        let Some(position) = verdict.position else { continue };
        let proposal = proposals.entry(position).or_insert_with(|| untested(position));
        match severity(verdict.condition).cmp(&severity(proposal.condition)) {
            std::cmp::Ordering::Less => {}
            std::cmp::Ordering::Equal => proposal.because_of.push(verdict.test_run),
            std::cmp::Ordering::Greater => {
                proposal.condition = verdict.condition;
                proposal.because_of = vec![verdict.test_run];
                proposal.failure_mode = verdict.failure_mode;
            }
        }
    }
    for skipped in not_tested {
        let Some(position) = skipped.position else { continue };
        let proposal = proposals.entry(position).or_insert_with(|| untested(position));
        if proposal.condition == Condition::NotTested {
            proposal.not_tested = Some(skipped.reason.clone());
        }
    }
    for proposal in proposals.values_mut() {
        proposal.because_of.sort_unstable();
        proposal.because_of.dedup();
    }
    proposals.into_values().collect()
}
