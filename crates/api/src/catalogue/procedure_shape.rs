//! What a test procedure looks like on the wire: the domain's own form, which knows nothing of OpenAPI.
#![expect(dead_code, reason = "requests and answers are the domain's types; these only give their schemas")]

use serde::Deserialize;
use utoipa::ToSchema;

use crate::schema;

/// One version of one procedure.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Procedure {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(minimum = 1, maximum = 2_147_483_647)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: String,
    /// How long it takes, for planning and for choosing the next test.
    minutes: f64,
    /// Skills or licences that the person must hold.
    #[schema(value_type = Vec<schema::Key>, required = false, max_items = 50)]
    skills: Vec<String>,
    /// What it is needed for; optional where empty.
    #[schema(required = false, max_items = 2)]
    needed_for: Vec<Purpose>,
    /// Whether the machine is under power for it: something is switched on, runs, or is read live. True unless it is
    /// said not to be. Never advised while a danger stands.
    #[schema(required = false)]
    powered: bool,
    /// The positions on which its readings bear.
    #[schema(value_type = Vec<schema::PositionWord>, min_items = 1, max_items = 100)]
    positions: Vec<String>,
    #[schema(required = false, max_items = 100)]
    preconditions: Vec<Precondition>,
    #[schema(min_items = 1, max_items = 50)]
    cautions: Vec<Caution>,
    #[schema(min_items = 1, max_items = 100)]
    steps: Vec<ProcedureStep>,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Purpose {
    Diagnosis,
    Proof,
}

/// What must hold before the readings mean anything: `read` (another step has been read), `passed`
/// (nothing failed in another procedure), `confirmed` (the technician confirms a state).
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Precondition {
    kind: PreconditionKind,
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    procedure: Option<String>,
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    step: Option<String>,
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    key: Option<String>,
    #[schema(value_type = Option<schema::Words>, nullable = false)]
    statement: Option<String>,
    blocks: Blocks,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PreconditionKind {
    Read,
    Passed,
    Confirmed,
}

/// Which gradings an unmet precondition makes inconclusive.
#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Blocks {
    EveryGrading,
    AtReference,
}

/// Advice on a danger of the work. Local codes and licensed practice prevail.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Caution {
    /// `{highest_temperature}` in it is filled by the model when it is shown.
    #[schema(value_type = schema::Words)]
    text: String,
    #[schema(value_type = Option<schema::Name>, nullable = false)]
    regulation: Option<String>,
}

/// One thing to do and to read.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProcedureStep {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(value_type = schema::Name)]
    title: String,
    #[schema(value_type = schema::Words)]
    instruction: String,
    reads: StepReads,
    /// The position whose condition it proposes, and behind it those that stand in on models without it.
    #[schema(value_type = Vec<schema::PositionWord>, required = false, max_items = 100)]
    about: Vec<String>,
    /// May be left out without a reason.
    #[schema(required = false)]
    optional: bool,
    /// Steps of the same run without which this one means nothing.
    #[schema(value_type = Vec<schema::Key>, required = false, max_items = 100)]
    needs_steps: Vec<String>,
    #[schema(nullable = false)]
    interlock_defeat: Option<InterlockDefeatRule>,
    /// Dangers that are over when this reads healthy, as far as this step can tell.
    #[schema(value_type = Vec<schema::DangerWord>, required = false, max_items = 6)]
    looks_for: Vec<String>,
    /// The danger of which a measured value beyond the model's limit tells.
    #[schema(value_type = Option<schema::DangerWord>, nullable = false)]
    signals: Option<String>,
}

/// What a step yields: `measure` (a value of `quantity`), `choose` (one of `choices`), `record` (a series of
/// `quantity`).
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepReads {
    kind: StepKind,
    #[schema(value_type = Option<schema::QuantityWord>, nullable = false)]
    quantity: Option<String>,
    /// When the clock starts, for a duration.
    #[schema(nullable = false)]
    clock: Option<Clock>,
    /// The stage of the wash at which the clock stops; how hot it is, the model says. Required by the
    /// correction `heating_time`.
    #[schema(value_type = Option<schema::WashStageWord>, nullable = false)]
    stage: Option<String>,
    /// Where the gauge sits, for a pressure.
    #[schema(nullable = false)]
    tap: Option<PressureTap>,
    /// The end is judged by eye.
    #[schema(nullable = false)]
    judged: Option<bool>,
    #[schema(nullable = false)]
    correction: Option<Correction>,
    /// A step of the same run holding the litres that the sump held.
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    sump_level_step: Option<String>,
    /// A step of the same run whose value this one cannot exceed.
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    capacity_step: Option<String>,
    #[schema(nullable = false, max_items = 100)]
    choices: Option<Vec<StepChoice>>,
    #[schema(minimum = 2, maximum = 100_000, nullable = false)]
    minimum_samples: Option<u32>,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    Measure,
    Choose,
    Record,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Clock {
    FromCommand,
    FromFirstWater,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PressureTap {
    BeforeInletStrainer,
    AfterInletStrainer,
}

/// How a reading is brought to the model's reference conditions.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Correction {
    kind: CorrectionKind,
    /// Of a caught volume: the step that reads the length of the call.
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    call_step: Option<String>,
    /// Of a heating time: the step that reads the temperature at its start.
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    start_step: Option<String>,
}

#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CorrectionKind {
    FillTime,
    CaughtVolume,
    HeatingTime,
}

/// One entry of a step's list and the condition that it proposes.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StepChoice {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(value_type = schema::Name)]
    title: String,
    #[schema(value_type = schema::ConditionWord)]
    condition: String,
    #[schema(value_type = Option<schema::Key>, nullable = false)]
    failure_mode: Option<String>,
    /// The danger of which it tells: the machine is then unsafe.
    #[schema(value_type = Option<schema::DangerWord>, nullable = false)]
    signals: Option<String>,
}

/// A step that takes a protection away needs a second person, ends after a time, and its removal is recorded.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InterlockDefeatRule {
    #[schema(value_type = schema::Words)]
    what: String,
    #[schema(minimum = 1, maximum = 60)]
    time_limit_minutes: u32,
}
