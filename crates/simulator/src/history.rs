//! A service company's history as plain data: what its people would have entered, in the order in
//! which they would have entered it. The loader replays each entry through the use case of the same
//! name, as the person in `by`, at the time in `at`.
//!
//! Nothing here says what was *truly* wrong: that is [`crate::truth`], which no loader may read.
//! Codes are those of the domain's vocabulary and catalogue, held as text; a test parses every one.

use std::collections::BTreeMap;

use domain::evidence::TestRun;
use domain::id::{
    ActionTakenId, ApplianceId, ApprovalId, BranchId, CallId, ContactId, CustomerId, FindingId, FittedPartId,
    InterlockDefeatId, PartId, PartLineId, PartMovementId, PersonId, QuoteId, SiteId, SiteWaterId, StoreId,
    TestRunId, VisitId, WaitingId, WaiverId, WorkOrderId,
};
use domain::quantity::AsRead;
use domain::site_water::WaterSample;
use domain::time::Timestamp;
use serde::Serialize;

/// A key or a word of a list of the vocabulary, such as `fill_valve` or `does_not_clean`.
pub type Code = &'static str;

/// One thing that one person entered at one time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dated {
    pub at: Timestamp,
    /// Who entered it; `None` for what the company was set up with.
    pub by: Option<PersonId>,
    pub entry: Entry,
}

/// An entry never refers to an id that an earlier entry did not create.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Entry {
    Branch(Branch),
    Person(Person),
    Store(Store),
    Part(Part),
    /// A model of the company's own, beside the built-in ones.
    Model(Box<domain::equipment::Model>),
    /// What can be wrong with it.
    FaultCatalogue(Box<domain::equipment::FaultCatalogue>),
    Customer(Customer),
    Site(Site),
    Contact(Contact),
    SiteWater(SiteWater),
    Appliance(Appliance),
    ApplianceState(ApplianceState),
    FittedPart(FittedPart),
    FittedPartRemoved(FittedPartRemoved),
    Call(Call),
    WorkOrder(WorkOrder),
    ApplianceConfirmed(ApplianceConfirmed),
    WorkOrderMoved(WorkOrderMoved),
    WaitingBegan(WaitingBegan),
    WaitingEnded(WaitingEnded),
    VisitPlanned(VisitPlanned),
    VisitMoved(VisitMoved),
    /// As the phone sent it.
    TestRun(Box<TestRun>),
    Finding(Finding),
    PartLine(PartLine),
    PartLineMoved(PartLineMoved),
    Quote(Quote),
    Approval(Approval),
    Action(Action),
    InterlockDefeat(InterlockDefeat),
    InterlockRestored(InterlockRestored),
    Waiver(Waiver),
    PartMovement(PartMovement),
    /// The order's end: the loader closes it (or cancels it, if the outcome is `cancelled`).
    Closed(Closed),
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Branch {
    pub id: BranchId,
    pub name: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Person {
    pub id: PersonId,
    pub branch: BranchId,
    pub name: String,
    /// `technician` or `dispatcher`.
    pub role: Code,
    pub skills: Vec<Code>,
}

/// A van (of the person) or a depot.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Store {
    pub id: StoreId,
    pub branch: BranchId,
    pub person: Option<PersonId>,
    pub name: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    pub id: PartId,
    pub number: String,
    pub name: String,
    /// Where it fits: models and the position.
    pub models: Vec<Code>,
    pub position: Code,
    /// In hundredths of the currency.
    pub price_hundredths: i64,
    pub currency: Code,
    /// Gaskets, filters: usually outside a warranty.
    pub consumable: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Customer {
    pub id: CustomerId,
    pub external_id: String,
    pub name: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Site {
    pub id: SiteId,
    pub customer: CustomerId,
    pub branch: BranchId,
    pub name: String,
    /// What sort of kitchen, such as `hospital`.
    pub kitchen: Code,
    pub place: String,
    /// Above the sea.
    pub altitude_m: f64,
    pub time_zone: Code,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contact {
    pub id: ContactId,
    pub site: SiteId,
    pub name: String,
    pub role: Code,
    pub phone: String,
}

/// One set of water values, taken where the water reaches the machines.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteWater {
    pub id: SiteWaterId,
    pub site: SiteId,
    pub taken_at: Timestamp,
    pub sample: WaterSample,
    /// The values of the sample as they were read, by their names.
    pub as_read: BTreeMap<String, AsRead>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Appliance {
    pub id: ApplianceId,
    pub site: SiteId,
    pub model: Code,
    pub position_label: String,
    pub serial: String,
    pub installed_on: Timestamp,
    pub warranty_until: Timestamp,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ApplianceState {
    pub appliance: ApplianceId,
    pub work_order: Option<WorkOrderId>,
    /// `up`, `degraded`, `down`, `unsafe_do_not_use`.
    pub state: Code,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FittedPart {
    pub id: FittedPartId,
    pub appliance: ApplianceId,
    pub position: Code,
    pub part: PartId,
    pub serial: Option<String>,
    pub fitted_at: Timestamp,
    pub part_line: Option<PartLineId>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FittedPartRemoved {
    pub id: FittedPartId,
    pub removed_at: Timestamp,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Call {
    pub id: CallId,
    pub site: SiteId,
    pub contact: ContactId,
    /// The caller's words, verbatim.
    pub words: String,
    pub received_at: Timestamp,
    /// `danger`, `key_unit_down`, `degraded`, `planned`.
    pub urgency: Code,
    /// The caller was told not to use the appliance.
    pub stop_use: bool,
    /// Of `gas`, `electric`, `caustic`.
    pub dangers: Vec<Code>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorkOrder {
    pub id: WorkOrderId,
    pub site: SiteId,
    /// `None` for planned work.
    pub call: Option<CallId>,
    /// `None` when the caller could not say which; [`ApplianceConfirmed`] follows on site.
    pub appliance: Option<ApplianceId>,
    /// `corrective` or `planned`.
    pub work: Code,
    /// `danger`, `key_unit_down`, `degraded`, `planned`.
    pub urgency: Code,
    pub symptoms: Vec<Code>,
    /// Up to here the customer need not be asked, in hundredths.
    pub spending_limit_hundredths: i64,
    /// The closed order that this one follows, if the dispatcher linked it.
    pub follows: Option<WorkOrderId>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ApplianceConfirmed {
    pub work_order: WorkOrderId,
    pub appliance: ApplianceId,
}

/// `assessed`, `planned`, `under_repair`, `repaired_unproven`, `proven`; the end is [`Closed`].
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WorkOrderMoved {
    pub work_order: WorkOrderId,
    pub to: Code,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WaitingBegan {
    pub id: WaitingId,
    pub work_order: WorkOrderId,
    /// `access`, `approval`, `part`, `second_person`, `customers_wish`.
    pub reason: Code,
    pub pauses_clock: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WaitingEnded {
    pub id: WaitingId,
    pub work_order: WorkOrderId,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitPlanned {
    pub id: VisitId,
    pub work_order: WorkOrderId,
    pub planned_at: Timestamp,
    pub people: Vec<PersonId>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct VisitMoved {
    pub visit: VisitId,
    pub work_order: WorkOrderId,
    pub to: VisitMove,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VisitMove {
    SetOut,
    Arrived,
    /// With the visit's result (`diagnosed`, `parts_needed`, `repaired`, `made_safe`, `no_access`,
    /// `referred`) and the state in which the appliance is left, if anybody got to it.
    Left {
        result: Code,
        leaves: Option<Code>,
    },
    Missed,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    pub id: FindingId,
    pub work_order: WorkOrderId,
    pub position: Code,
    /// The fault of the model's catalogue and its version, if there is a catalogue and it knows it.
    pub fault: Option<(Code, u32)>,
    /// `ok`, `degraded`, `failed`, `inconclusive`, `not_tested`.
    pub finding: Code,
    pub failure_mode: Option<Code>,
    pub mechanism: Option<Code>,
    pub cause: Option<Code>,
    /// `measured`, `timed`, `seen`, `heard`, `reported`.
    pub evidence: Code,
    pub supersedes: Option<FindingId>,
    pub test_runs: Vec<TestRunId>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartLine {
    pub id: PartLineId,
    pub work_order: WorkOrderId,
    pub finding: FindingId,
    pub part: PartId,
    pub part_number: String,
    pub position: Code,
    pub quantity: u32,
    /// `customer`, `warranty`, `contract`, `own_company`.
    pub payer: Code,
    pub price_hundredths: i64,
    pub currency: Code,
}

/// `quoted`, `approved`, `ordered`, `promised`, `received`, `set_aside`, `fitted`, `returned_unused`,
/// `defective_returned`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartLineMoved {
    pub part_line: PartLineId,
    pub work_order: WorkOrderId,
    pub to: Code,
    /// With `promised`.
    pub promised_for: Option<Timestamp>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Quote {
    pub id: QuoteId,
    pub work_order: WorkOrderId,
    /// 1 for the order's first.
    pub number: u32,
    pub part_lines: Vec<PartLineId>,
    pub amount_hundredths: i64,
    pub currency: Code,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Approval {
    pub id: ApprovalId,
    pub quote: QuoteId,
    pub work_order: WorkOrderId,
    pub approved: bool,
    pub approved_by: ContactId,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Action {
    pub id: ActionTakenId,
    pub work_order: WorkOrderId,
    pub position: Code,
    pub action: Code,
    pub part_line: Option<PartLineId>,
    pub taken_at: Timestamp,
    /// When a temporary measure must end.
    pub expires_at: Option<Timestamp>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InterlockDefeat {
    pub id: InterlockDefeatId,
    pub work_order: WorkOrderId,
    pub opened_by: PersonId,
    pub second_person: String,
    pub expires_at: Timestamp,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InterlockRestored {
    pub id: InterlockDefeatId,
    pub work_order: WorkOrderId,
}

/// Why an order may close without one of its proofs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Waiver {
    pub id: WaiverId,
    pub work_order: WorkOrderId,
    /// `full_cycle`, `after_readings`, `sign_off`.
    pub what: Code,
    pub reason: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartMovement {
    pub id: PartMovementId,
    pub part: PartId,
    /// `None`: from the supplier.
    pub from: Option<StoreId>,
    /// `None`: into the appliance.
    pub to: Option<StoreId>,
    pub quantity: u32,
    pub part_line: Option<PartLineId>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Closed {
    pub work_order: WorkOrderId,
    pub outcome: Code,
    /// When the appliance worked again; with `repaired` always.
    pub restored_at: Option<Timestamp>,
    /// The state in which the appliance is left, if it was on hand.
    pub leaves: Option<Code>,
    /// Who signed for the kitchen; `None` if nobody was available.
    pub signed_off_by: Option<ContactId>,
}
