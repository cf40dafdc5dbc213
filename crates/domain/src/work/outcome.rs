use super::{OrderState, Outcome};

/// The states that an outcome may end (common practice, no source): solved on the phone before
/// anybody goes, repaired only what is proven, no fault found and explained use only by somebody who
/// was there.
pub const fn may_end(outcome: Outcome) -> &'static [OrderState] {
    use OrderState::{Assessed, Planned, Proven, Received, RepairedUnproven, UnderRepair};
    match outcome {
        Outcome::Repaired => &[Proven],
        Outcome::TemporaryFix => &[UnderRepair, RepairedUnproven, Proven],
        // Somebody who was there need not have begun a repair.
        Outcome::NoFaultFound | Outcome::ExplainedUse => &[Planned, UnderRepair],
        Outcome::SolvedByPhone => &[Received, Assessed],
        Outcome::Referred | Outcome::Declined => &[Received, Assessed, Planned, UnderRepair],
        Outcome::Cancelled => &[Received, Assessed, Planned],
    }
}
