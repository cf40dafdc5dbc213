//! Schemas of the domain's own types, which know nothing of OpenAPI: named once, used everywhere.

use std::borrow::Cow;

use serde_json::{Value, json};
use utoipa::openapi::schema::{ArrayBuilder, ObjectBuilder, Schema, Type};
use utoipa::openapi::{KnownFormat, RefOr, SchemaFormat};
use utoipa::{PartialSchema, ToSchema};

macro_rules! named_schemas {
    ($($(#[doc = $doc:literal])+ $name:ident = $build:expr;)+) => {$(
        $(#[doc = $doc])+
        pub struct $name;

        impl PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                let builder: ObjectBuilder = $build;
                RefOr::T(Schema::Object(builder.description(Some(concat!($($doc),+).trim())).build()))
            }
        }

        impl ToSchema for $name {
            fn name() -> Cow<'static, str> {
                Cow::Borrowed(stringify!($name))
            }
        }
    )+};
}

fn text(minimum: usize, maximum: usize, example: &str) -> ObjectBuilder {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .min_length(Some(minimum))
        .max_length(Some(maximum))
        .examples([Value::from(example)])
}

fn pattern(pattern: &str, maximum: usize, example: Value) -> ObjectBuilder {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .max_length(Some(maximum))
        .pattern(Some(pattern))
        .examples([example])
}

named_schemas! {
    /// A UUID (RFC 9562) in lower case, made by whoever creates the thing; version 7 is found fastest.
    Id = pattern(
        "^[0-9a-f]{8}-[0-9a-f]{4}-[1-8][0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$",
        36,
        json!("01890a5d-ac96-774b-bcce-b302099a8057"),
    )
    .format(Some(SchemaFormat::KnownFormat(KnownFormat::Uuid)));
    /// An answer that is no JSON: a table, the measures of the service.
    PlainText = ObjectBuilder::new().schema_type(Type::String).max_length(Some(100_000_000));
    /// A file.
    File = ObjectBuilder::new()
        .schema_type(Type::String)
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Binary)))
        .max_length(Some(100_000_000));
    /// A name, a label, a serial number.
    Name = text(1, 200, "Harbour kitchen");
    /// What somebody said or wrote, kept as it came.
    Words = text(1, 4000, "The oven stops in the middle of the wash.");
    /// A key of the catalogue or of a list.
    Key = pattern("^[a-z][a-z0-9_]{0,63}$", 64, json!("fill_valve"));
    /// Names what is observed: `procedure/step`, or `procedure/step/statistic` of a recorded series; the questions
    /// of the intake belong to the procedure `intake`.
    ObservationKey = pattern(
        "^[a-z][a-z0-9_]{0,63}(/[a-z][a-z0-9_]{0,63}){1,2}$",
        194,
        json!("fill_time/fill_time"),
    );
    /// An instant: RFC 3339 with an offset; answered in UTC at microseconds.
    Instant = pattern(
        "^(19[7-9][0-9]|2[01][0-9]{2})-[0-9]{2}-[0-9]{2}[Tt][0-9]{2}:[0-9]{2}:[0-9]{2}(\\.[0-9]{1,9})?([Zz]|[+-][0-9]{2}:[0-9]{2})$",
        40,
        json!("2026-03-02T11:00:00.000000Z"),
    )
    .format(Some(SchemaFormat::KnownFormat(KnownFormat::DateTime)));
    /// A name of the IANA time zone database with its region, or UTC.
    TimeZone = pattern("^(UTC|[A-Za-z][A-Za-z0-9_+-]*(/[A-Za-z0-9_+-]+)+)$", 64, json!("Europe/Lisbon"));
    /// A day of the calendar.
    Day = pattern("^(19[7-9][0-9]|2[01][0-9]{2})-[0-9]{2}-[0-9]{2}$", 10, json!("2026-03-02"))
        .format(Some(SchemaFormat::KnownFormat(KnownFormat::Date)));
    /// An amount of money with at most two decimals.
    Amount = pattern("^[0-9]{1,10}(\\.[0-9]{1,2})?$", 13, json!("148.50"));
    /// A currency of ISO 4217.
    Currency = pattern("^[A-Z]{3}$", 3, json!("EUR"));
}

/// A short row of numbers.
pub struct Numbers;

impl PartialSchema for Numbers {
    fn schema() -> RefOr<Schema> {
        let number = ObjectBuilder::new().schema_type(Type::Number);
        let row = ArrayBuilder::new().items(number).max_items(Some(8));
        RefOr::T(Schema::Array(row.description(Some("A short row of numbers.")).build()))
    }
}

impl ToSchema for Numbers {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Numbers")
    }
}

/// Schemas of the domain's closed lists.
macro_rules! word_schemas {
    ($($(#[doc = $doc:literal])+ $name:ident = $list:ty;)+) => {
        named_schemas! {
            $($(#[doc = $doc])+ $name = ObjectBuilder::new()
                .schema_type(Type::String)
                .enum_values(Some(<$list>::WORDS.iter().copied()));)+
        }
    };
}

word_schemas! {
    /// What a machine can be used for now.
    ApplianceStateWord = domain::work::ApplianceState;
    /// What stands between the building's water and the machines.
    TreatmentWord = domain::site_water::Treatment;
    /// Where a sample was drawn.
    SamplePointWord = domain::site_water::SamplePoint;
    /// What is known of a water, measured or derived.
    WaterValueWord = domain::site_water::WaterValue;
    /// How a value stands to its limits.
    StandingWord = domain::site_water::Standing;
    /// The lists that the company may look up, and some extend.
    TermListWord = application::catalogue::TermList;
    /// What somebody does in the service company.
    RoleWord = domain::role::Role;
    /// When in the course of a job a run was taken.
    PhaseWord = domain::evidence::Phase;
    /// How far the learning of a knowledge version is.
    LearningStateWord = application::learning::LearningState;
    /// Why a person takes a reading out of the references.
    RemovalReasonWord = domain::known_good::selection::RemovalReason;
    /// What a token may be used for.
    ScopeWord = domain::role::Scope;
    /// Why an order was opened.
    OrderKindWord = domain::work::OrderKind;
    /// How soon somebody must be there.
    UrgencyWord = domain::work::Urgency;
    /// What may hurt somebody, as the caller tells it.
    DangerWord = domain::work::Danger;
    /// How far the work on an order has come.
    OrderStateWord = domain::work::OrderState;
    /// A move of an order from one state to another.
    OrderActionWord = domain::work::OrderAction;
    /// How an order ended.
    OutcomeWord = domain::work::Outcome;
    /// What is done with a machine as such.
    ApplianceActionWord = domain::work::ApplianceAction;
    /// What an order waits for.
    WaitingReasonWord = domain::work::WaitingReason;
    /// What can be done with something that is waited for.
    WaitingActionWord = domain::work::WaitingAction;
    /// How far a part has come on its way into the machine.
    PartLineStateWord = domain::work::PartLineState;
    /// A move of a part line.
    PartLineActionWord = domain::work::PartLineAction;
    /// Who pays for a line.
    PayerWord = domain::work::Payer;
    /// What a customer says to a quote.
    DecisionWord = domain::work::Decision;
    /// What can be done with an interlock defeat.
    InterlockActionWord = domain::work::InterlockAction;
    /// What an order may do without.
    WaivedWord = domain::work::Waived;
    /// Why an order may do without a proof.
    WaiverCodeWord = domain::work::WaiverCode;
    /// What became of a symptom of the complaint.
    SymptomResultWord = domain::work::SymptomResult;
    /// A step of a visit.
    VisitActionWord = domain::work::VisitAction;
    /// What a visit came to.
    VisitResultWord = domain::work::VisitResult;
}

named_schemas! {
    /// A role in the wash circuit.
    PositionWord = ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(domain::vocabulary::Position::TERMS.iter().map(|term| term.key)));
    /// A complaint in neutral words.
    SymptomWord = of_terms(domain::vocabulary::Symptom::TERMS);
    /// In which manner something fails.
    FailureModeWord = of_terms(domain::vocabulary::FailureMode::TERMS);
    /// What brought it about.
    CauseWord = of_terms(domain::vocabulary::Cause::TERMS);
    /// What is done to a machine.
    RepairActionWord = of_terms(domain::vocabulary::Action::TERMS);
    /// What kind of quantity is measured.
    QuantityWord = ObjectBuilder::new()
        .schema_type(Type::String)
        .enum_values(Some(domain::quantity::QuantityKind::ALL.map(domain::quantity::QuantityKind::key)));
}

fn of_terms(terms: &[domain::vocabulary::Term]) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(Type::String).enum_values(Some(terms.iter().map(|term| term.key)))
}

/// Schemas of lists that the domain keeps as plain enumerations: one entry for each variant, as it is sent.
macro_rules! listed_schemas {
    ($($(#[doc = $doc:literal])+ $name:ident = [$($word:literal),+];)+) => {
        named_schemas! {
            $($(#[doc = $doc])+ $name =
                ObjectBuilder::new().schema_type(Type::String).enum_values(Some([$($word),+]));)+
        }
    };
}

listed_schemas! {
    /// The condition of a position: inside the healthy reference, outside it but inside the functional limit,
    /// outside that, not to be told, not tested.
    ConditionWord = ["ok", "degraded", "failed", "inconclusive", "not_tested"];
    /// Certainty about a limit (ILAC-G8:09/2019, 4.2.3).
    ConformityWord = ["pass", "conditional_pass", "conditional_fail", "fail", "inconclusive"];
    /// The parts of the machine whose readings hang together.
    SubsystemWord = ["water_supply", "fill", "sump", "wash", "door", "drain", "heat", "power_supply", "control",
        "chemical", "use"];
    /// What faults can change in the circuit of which every machine is made.
    ParameterWord = ["site_pressure", "line_kv", "inlet_strainer_kv", "valve_strainer_kv", "fill_valve_kv",
        "fill_valve_opens", "filled_volume", "pump_head", "faded_head", "fades_after", "system_curve",
        "motor_turns", "motor_current", "drain_flow", "open_elements", "heating_power", "heat_ceiling",
        "site_voltage", "door_made", "door_leak", "fill_output", "wash_output", "heat_output"];
    /// What is on or off as a whole, and shows when it is off: whether a control output reaches what it drives, whether
    /// the machine knows that its door is shut, and, of both together, whether the wash motor is fed (`wash_powered`).
    SwitchWord = ["fill_output", "wash_output", "heat_output", "door_made", "wash_powered"];
    /// A stage of a machine's wash, by its rank.
    WashStageWord = ["first", "second", "third"];
    /// How a finding was made.
    EvidenceWord = ["measured", "timed", "seen", "heard", "reported"];
    /// Why a reading teaches nothing; of several reasons the first.
    NotCountedWord = ["taken_after_as_of", "removed_by_person", "not_usable", "other_tests_not_passed",
        "full_cycle_not_passed", "called_within_quiet_days", "quiet_days_not_over", "later_reading_used"];
    /// How an interval was computed.
    MethodWord = ["normal", "distribution_free", "variance_components"];
    /// On which side a reading can be unusual.
    SidesWord = ["lower", "upper", "both"];
    /// Why there is no interval.
    NoIntervalWord = ["too_few_units", "no_spread"];
    /// What a drift chart signals.
    SignalWord = ["average_high", "average_low", "sum_high", "sum_low"];
    /// The scale on which readings spread evenly.
    ScaleWord = ["linear", "logarithmic"];
    /// Where a healthy reference comes from, from best to least.
    ReferenceSourceWord = ["own_readings", "fleet", "model_typical"];
}
