use super::{LineStanding, OrderAction, OrderState, Outcome};
use crate::text::Key;
use crate::time::Timestamp;

/// What has to be there before a move is allowed, in words that say what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Missing {
    #[error(
        "the order is {state}; {action} begins from {}",
        from.iter().map(|state| state.word()).collect::<Vec<_>>().join(" or ")
    )]
    State { state: OrderState, action: OrderAction, from: Vec<OrderState> },
    #[error("an order that has ended is not reopened: create one that follows it (follows_id)")]
    Ended,
    #[error("at least one symptom of what the caller tells")]
    Symptom,
    #[error("a visit that is still to come")]
    Visit,
    #[error("somebody's arrival on site: record it on the visit")]
    Arrival,
    #[error("the appliance: confirm on site which one it is")]
    Appliance,
    #[error("the order under repair: it is {state}; {action} it first")]
    UnderRepair { state: OrderState, action: OrderAction },
    #[error("an action that changed the machine: record what was done to which position")]
    ChangeOfMachine,
    #[error(
        "the action taken for what was fitted: {}; record it with its part_line_id",
        parts.join("; ")
    )]
    ActionForFittedPart { parts: Vec<String> },
    #[error(
        "after-readings of {}: take the tests that failed before again, or record a waiver of after_readings",
        listed(procedures)
    )]
    AfterReadings { procedures: Vec<Key> },
    #[error("passing after-readings of {}: they still fail; go back to the repair", listed(procedures))]
    StillFailing { procedures: Vec<Key> },
    #[error("the end of {}: it is still there; go back to the repair", listed(symptoms))]
    SymptomRemains { symptoms: Vec<Key> },
    #[error("a trial of {}, or a waiver of symptoms", listed(symptoms))]
    SymptomTrial { symptoms: Vec<Key> },
    #[error("a passed full cycle after the last action, or a waiver of full_cycle")]
    FullCycle,
    #[error(
        "a state that {outcome} may end: {}; the order is {state}",
        from.iter().map(|state| state.word()).collect::<Vec<_>>().join(" or ")
    )]
    OutcomeState { outcome: Outcome, state: OrderState, from: Vec<OrderState> },
    #[error("the order is cancelled by the action cancel, not closed")]
    CancelAction,
    #[error("a lasting repair of {}: a stopgap stands there; close it as temporary_fix", listed(positions))]
    LastingRepair { positions: Vec<Key> },
    #[error("the time at which the machine worked again (restored_at)")]
    RestoredAt,
    #[error(
        "the removal of the interlock defeat that ends at {}",
        ends.iter().map(ToString::to_string).collect::<Vec<_>>().join(" and of that at ")
    )]
    InterlockRemoval { ends: Vec<Timestamp> },
    #[error("an end for these parts: {}; fit, return or withdraw them", parts(lines))]
    PartLineEnds { lines: Vec<LineStanding> },
    #[error("an end for the visit that is open: leave, miss or call it off")]
    VisitEnd,
    #[error(
        "the release of the machine, which is unsafe; only referred and declined \
         orders end on an unsafe machine"
    )]
    Release,
    #[error("a state that {outcome} can leave behind: unsafe_do_not_use is none")]
    StateOfUse { outcome: Outcome },
    #[error("all parts set aside before a return visit is booked; these are not: {}", parts(lines))]
    PartsSetAside { lines: Vec<LineStanding> },
    #[error("an end for the visit that is open; add people to it instead of booking a second one")]
    OneVisitAtATime,
}

fn parts(lines: &[LineStanding]) -> String {
    lines.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

fn listed(keys: &[Key]) -> String {
    keys.iter().map(Key::as_str).collect::<Vec<_>>().join(", ")
}
