//! From the call to the closed order: the states of orders, visits, part lines and waiting, and the
//! moves allowed between them, as pure functions over a snapshot of what stands.
//!
//! Five axes are kept apart (common practice, no source): the order's state, the visit told by its
//! times, the appliance's state, the part line's state, and what an order waits for, which stands
//! beside its state and not in it.

mod call;
mod cautions;
mod finding;
mod missing;
mod order;
mod outcome;
mod part_line;
mod situation;
mod visit;
mod waiting;

pub use call::{EarlierOrder, REPEAT_WITHIN_DAYS, RepeatCall, possible_duplicates_of, repeats_of};
pub use cautions::{Precaution, precautions};
pub use finding::{FindingParts, changes_the_machine, check_action, check_finding};
pub use missing::Missing;
pub use order::{OrderMove, after, check, open_outcomes, unproven};
pub use outcome::may_end;
pub use part_line::{
    ApprovalGround, Spending, Unapproved, ground as approval_ground, next as part_line_after,
};
pub use situation::{FULL_CYCLE, LineStanding, Proof, Situation, proves};
pub use visit::{VisitError, VisitState, VisitTimes, act as visit_after};
pub use waiting::may_pause_clock;

pub use crate::danger::Danger;
use crate::word_list;

word_list! {
    /// Why an order was opened.
    pub enum OrderKind {
        Corrective = "corrective",
        Planned = "planned",
        Installation = "installation",
    }
}

word_list! {
    /// How soon somebody must be there (common practice, no source).
    pub enum Urgency {
        /// Danger to people, or the site is closed: two to four hours.
        Danger = "danger",
        /// A key unit is down: the same or the next day.
        KeyUnitDown = "key_unit_down",
        /// It works with a workaround: two or three working days.
        Degraded = "degraded",
        Planned = "planned",
    }
}

word_list! {
    /// How far the work on an order has come.
    pub enum OrderState {
        Received = "received",
        Assessed = "assessed",
        Planned = "planned",
        UnderRepair = "under_repair",
        RepairedUnproven = "repaired_unproven",
        Proven = "proven",
        Closed = "closed",
        Cancelled = "cancelled",
    }
}

impl Outcome {
    /// Whether it says that the machine may be used: no such end while it is unsafe. The others leave it as it stands, and it
    /// stays listed.
    pub const fn leaves_it_in_use(self) -> bool {
        match self {
            Self::Repaired
            | Self::TemporaryFix
            | Self::NoFaultFound
            | Self::ExplainedUse
            | Self::SolvedByPhone => true,
            Self::Referred | Self::Declined | Self::Cancelled => false,
        }
    }
}

impl OrderState {
    /// Whether it has ended: nothing reopens it; another order that follows it is created.
    pub const fn has_ended(self) -> bool {
        matches!(self, Self::Closed | Self::Cancelled)
    }
}

word_list! {
    /// A move of an order from one state to another.
    pub enum OrderAction {
        Assess = "assess",
        Plan = "plan",
        StartRepair = "start_repair",
        ReportRepaired = "report_repaired",
        /// Back to work: the proof failed.
        ResumeRepair = "resume_repair",
        Prove = "prove",
        Close = "close",
        Cancel = "cancel",
    }
}

word_list! {
    /// How an order ended.
    pub enum Outcome {
        Repaired = "repaired",
        /// Left running by a stopgap, or not proven: not repaired.
        TemporaryFix = "temporary_fix",
        NoFaultFound = "no_fault_found",
        ExplainedUse = "explained_use",
        SolvedByPhone = "solved_by_phone",
        Referred = "referred",
        Declined = "declined",
        Cancelled = "cancelled",
    }
}

word_list! {
    /// What an appliance can be used for now.
    pub enum ApplianceState {
        Up = "up",
        Degraded = "degraded",
        Down = "down",
        UnsafeDoNotUse = "unsafe_do_not_use",
        /// No longer in the kitchen.
        Removed = "removed",
    }
}

word_list! {
    /// What is done with a machine as such.
    pub enum ApplianceAction {
        /// It may be used again: the one way out of stop-use.
        Release = "release",
    }
}

word_list! {
    /// What an order waits for. Several may hold at once.
    pub enum WaitingReason {
        Access = "access",
        Approval = "approval",
        Part = "part",
        SecondPerson = "second_person",
        CustomersWish = "customers_wish",
        /// Somebody of the management is to let it do without a proof.
        Waiver = "waiver",
    }
}

word_list! {
    /// What can be done with something that is waited for.
    pub enum WaitingAction {
        End = "end",
    }
}

word_list! {
    /// A step of a visit.
    pub enum VisitAction {
        SetOut = "set_out",
        Arrive = "arrive",
        Leave = "leave",
        /// Nobody came.
        Miss = "miss",
        /// It is no longer needed, or put off, before anybody was to be there.
        CallOff = "call_off",
    }
}

word_list! {
    /// What a visit came to.
    pub enum VisitResult {
        Diagnosed = "diagnosed",
        PartsNeeded = "parts_needed",
        Repaired = "repaired",
        MadeSafe = "made_safe",
        NoAccess = "no_access",
        Referred = "referred",
    }
}

word_list! {
    /// How far a part has come on its way into the machine.
    pub enum PartLineState {
        Identified = "identified",
        Quoted = "quoted",
        Approved = "approved",
        Ordered = "ordered",
        /// The supplier named a day.
        Promised = "promised",
        Received = "received",
        SetAside = "set_aside",
        Fitted = "fitted",
        ReturnedUnused = "returned_unused",
        DefectiveReturned = "defective_returned",
        Withdrawn = "withdrawn",
    }
}

word_list! {
    /// A move of a part line.
    pub enum PartLineAction {
        /// Done by the quote that lists it.
        Quote = "quote",
        Approve = "approve",
        Order = "order",
        Promise = "promise",
        Receive = "receive",
        SetAside = "set_aside",
        Fit = "fit",
        ReturnUnused = "return_unused",
        ReturnDefective = "return_defective",
        Withdraw = "withdraw",
    }
}

word_list! {
    /// Who pays for a line.
    pub enum Payer {
        Customer = "customer",
        Contract = "contract",
        Warranty = "warranty",
        OwnCompany = "own_company",
    }
}

word_list! {
    /// What a customer says to a quote.
    pub enum Decision {
        Approved = "approved",
        Declined = "declined",
    }
}

word_list! {
    /// What an order may do without, for a reason that is kept.
    pub enum Waived {
        FullCycle = "full_cycle",
        AfterReadings = "after_readings",
        /// Symptoms of the complaint that could not be tried.
        Symptoms = "symptoms",
        SignOff = "sign_off",
    }
}

word_list! {
    /// Why somebody of the management lets an order do without a proof.
    pub enum WaiverCode {
        /// It is at work and cannot be spared.
        KitchenNeedsIt = "kitchen_needs_it",
        /// No water, power, chemical or drain to try it with.
        NoUtilities = "no_utilities",
        /// Nobody can get to it any more.
        CannotBeReached = "cannot_be_reached",
        CustomerRefuses = "customer_refuses",
        Other = "other",
    }
}

word_list! {
    /// What became of a symptom of the complaint, as somebody tried it.
    pub enum SymptomResult {
        Gone = "gone",
        Remains = "remains",
        /// It could not be tried: the proof takes a waiver.
        NotTried = "not_tried",
    }
}

word_list! {
    /// What can be done with an interlock defeat.
    pub enum InterlockAction {
        Remove = "remove",
    }
}
