//! The catalogue of faults of a model: what can be wrong, how often, how it shows, and which tests
//! tell. All of it is data with a version; the diagnosis computes with nothing else.
//!
//! A *fault* belongs to a position and has a failure mode and severities. A state of the building or
//! of how the machine is used is catalogued likewise at an external position and is reported apart.
//! The numbers of the built-in catalogues are reasoned guesses, placeholders until a company's own
//! closed jobs replace them.

mod complaint;
mod observation;
mod reading;
mod severity;
mod validation;

pub use complaint::{MISNAMED, as_named};
pub use observation::{
    Bands, Follows, Inspection, MeasurementModel, Misread, NotAnObservationKey, ObservationKey, Reads, Switch,
};
pub use severity::{Change, Dimension, Effect, Extent, Target};

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

use crate::equipment::Model;
use crate::text::{Key, Name};
use crate::violation::Violation;
use crate::vocabulary::{Action, Cause, FailureMode, Position, Symptom};

/// One version of what is known of the faults of one model.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaultCatalogue {
    /// The model it speaks of.
    pub model: Key,
    pub version: u32,
    /// Drafted from general knowledge: its rates are to be learned from the company's own jobs.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub general: bool,
    pub calls_without_fault: CallsWithoutFault,
    /// Share of calls that a fault outside the catalogue makes.
    pub other_share: f64,
    pub losses: Losses,
    pub spreads: Spreads,
    pub measurements: Vec<MeasurementModel>,
    /// What is looked at, asked or read on an instrument and comes down to one of a list of choices.
    pub inspections: Vec<Inspection>,
    pub mandatory: Vec<MandatoryTest>,
    pub faults: Vec<Fault>,
}

/// One thing that can be wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    pub key: Key,
    pub version: u32,
    pub title: Name,
    pub position: Position,
    pub failure_mode: FailureMode,
    pub subsystem: Subsystem,
    /// λ: how often it arises, per appliance and year.
    pub per_year: f64,
    /// d: how long it stands before it is mended, on average, in days.
    pub days_unmended: f64,
    /// κ: how often it makes the kitchen call while it stands, per year.
    pub calls_per_year: f64,
    /// Share of machines on which it stands without that anybody would ever call for it: a hard gasket, a
    /// capacitor below its mark.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub uncalled: f64,
    /// q: shares of the complaints with which it is reported; what is missing to 1 is `other`.
    #[serde(default)]
    pub symptoms: BTreeMap<Symptom, f64>,
    /// Weights of the severities, mildest first.
    #[serde(default)]
    pub severities: Vec<f64>,
    #[serde(default)]
    pub effects: Vec<Effect>,
    #[serde(default)]
    pub shows: Vec<Shows>,
    #[serde(default)]
    pub causes: Vec<Cause>,
    pub remedy: Remedy,
}

impl Fault {
    /// Whether it is a state of the building or of the use, not of the machine.
    pub const fn is_external(&self) -> bool {
        self.position.is_external()
    }

    /// The odds that it stands at a time, before anything is known: λ·d, and what nobody calls for.
    pub fn odds(&self) -> f64 {
        self.per_year * self.days_unmended / DAYS_PER_YEAR + self.uncalled
    }

    /// How often a machine on which it stands calls because of it, per year: κ, of those that call for it
    /// at all.
    pub fn calls_while_standing(&self) -> f64 {
        let odds = self.odds();
        if odds > 0.0 { self.calls_per_year * (odds - self.uncalled) / odds } else { self.calls_per_year }
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_zero(value: &f64) -> bool {
    *value == 0.0
}

/// The mean Gregorian year.
pub const DAYS_PER_YEAR: f64 = 365.2425;

/// The parts of the machine whose readings hang together. Between them pass only the shared nodes: the
/// pressure and voltage of the site, whether the door is made, what the controls put out, the level in
/// the sump and the wash water lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subsystem {
    WaterSupply,
    Fill,
    Sump,
    Wash,
    Door,
    Drain,
    Heat,
    PowerSupply,
    Control,
    Chemical,
    Use,
}

impl Subsystem {
    pub const ALL: [Self; 11] = [
        Self::WaterSupply,
        Self::Fill,
        Self::Sump,
        Self::Wash,
        Self::Door,
        Self::Drain,
        Self::Heat,
        Self::PowerSupply,
        Self::Control,
        Self::Chemical,
        Self::Use,
    ];

    /// As it is written in data.
    pub const fn key(self) -> &'static str {
        match self {
            Self::WaterSupply => "water_supply",
            Self::Fill => "fill",
            Self::Sump => "sump",
            Self::Wash => "wash",
            Self::Door => "door",
            Self::Drain => "drain",
            Self::Heat => "heat",
            Self::PowerSupply => "power_supply",
            Self::Control => "control",
            Self::Chemical => "chemical",
            Self::Use => "use",
        }
    }
}

/// What faults can change in the circuit of which every machine is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Parameter {
    /// Static pressure of the site.
    SitePressure,
    /// Flow coefficients along the fill.
    LineKv,
    InletStrainerKv,
    ValveStrainerKv,
    FillValveKv,
    /// 1: the valve opens when commanded; 0: it does not.
    FillValveOpens,
    /// Volume at which the filling stops, and which stands in the sump when the wash begins.
    FilledVolume,
    /// Head of the wash pump.
    PumpHead,
    /// Head of the wash pump after it has faded.
    FadedHead,
    /// How long a pump that fades keeps its head, over the usual two seconds.
    FadesAfter,
    /// Resistance of the wash circuit, k in `H = H_st + k·Q²`.
    SystemCurve,
    /// 1: the wash motor turns; 0: it does not.
    MotorTurns,
    /// Current of the wash motor, beside what follows from its flow.
    MotorCurrent,
    DrainFlow,
    /// Number of heating elements open.
    OpenElements,
    /// Power of the heating, beside what follows from voltage and open elements.
    HeatingPower,
    /// Where the safety cut-out opens, over the hottest stage of the wash; 1: above all stages.
    HeatCeiling,
    SiteVoltage,
    /// 1: the machine knows that its door is shut; 0: it does not.
    DoorMade,
    /// Share of the wash water that is lost on its way back: past the door, or out of a hose.
    DoorLeak,
    /// 1: the control output reaches the fill valve, the wash motor or the heating; 0: it does not.
    FillOutput,
    WashOutput,
    HeatOutput,
}

impl Parameter {
    pub const COUNT: usize = Self::HeatOutput as usize + 1;

    pub const fn subsystem(self) -> Subsystem {
        match self {
            Self::SitePressure => Subsystem::WaterSupply,
            Self::LineKv
            | Self::InletStrainerKv
            | Self::ValveStrainerKv
            | Self::FillValveKv
            | Self::FillValveOpens => Subsystem::Fill,
            Self::FilledVolume => Subsystem::Sump,
            Self::PumpHead
            | Self::FadedHead
            | Self::FadesAfter
            | Self::SystemCurve
            | Self::MotorTurns
            | Self::MotorCurrent => Subsystem::Wash,
            Self::DrainFlow => Subsystem::Drain,
            Self::OpenElements | Self::HeatingPower | Self::HeatCeiling => Subsystem::Heat,
            Self::SiteVoltage => Subsystem::PowerSupply,
            Self::DoorMade | Self::DoorLeak => Subsystem::Door,
            Self::FillOutput | Self::WashOutput | Self::HeatOutput => Subsystem::Control,
        }
    }

    /// The value of a sound machine: a factor or a state of 1, or nothing of what should not be.
    pub const fn sound(self) -> f64 {
        match self {
            Self::OpenElements | Self::DoorLeak => 0.0,
            _ => 1.0,
        }
    }
}

/// With what probability a fault puts an inspection into a state, if nothing worse does.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shows {
    pub at: ObservationKey,
    pub choice: Key,
    pub probability: f64,
}

/// What mends it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Remedy {
    pub action: Action,
    /// How long it takes; by its kind, if it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<f64>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub parts: Vec<PartNeed>,
}

/// A part by the name under which the catalogue of parts knows it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartNeed {
    pub part: Key,
    pub price: f64,
    /// Places that it takes in a van.
    #[serde(default = "one_place")]
    pub places: u32,
}

const fn one_place() -> u32 {
    1
}

/// κ₀ and q₀: calls that no fault makes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CallsWithoutFault {
    pub per_year: f64,
    #[serde(default)]
    pub symptoms: BTreeMap<Symptom, f64>,
}

/// What a wrong decision costs, in minutes of whoever loses them. A company sets them in its own catalogue; all are
/// **common practice, no source**.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Losses {
    /// A fault that is left standing and makes the kitchen call again: the second journey, its intake, and what the
    /// kitchen loses.
    pub missed_fault_minutes: f64,
    /// A fault that is left standing and that the proof shows, while somebody is still there: the test that tells
    /// which it is, and a second cycle.
    #[serde(default = "Losses::usually_shown_by_proof")]
    pub shown_by_proof_minutes: f64,
    /// For how many days a call for a fault left standing counts as our second journey.
    #[serde(default = "Losses::usual_callback_days")]
    pub callback_days: f64,
    /// δ, the price of doubt, for each nat of it: asking back, quoting twice, a report that names two parts. With
    /// none of it one stops early and mends twice; with much one tests on when the cause is certain.
    #[serde(default = "Losses::usual_doubt")]
    pub doubt_minutes: f64,
    /// A part fitted that was not at fault, beside its price.
    pub needless_part_minutes: f64,
    /// An action without a part that was not called for.
    pub needless_action_minutes: f64,
    /// What one unit of the price of a part is worth in minutes.
    pub minutes_per_price: f64,
}

impl Losses {
    const fn usually_shown_by_proof() -> f64 {
        35.0
    }

    const fn usual_callback_days() -> f64 {
        90.0
    }

    const fn usual_doubt() -> f64 {
        60.0
    }

    /// What it costs to leave this fault standing:
    /// `m = (1 − c_look)·[c_cycle·shown + (1 − c_cycle)·(1 − e^(−κ·days))·missed]`, c the probabilities with which
    /// the looks that come before the proof in any case, and the proof itself, show it. A fault that nobody would
    /// call about costs no second journey.
    pub fn missed(&self, fault: &Fault, shown_by_looks: f64, shown_by_proof: f64) -> f64 {
        let calls = 1.0 - (-fault.calls_per_year * self.callback_days / DAYS_PER_YEAR).exp();
        let unseen = (1.0 - shown_by_proof) * calls * self.missed_fault_minutes;
        (1.0 - shown_by_looks) * shown_by_proof.mul_add(self.shown_by_proof_minutes, unseen)
    }

    /// What it costs to mend this fault when it is not there.
    pub fn needless(&self, fault: &Fault) -> f64 {
        if fault.remedy.parts.is_empty() {
            return self.needless_action_minutes;
        }
        let price: f64 = fault.remedy.parts.iter().map(|part| part.price).sum();
        self.needless_part_minutes + price * self.minutes_per_price
    }
}

/// How sound units and sites differ, as standard deviations of the natural logarithm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Spreads {
    /// Median static pressure of sites whose supply is sound, bar, and its spread.
    pub site_pressure_bar: f64,
    pub site_pressure: f64,
    pub site_voltage: f64,
    pub fill_valve_kv: f64,
    pub pump_head: f64,
    pub heating_power: f64,
    /// How differently the controls of one model are set to wait for the mark (`fill.allowed_s`); 0: all alike.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub fill_allowed: f64,
}

/// A test that is done whatever it may tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MandatoryTest {
    pub procedure: Key,
    pub when: Mandatory,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mandatory {
    Always,
    AfterWetWork,
}

impl FaultCatalogue {
    /// Everything that is wrong with the catalogue for this model, each with a JSON Pointer into it.
    pub fn validate(&self, model: &Model) -> Result<(), Vec<Violation>> {
        validation::validate(self, model)
    }

    /// The catalogue with a company's own faults: one with the key of a built-in fault replaces it. All
    /// reasons against it are given at once, with pointers into `own` as an array.
    pub fn with_own_faults(&self, own: &[Fault], model: &Model) -> Result<Self, Vec<Violation>> {
        validation::with_own_faults(self, own, model)
    }

    pub fn fault(&self, key: &str) -> Option<&Fault> {
        self.faults.iter().find(|fault| fault.key.as_str() == key)
    }

    /// The fault that a finding without a fault's name means: the only one of its position and failure mode.
    pub fn meant(&self, position: Position, failure_mode: FailureMode) -> Option<&Fault> {
        let mut alike = self
            .faults
            .iter()
            .filter(|fault| fault.position == position && fault.failure_mode == failure_mode);
        let first = alike.next()?;
        alike.next().is_none().then_some(first)
    }

    /// The faults of a position.
    pub fn at(&self, position: Position) -> impl Iterator<Item = &Fault> {
        self.faults.iter().filter(move |fault| fault.position == position)
    }

    /// Rate of all calls of an appliance, per year: `κ₀ + Σ κ·λ·d` of single faults.
    pub fn calls_per_year(&self) -> f64 {
        let made: f64 = self.faults.iter().map(|fault| fault.odds() * fault.calls_while_standing()).sum();
        self.calls_without_fault.per_year + made
    }
}

/// The faults of the demo combi, every one of them a reasoned guess.
pub fn demo_combi_faults() -> &'static FaultCatalogue {
    &DEMO_COMBI
}

/// The faults of the demo warewasher: another machine, and no other code.
pub fn demo_warewasher_faults() -> &'static FaultCatalogue {
    &DEMO_WAREWASHER
}

/// The catalogues that every company has from the start.
pub fn built_in_fault_catalogues() -> [&'static FaultCatalogue; 2] {
    [demo_combi_faults(), demo_warewasher_faults()]
}

static DEMO_COMBI: LazyLock<FaultCatalogue> =
    LazyLock::new(|| built_in(include_str!("../../data/faults/demo_combi.json")));
static DEMO_WAREWASHER: LazyLock<FaultCatalogue> =
    LazyLock::new(|| built_in(include_str!("../../data/faults/demo_warewasher.json")));

#[expect(clippy::expect_used, reason = "the file is compiled in, and a test reads each of them")]
fn built_in(json: &str) -> FaultCatalogue {
    serde_json::from_str(json).expect("a built-in catalogue of faults is well-formed")
}

#[cfg(test)]
mod tests;
