//! What is missing for a move, in words.

use domain::text::Key;
use domain::work::{LineStanding, Missing, OrderState};

/// One thing that has to be there first.
pub(crate) fn in_words(missing: &Missing) -> String {
    let say = wording::say_with;
    let state = |state: OrderState| wording::term("order-state", state.word()).into_owned();
    match missing {
        Missing::State { state: now, from, .. } => {
            let from: Vec<String> = from.iter().map(|from| state(*from)).collect();
            let or = wording::say("or");
            say("missing-state", &[("state", state(*now).into()), ("from", from.join(&or).into())])
        }
        Missing::Ended => wording::say("missing-ended"),
        Missing::Symptom => wording::say("missing-symptom"),
        Missing::Visit => wording::say("missing-visit"),
        Missing::Arrival => wording::say("missing-arrival"),
        Missing::Appliance => wording::say("missing-appliance"),
        Missing::UnderRepair { state: now, action } => {
            let action = wording::term("order-action", action.word()).into_owned();
            say("missing-under-repair", &[("state", state(*now).into()), ("action", action.into())])
        }
        Missing::ChangeOfMachine => wording::say("missing-change-of-machine"),
        Missing::ActionForFittedPart { parts } => {
            say("missing-action-for-part", &[("what", parts.join("; ").into())])
        }
        Missing::AfterReadings { procedures } => {
            say("missing-after-readings", &[("what", listed("procedure", procedures).into())])
        }
        Missing::StillFailing { procedures } => {
            say("missing-still-failing", &[("what", listed("procedure", procedures).into())])
        }
        Missing::SymptomRemains { symptoms } => {
            say("missing-symptom-remains", &[("what", listed("symptom", symptoms).into())])
        }
        Missing::SymptomTrial { symptoms } => {
            say("missing-symptom-trial", &[("what", listed("symptom", symptoms).into())])
        }
        Missing::FullCycle => wording::say("missing-full-cycle"),
        Missing::OutcomeState { outcome, from, .. } => {
            let from: Vec<String> = from.iter().map(|from| state(*from)).collect();
            let outcome = wording::term("outcome", outcome.word()).into_owned();
            let or = wording::say("or");
            say("missing-outcome-state", &[("outcome", outcome.into()), ("from", from.join(&or).into())])
        }
        Missing::CancelAction => wording::say("missing-cancel-action"),
        Missing::LastingRepair { positions } => {
            say("missing-lasting-repair", &[("what", listed("position", positions).into())])
        }
        Missing::RestoredAt => wording::say("missing-restored-at"),
        Missing::InterlockRemoval { ends } => {
            say("missing-interlock-removal", &[("count", ends.len().into())])
        }
        Missing::PartLineEnds { lines } => say("missing-part-ends", &[("what", parts(lines).into())]),
        Missing::VisitEnd => wording::say("missing-visit-end"),
        Missing::Release => wording::say("missing-release"),
        Missing::StateOfUse { outcome } => {
            let outcome = wording::term("outcome", outcome.word()).into_owned();
            say("missing-state-of-use", &[("outcome", outcome.into())])
        }
        Missing::PartsSetAside { lines } => say("missing-parts-set-aside", &[("what", parts(lines).into())]),
        Missing::OneVisitAtATime => wording::say("missing-one-visit"),
    }
}

pub(crate) fn all_in_words(missing: &[Missing]) -> Vec<String> {
    missing.iter().map(in_words).collect()
}

fn parts(lines: &[LineStanding]) -> String {
    let in_words =
        |line: &LineStanding| format!("{}, {}", line.part, wording::term("line-state", line.state.word()));
    lines.iter().map(in_words).collect::<Vec<_>>().join("; ")
}

fn listed(list: &str, keys: &[Key]) -> String {
    keys.iter().map(|key| wording::term(list, key.as_str())).collect::<Vec<_>>().join(", ")
}
