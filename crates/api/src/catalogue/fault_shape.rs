//! What a catalogue of faults looks like on the wire: the domain's own form, which knows nothing of OpenAPI.
#![expect(dead_code, reason = "requests and answers are the domain's types; these only give their schemas")]

use std::collections::BTreeMap;

use serde::Deserialize;
use utoipa::ToSchema;

use crate::schema;

/// One version of what is known of the faults of one model: all numbers with which a diagnosis computes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FaultCatalogue {
    /// The model it speaks of.
    #[schema(value_type = schema::Key)]
    model: String,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    version: u32,
    /// Drafted from general knowledge: its rates are to be learned from the company's own jobs.
    #[schema(required = false)]
    general: bool,
    calls_without_fault: CallsWithoutFault,
    /// Share of calls that a fault outside the catalogue makes.
    other_share: f64,
    losses: Losses,
    spreads: Spreads,
    #[schema(max_items = 500)]
    measurements: Vec<MeasurementModel>,
    /// What is looked at, asked or read and comes down to one of a list of choices.
    #[schema(max_items = 500)]
    inspections: Vec<Inspection>,
    #[schema(max_items = 100)]
    mandatory: Vec<MandatoryTest>,
    #[schema(min_items = 1, max_items = 220)]
    faults: Vec<Fault>,
}

/// Calls that no fault makes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CallsWithoutFault {
    /// Per appliance and year.
    per_year: f64,
    /// Shares of the complaints; what is missing to 1 is `other`.
    #[schema(value_type = BTreeMap<String, f64>, required = false)]
    symptoms: BTreeMap<String, f64>,
}

/// What a wrong decision costs, in minutes: a company's own settings.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Losses {
    /// A fault left standing that makes the kitchen call again: second journey, intake, the kitchen's loss.
    missed_fault_minutes: f64,
    /// A fault left standing that the proof shows: the test that tells which it is, and a second cycle; 35 if left out.
    #[schema(required = false)]
    shown_by_proof_minutes: f64,
    /// For how many days a call for a fault left standing counts as our second journey; 90 if left out.
    #[schema(required = false)]
    callback_days: f64,
    /// The price of doubt, for each nat of it: asking back, quoting twice; 60 if left out.
    #[schema(required = false)]
    doubt_minutes: f64,
    needless_part_minutes: f64,
    needless_action_minutes: f64,
    /// What one unit of the price of a part is worth.
    minutes_per_price: f64,
}

/// How sound units and sites differ, as standard deviations of the natural logarithm.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Spreads {
    /// Median static pressure of sites whose supply is sound, bar.
    site_pressure_bar: f64,
    site_pressure: f64,
    site_voltage: f64,
    fill_valve_kv: f64,
    pump_head: f64,
    heating_power: f64,
    /// How differently the controls of one model are set to wait for the mark; none: all alike.
    #[schema(required = false)]
    fill_allowed: f64,
}

/// A reading with a number: what the circuit predicts for it, and how far readings stray.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasurementModel {
    #[schema(value_type = schema::ObservationKey)]
    key: String,
    #[schema(value_type = schema::QuantityWord)]
    quantity: String,
    reads: PredictedReading,
    /// The scale on which readings stray evenly about the prediction.
    #[schema(value_type = schema::ScaleWord)]
    scale: String,
    /// How far the prediction itself may be off, as a standard deviation on that scale.
    model_error: f64,
    /// Lower and upper end of what can be read.
    #[schema(value_type = Vec<f64>, min_items = 2, max_items = 2)]
    range: Vec<f64>,
    /// Standard uncertainty where a reading does not bring its own, on the scale.
    usual_uncertainty: f64,
    #[schema(required = false)]
    misread: Misread,
    /// It is read on a part itself, not on what the machine does.
    #[schema(required = false)]
    of_part: bool,
    /// If it is judged and not measured: the range of values for which each choice stands.
    #[schema(value_type = BTreeMap<String, schema::Numbers>, required = false)]
    judged: BTreeMap<String, Vec<f64>>,
}

/// How often a value is misread or mistyped, and where it then lies.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Misread {
    /// Share of readings that are slips.
    share: f64,
    /// Share of the slips that lie near the truth, as those of what is timed, poured or judged by hand do.
    near: f64,
}

/// What a measurement reads, in the canonical unit of its quantity.
#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PredictedReading {
    StaticPressure,
    DynamicPressure,
    PressureAfterStrainer,
    FillTime,
    CaughtVolume,
    FilledVolume,
    FirstFlow,
    FirstFall,
    LastFifthShare,
    MotorCurrent,
    DrainTime,
    /// From the model's water to a stage of its wash.
    #[schema(title = "PredictedHeatingTime")]
    HeatingTime {
        #[schema(value_type = schema::WashStageWord)]
        stage: String,
    },
    SiteVoltage,
    /// A value of its own, changed by the faults of one subsystem.
    #[schema(title = "PredictedOwn")]
    Own {
        #[schema(value_type = schema::SubsystemWord)]
        subsystem: String,
        healthy: f64,
        /// What is read while the controls do not reach the subsystem: fill, wash or heat.
        #[schema(nullable = false)]
        unpowered: Option<f64>,
    },
}

/// A reading that is one of a list, and how truly it is read.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Inspection {
    #[schema(value_type = schema::ObservationKey)]
    key: String,
    /// From what a sound machine shows to what overrides everything else.
    #[schema(value_type = Vec<schema::Key>, min_items = 2, max_items = 8)]
    choices: Vec<String>,
    /// For each true choice, the probabilities of reading each choice; each row sums to 1.
    #[schema(value_type = Vec<schema::Numbers>, min_items = 2, max_items = 8)]
    confusion: Vec<Vec<f64>>,
    /// Choices that are seen by a slip the more seldom the rarer they are: torn, missing, wet, open.
    #[schema(value_type = Vec<schema::Key>, required = false, max_items = 8)]
    gross: Vec<String>,
    /// It is a look at a part itself, not at what the machine does.
    #[schema(required = false)]
    of_part: bool,
    #[schema(nullable = false)]
    bands: Option<Bands>,
    /// What the state of the controls or of the door shows here.
    #[schema(required = false, max_items = 20)]
    follows: Vec<Follows>,
}

/// How a number is turned into a choice: below the first limit, between each two, above the last.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Bands {
    #[schema(value_type = schema::QuantityWord)]
    quantity: String,
    /// Ascending, in the canonical unit.
    #[schema(min_items = 1, max_items = 7)]
    limits: Vec<f64>,
    /// One more than limits.
    #[schema(value_type = Vec<schema::Key>, min_items = 2, max_items = 8)]
    choices: Vec<String>,
}

/// When the switch is off, the inspection shows `choice` with this probability.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Follows {
    #[schema(value_type = schema::SwitchWord)]
    switch: String,
    #[schema(value_type = schema::Key)]
    choice: String,
    probability: f64,
}

/// A test that is done whatever it may tell.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MandatoryTest {
    #[schema(value_type = schema::Key)]
    procedure: String,
    when: MandatoryWhen,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MandatoryWhen {
    Always,
    AfterWetWork,
}

/// One thing that can be wrong: with a position of the machine, or with the building or the use of it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: String,
    #[schema(value_type = schema::PositionWord)]
    position: String,
    #[schema(value_type = schema::FailureModeWord)]
    failure_mode: String,
    #[schema(value_type = schema::SubsystemWord)]
    subsystem: String,
    /// How often it arises, per appliance and year. One with 0 is never considered.
    per_year: f64,
    /// How long it stands before it is mended, on average.
    days_unmended: f64,
    /// How often it makes the kitchen call while it stands, per year.
    calls_per_year: f64,
    /// Share of machines on which it stands without that anybody would call for it.
    #[schema(required = false)]
    uncalled: f64,
    /// Shares of the complaints with which it is reported; what is missing to 1 is `other`.
    #[schema(value_type = BTreeMap<String, f64>, required = false)]
    symptoms: BTreeMap<String, f64>,
    /// Weights of the severities, mildest first.
    #[schema(required = false, max_items = 12)]
    severities: Vec<f64>,
    #[schema(required = false, max_items = 50)]
    effects: Vec<Effect>,
    #[schema(required = false, max_items = 200)]
    shows: Vec<Shows>,
    #[schema(value_type = Vec<schema::CauseWord>, required = false, max_items = 30)]
    causes: Vec<String>,
    remedy: Remedy,
}

/// What a fault does to a parameter, one value or range for each of its severities.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Effect {
    on: EffectTarget,
    change: EffectChange,
    /// Weights of severities of its own, for what need not go together with the rest of the fault. Effects with
    /// the same weights go together.
    #[schema(required = false, max_items = 12)]
    severities: Vec<f64>,
}

#[derive(Deserialize, ToSchema)]
#[serde(untagged)]
pub enum EffectTarget {
    Parameter(OnParameter),
    Measurement(OnMeasurement),
}

/// On the circuit.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OnParameter {
    #[schema(value_type = schema::ParameterWord)]
    parameter: String,
}

/// On a measurement with a value of its own.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OnMeasurement {
    #[schema(value_type = schema::ObservationKey)]
    measurement: String,
}

/// Factors on the sound value, or what comes on top of it.
#[derive(Deserialize, ToSchema)]
#[serde(untagged)]
pub enum EffectChange {
    Scale(ByFactors),
    Add(ByAddition),
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ByFactors {
    #[schema(max_items = 12)]
    scale: Vec<Extent>,
}

/// A value, or the mild and the grave end of a range of values.
#[derive(Deserialize, ToSchema)]
#[serde(untagged)]
pub enum Extent {
    Value(f64),
    #[schema(value_type = schema::Numbers)]
    Range(Vec<f64>),
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ByAddition {
    #[schema(max_items = 12)]
    add: Vec<Extent>,
}

/// With what probability a fault puts an inspection into a state, if nothing worse does.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Shows {
    #[schema(value_type = schema::ObservationKey)]
    at: String,
    #[schema(value_type = schema::Key)]
    choice: String,
    probability: f64,
}

/// What mends it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Remedy {
    #[schema(value_type = schema::RepairActionWord)]
    action: String,
    /// How long it takes; by its kind, if it is left out.
    #[schema(nullable = false)]
    minutes: Option<f64>,
    #[schema(required = false, max_items = 20)]
    parts: Vec<PartNeed>,
}

/// A part by the name that the catalogue of faults gives it.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartNeed {
    #[schema(value_type = schema::Key)]
    part: String,
    price: f64,
    /// Places that it takes in a van.
    #[schema(required = false, minimum = 0, maximum = 1000)]
    places: u32,
}
