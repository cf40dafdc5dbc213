use application::diagnosis::{Diagnosed, NotWeighed as NotWeighedOf};
use application::part::{FittingPart, that_fit};
use domain::danger::Danger;
use domain::diagnosis::{self, Advice, Expected as ExpectedValue, Note as NoteOf, ReadAs};
use domain::equipment::{ObservationKey, Subsystem};
use domain::id::{ApplianceId, TestRunId};
use domain::procedure::Caution as CautionOf;
use domain::text::{Key, Name, Words};
use domain::vocabulary::{Action, FailureMode, Position, Symptom};
use serde::Serialize;
use utoipa::ToSchema;
use wording::diagnosis as words;

use super::parts::PartThatFits;
use crate::calls::CallCaution;
use crate::schema;

/// Which sets of faults explain a case, how sure that is, what to test next and what to carry.
#[derive(Serialize, ToSchema)]
pub struct Diagnosis {
    /// Null for a case that nobody called about.
    #[schema(value_type = Option<schema::Id>, required)]
    appliance_id: Option<ApplianceId>,
    #[schema(value_type = schema::Key)]
    model: Key,
    #[schema(minimum = 1)]
    model_version: u32,
    #[schema(minimum = 1)]
    catalogue_version: u32,
    /// The knowledge that its rates come from; null while they are the catalogue's own.
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    #[schema(minimum = 1)]
    engine_version: u32,
    /// Of everything that it was computed from: the same again gives the same answer.
    #[schema(max_length = 64)]
    input_sha256: String,
    /// How many actions had changed the machine before this evidence.
    #[schema(minimum = 0)]
    epoch: u32,
    /// How many have by now.
    #[schema(minimum = 0)]
    current_epoch: u32,
    /// Counts the order's evidence; 0 without an order.
    #[schema(minimum = 0)]
    evidence_version: i64,
    #[schema(value_type = Option<schema::SymptomWord>, required)]
    complaint: Option<Symptom>,
    /// What limits the answer, and what stands most probably.
    #[schema(max_length = 10_000)]
    sentence: String,
    /// For the telephone: to a cook, without figures and without the trade's words.
    #[schema(max_length = 10_000)]
    plain_words: String,
    /// What the reader must know before trusting the numbers.
    #[schema(max_items = 100)]
    notes: Vec<DiagnosisNote>,
    /// Whole sets, most probable first.
    #[schema(max_items = 1000)]
    sets: Vec<FaultSet>,
    /// Each fault of the machine by itself, most probable first.
    #[schema(max_items = 1000)]
    faults: Vec<ProbableFault>,
    /// States of the building and of the use, likewise.
    #[schema(max_items = 1000)]
    external_states: Vec<ProbableFault>,
    /// That nothing is wrong with the machine.
    #[schema(minimum = 0, maximum = 1)]
    machine_sound: f64,
    /// That nothing is wrong at all.
    #[schema(minimum = 0, maximum = 1)]
    nothing_found: f64,
    /// That something is wrong which the catalogue does not describe.
    #[schema(minimum = 0, maximum = 1)]
    other: f64,
    /// Predicted against read.
    #[schema(max_items = 100_000)]
    readings: Vec<ExplainedReading>,
    /// Faults that no test of this model tells apart.
    #[schema(max_items = 1000)]
    look_alikes: Vec<LookAlikes>,
    next: NextTest,
    parts: PartsToCarry,
    /// What counts for nothing here, and why.
    #[schema(max_items = 100_000)]
    set_aside: Vec<SetAside>,
    /// Readings of one thing that count as one.
    #[schema(max_items = 100_000)]
    repeats: Vec<RepeatedReading>,
    /// This call was drawn as one of those on which every test is done, whatever it may tell here: the company
    /// learns from them how often faults arise.
    full_checklist: bool,
}

/// A set of faults that would stand together.
#[derive(Serialize, ToSchema)]
pub struct FaultSet {
    #[schema(value_type = Vec<schema::Key>, max_items = 10)]
    faults: Vec<Key>,
    #[schema(value_type = Vec<schema::Key>, max_items = 10)]
    external_states: Vec<Key>,
    /// Where something stands that the catalogue does not describe.
    #[schema(value_type = Vec<schema::SubsystemWord>, max_items = 20)]
    other_in: Vec<Subsystem>,
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// A fault, or a state outside the machine, by itself.
#[derive(Serialize, ToSchema)]
pub struct ProbableFault {
    #[schema(value_type = schema::Key)]
    fault: Key,
    #[schema(minimum = 1)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: Name,
    #[schema(value_type = schema::PositionWord)]
    position: Position,
    #[schema(value_type = schema::FailureModeWord)]
    failure_mode: FailureMode,
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
    /// What mends it.
    #[schema(value_type = schema::RepairActionWord)]
    action: Action,
    #[schema(value_type = Vec<schema::Key>, max_items = 20)]
    parts: Vec<Key>,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// One reading, or several of the same thing, against what was to be expected.
#[derive(Serialize, ToSchema)]
pub struct ExplainedReading {
    #[schema(value_type = Vec<schema::Id>, max_items = 100_000)]
    test_run_ids: Vec<TestRunId>,
    #[schema(value_type = schema::ObservationKey)]
    observation: ObservationKey,
    #[schema(max_length = 300)]
    title: String,
    /// UCUM code of the numbers here; empty for a choice.
    #[schema(max_length = 32)]
    unit: String,
    read: WasRead,
    /// Under the most probable set.
    expected: WasExpected,
    /// That it is a slip of reading or writing.
    #[schema(minimum = 0, maximum = 1)]
    misread: f64,
    /// Nothing among the leading sets explains it: read it again.
    unexplained: bool,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// What was read: a value, one of its bounds or both, or a choice.
#[derive(Default, Serialize, ToSchema)]
pub struct WasRead {
    #[schema(required)]
    value: Option<f64>,
    #[schema(required)]
    at_least: Option<f64>,
    #[schema(required)]
    at_most: Option<f64>,
    #[schema(value_type = Option<schema::Key>, required)]
    choice: Option<Key>,
}

/// What was to be read: about 95 of 100 readings lie between `low` and `high`; or choices with their probabilities.
#[derive(Default, Serialize, ToSchema)]
pub struct WasExpected {
    #[schema(required)]
    low: Option<f64>,
    #[schema(required)]
    middle: Option<f64>,
    #[schema(required)]
    high: Option<f64>,
    /// No value at all: no flow, no end.
    no_value: bool,
    #[schema(max_items = 20)]
    choices: Vec<ExpectedChoice>,
}

#[derive(Serialize, ToSchema)]
pub struct ExpectedChoice {
    #[schema(value_type = schema::Key)]
    choice: Key,
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
}

/// Faults whose readings hardly differ on the whole checklist.
#[derive(Serialize, ToSchema)]
pub struct LookAlikes {
    #[schema(value_type = Vec<schema::Key>, max_items = 100)]
    faults: Vec<Key>,
    /// That at least one of them stands.
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// What to do next.
#[derive(Serialize, ToSchema)]
pub struct NextTest {
    /// Null when mending and proving is the better next step, or a danger stands and nothing dead is worth doing.
    #[schema(required)]
    test: Option<TestToDo>,
    #[schema(max_length = 4000)]
    sentence: String,
    /// All tests that are left, best first.
    #[schema(max_items = 1000)]
    tests: Vec<TestAdvice>,
    /// Tests that are done whatever they may tell, and are not done yet.
    #[schema(max_items = 1000)]
    mandatory: Vec<TestToDo>,
    /// Those of them without which the order is not proven: what failed before the repair, and the full cycle.
    #[schema(value_type = Vec<schema::Key>, max_items = 1000)]
    for_proof: Vec<Key>,
    /// Dangers that stand: while there is one, nothing under power comes next.
    #[schema(max_items = 6)]
    hazards: Vec<StandingDanger>,
    /// What is decided: it costs less to mend it than to leave it. Surest first.
    #[schema(max_items = 1000)]
    mend: Vec<FaultToMend>,
    /// Average loss of the best decisions now.
    loss_minutes: f64,
    /// The price of the doubt in which they are made.
    doubt_minutes: f64,
}

/// A danger that was told or read, and is not over.
#[derive(Serialize, ToSchema)]
pub struct StandingDanger {
    #[schema(value_type = schema::DangerWord)]
    danger: Danger,
    /// The readings and answers that tell of it; empty where the call or an earlier epoch does.
    #[schema(value_type = Vec<schema::ObservationKey>, max_items = 100)]
    shown_by: Vec<ObservationKey>,
    #[schema(max_items = 20)]
    cautions: Vec<CallCaution>,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// A fault, or several that no test tells apart, whose mending is decided.
#[derive(Serialize, ToSchema)]
pub struct FaultToMend {
    /// Most probable first.
    #[schema(value_type = Vec<schema::Key>, max_items = 100)]
    faults: Vec<Key>,
    #[schema(minimum = 0, maximum = 1)]
    probability: f64,
    #[schema(value_type = schema::RepairActionWord)]
    action: Action,
    /// Of the work at its position.
    #[schema(max_items = 100)]
    cautions: Vec<AdvisedCaution>,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// A test with what must be known before it is begun.
#[derive(Serialize, ToSchema)]
pub struct TestToDo {
    /// What to do: the procedure's key, or its own where something is done first and read again.
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(minimum = 1)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: Name,
    minutes: f64,
    /// Skills or licences that the person must hold.
    #[schema(value_type = Vec<schema::Key>, max_items = 50)]
    skills: Vec<Key>,
    /// It opens an interlock's protection: a second person, a time limit, the removal recorded.
    defeats_interlock: bool,
    /// The steps to be read where the others were read before; empty for all of them.
    #[schema(value_type = Vec<schema::Key>, max_items = 100)]
    steps: Vec<Key>,
    /// What is done first, where something is done and read again; null for a test.
    #[schema(max_length = 1000, required)]
    first: Option<String>,
    /// What may be read then, and what it would say.
    #[schema(max_items = 10)]
    outcomes: Vec<TestOutcome>,
    /// What must hold before its readings mean anything.
    #[schema(value_type = Vec<schema::Words>, max_items = 100)]
    preconditions: Vec<String>,
    /// They prevail over the advice.
    #[schema(max_items = 50)]
    cautions: Vec<AdvisedCaution>,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// What may be read after something was done, and what it would say.
#[derive(Serialize, ToSchema)]
pub struct TestOutcome {
    #[schema(max_length = 1000)]
    read: String,
    #[schema(max_length = 1000)]
    says: String,
}

/// Advice on a danger of the work. Local codes and licensed practice prevail.
#[derive(Serialize, ToSchema)]
pub struct AdvisedCaution {
    #[schema(value_type = schema::Words)]
    text: Words,
    #[schema(value_type = Option<schema::Name>, required)]
    regulation: Option<Name>,
}

/// What a test is worth.
#[derive(Serialize, ToSchema)]
pub struct TestAdvice {
    test: TestToDo,
    /// With the tests that must come before it and are not done.
    minutes: f64,
    /// Expected fall of the loss by second journeys and needless repairs.
    saves_minutes: f64,
    /// Expected fall of the price of doubt.
    less_doubt_minutes: f64,
    worth_it: bool,
    /// The tests in the order in which they are done, this one last.
    #[schema(value_type = Vec<schema::Key>, max_items = 100)]
    order: Vec<Key>,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// Parts with what they add.
#[derive(Serialize, ToSchema)]
pub struct PartsToCarry {
    /// That the job can be ended with no part at all.
    #[schema(minimum = 0, maximum = 1)]
    without_parts: f64,
    /// With all parts that any described fault needs.
    #[schema(minimum = 0, maximum = 1)]
    with_all_parts: f64,
    /// In the order in which each adds most.
    #[schema(max_items = 100)]
    parts: Vec<PartToCarry>,
}

#[derive(Serialize, ToSchema)]
pub struct PartToCarry {
    /// The name that the catalogue of faults gives it.
    #[schema(value_type = schema::Key)]
    part: Key,
    /// What can be ordered for it.
    #[schema(max_items = 100)]
    fits: Vec<PartThatFits>,
    /// That the job needs it.
    #[schema(minimum = 0, maximum = 1)]
    needed: f64,
    /// That the job can be ended with this part and those above it.
    #[schema(minimum = 0, maximum = 1)]
    ends_job: f64,
    #[schema(max_length = 4000)]
    sentence: String,
}

/// Something that limits the answer.
#[derive(Serialize, ToSchema)]
pub struct DiagnosisNote {
    kind: NoteKind,
    #[schema(max_length = 10_000)]
    sentence: String,
}

#[derive(Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoteKind {
    Danger,
    WhichMachine,
    NothingRead,
    NothingKnown,
    Contradiction,
    Unexplained,
    OutsideTheCatalogue,
    NeverConsidered,
    UnknownFinding,
    ReadingsLeftOut,
    ComplaintUnknown,
}

/// An answer, a finding or a reading that counts for nothing here.
#[derive(Serialize, ToSchema)]
pub struct SetAside {
    #[schema(max_length = 300)]
    what: String,
    #[schema(max_length = 4000)]
    reason: String,
}

#[derive(Serialize, ToSchema)]
pub struct RepeatedReading {
    #[schema(value_type = schema::ObservationKey)]
    observation: ObservationKey,
    #[schema(minimum = 2)]
    count: usize,
    /// They differ by more than their uncertainty.
    disagree: bool,
    #[schema(max_length = 4000)]
    sentence: String,
}

impl Diagnosis {
    pub fn new(diagnosed: Diagnosed, fitting: &[FittingPart]) -> Self {
        let of = diagnosed.diagnosis;
        let observed_in = &diagnosed.observed_in;
        let not_weighed = diagnosed.not_weighed.into_iter().map(SetAside::from);
        let set_aside =
            of.set_aside.iter().map(|set| SetAside { what: set.key.to_string(), reason: set.reason.clone() });
        Self {
            appliance_id: diagnosed.appliance,
            model: diagnosed.model,
            model_version: diagnosed.model_version,
            catalogue_version: diagnosed.catalogue_version,
            knowledge_version: diagnosed.knowledge_version,
            engine_version: of.engine_version,
            input_sha256: of.input_sha256.clone(),
            epoch: of.epoch,
            current_epoch: diagnosed.current_epoch,
            evidence_version: diagnosed.evidence_version,
            complaint: diagnosed.complaint,
            sentence: words::sentence(&of),
            plain_words: words::plain_words(&of),
            notes: of.notes.iter().map(|note| DiagnosisNote::new(&of, note)).collect(),
            sets: of.sets.iter().map(|set| FaultSet::new(&of, set)).collect(),
            faults: of.faults.iter().map(ProbableFault::from).collect(),
            external_states: of.external_states.iter().map(ProbableFault::from).collect(),
            machine_sound: of.machine_sound,
            nothing_found: of.nothing_found,
            other: of.other,
            readings: of.readings.iter().map(|reading| ExplainedReading::new(reading, observed_in)).collect(),
            look_alikes: of.look_alikes.iter().map(|alike| LookAlikes::new(&of, alike)).collect(),
            next: NextTest::new(&of),
            parts: PartsToCarry::new(&of, fitting),
            set_aside: not_weighed.chain(set_aside).collect(),
            repeats: of.repeats.iter().map(RepeatedReading::from).collect(),
            full_checklist: diagnosed.full_checklist,
        }
    }
}

impl FaultSet {
    fn new(of: &diagnosis::Diagnosis, set: &diagnosis::RankedSet) -> Self {
        Self {
            faults: set.faults.clone(),
            external_states: set.external_states.clone(),
            other_in: set.other_in.clone(),
            probability: set.probability,
            sentence: words::of_set(of, set),
        }
    }
}

impl From<&diagnosis::RankedFault> for ProbableFault {
    fn from(fault: &diagnosis::RankedFault) -> Self {
        Self {
            fault: fault.fault.clone(),
            version: fault.version,
            title: fault.title.clone(),
            position: fault.position,
            failure_mode: fault.failure_mode,
            probability: fault.probability,
            action: fault.action,
            parts: fault.parts.clone(),
            sentence: words::of_fault(fault),
        }
    }
}

impl ExplainedReading {
    fn new(reading: &diagnosis::ExplainedReading, observed_in: &[Option<TestRunId>]) -> Self {
        let runs = reading.observations.iter().filter_map(|index| observed_in.get(*index).copied().flatten());
        let mut test_run_ids: Vec<TestRunId> = runs.collect();
        test_run_ids.dedup();
        Self {
            test_run_ids,
            observation: reading.key.clone(),
            title: reading.title.clone(),
            unit: reading.unit.clone(),
            read: WasRead::from(&reading.read),
            expected: WasExpected::from(&reading.expected),
            misread: reading.misread,
            unexplained: reading.unexplained,
            sentence: words::of_reading(reading),
        }
    }
}

impl From<&ReadAs> for WasRead {
    fn from(read: &ReadAs) -> Self {
        match read {
            ReadAs::Value(value) => Self { value: Some(*value), ..Self::default() },
            ReadAs::AtLeast(value) => Self { at_least: Some(*value), ..Self::default() },
            ReadAs::AtMost(value) => Self { at_most: Some(*value), ..Self::default() },
            ReadAs::Between(low, high) => {
                Self { at_least: Some(*low), at_most: Some(*high), ..Self::default() }
            }
            ReadAs::Choice(choice) => Self { choice: Some(choice.clone()), ..Self::default() },
        }
    }
}

impl From<&ExpectedValue> for WasExpected {
    fn from(expected: &ExpectedValue) -> Self {
        match expected {
            ExpectedValue::Range { low, middle, high } => {
                Self { low: Some(*low), middle: Some(*middle), high: Some(*high), ..Self::default() }
            }
            ExpectedValue::NoValue => Self { no_value: true, ..Self::default() },
            ExpectedValue::Choices(choices) => Self {
                choices: choices
                    .iter()
                    .map(|(choice, probability)| ExpectedChoice {
                        choice: choice.clone(),
                        probability: *probability,
                    })
                    .collect(),
                ..Self::default()
            },
            ExpectedValue::Anything => Self::default(),
        }
    }
}

impl LookAlikes {
    fn new(of: &diagnosis::Diagnosis, alike: &diagnosis::LookAlikes) -> Self {
        Self {
            faults: alike.faults.clone(),
            probability: alike.probability,
            sentence: words::of_look_alikes(of, alike),
        }
    }
}

impl NextTest {
    fn new(of: &diagnosis::Diagnosis) -> Self {
        Self {
            test: match &of.next.advice {
                Advice::Test(test) => Some(test.into()),
                Advice::DoAndReadAgain(again) => Some(TestToDo::of_again(again)),
                Advice::MendAndProve | Advice::Isolate => None,
            },
            sentence: words::of_advice(of),
            tests: of.next.tests.iter().map(TestAdvice::from).collect(),
            mandatory: of.next.mandatory.iter().map(TestToDo::from).collect(),
            for_proof: of.next.for_proof.clone(),
            hazards: of.next.hazards.iter().map(|hazard| StandingDanger::new(of, hazard)).collect(),
            mend: of.next.mend.iter().map(|mend| FaultToMend::new(of, mend)).collect(),
            loss_minutes: of.next.loss_minutes,
            doubt_minutes: of.next.doubt_minutes,
        }
    }
}

impl StandingDanger {
    fn new(of: &diagnosis::Diagnosis, hazard: &diagnosis::Hazard) -> Self {
        let cautions = domain::work::precautions(&[hazard.danger], false).into_iter();
        Self {
            danger: hazard.danger,
            shown_by: hazard.shown_by.clone(),
            cautions: cautions.map(CallCaution::from).collect(),
            sentence: words::of_hazard(of, hazard),
        }
    }
}

impl FaultToMend {
    fn new(of: &diagnosis::Diagnosis, mend: &diagnosis::Mend) -> Self {
        Self {
            faults: mend.faults.clone(),
            probability: mend.probability,
            action: mend.action,
            cautions: mend.cautions.iter().map(AdvisedCaution::from).collect(),
            sentence: words::of_mend(of, mend),
        }
    }
}

impl TestToDo {
    fn of_again(again: &diagnosis::DoAndReadAgain) -> Self {
        let outcome = |of: &diagnosis::Outcome| TestOutcome { read: of.read.clone(), says: of.says.clone() };
        Self {
            key: again.key.clone(),
            first: Some(again.first.clone()),
            outcomes: again.outcomes.iter().map(outcome).collect(),
            sentence: words::of_again(again),
            ..(&again.read).into()
        }
    }
}

impl From<&diagnosis::TestToDo> for TestToDo {
    fn from(test: &diagnosis::TestToDo) -> Self {
        Self {
            key: test.procedure.clone(),
            procedure: test.procedure.clone(),
            version: test.version,
            title: test.title.clone(),
            minutes: test.minutes,
            skills: test.skills.iter().cloned().collect(),
            defeats_interlock: test.defeats_interlock,
            steps: test.only.iter().map(|step| step.step.clone()).collect(),
            first: None,
            outcomes: Vec::new(),
            preconditions: words::preconditions(test),
            cautions: test.cautions.iter().map(AdvisedCaution::from).collect(),
            sentence: words::of_test(test),
        }
    }
}

impl From<&CautionOf> for AdvisedCaution {
    fn from(caution: &CautionOf) -> Self {
        Self { text: caution.text.clone(), regulation: caution.regulation.clone() }
    }
}

impl From<&diagnosis::TestAdvice> for TestAdvice {
    fn from(advice: &diagnosis::TestAdvice) -> Self {
        Self {
            test: (&advice.to_do).into(),
            minutes: advice.minutes,
            saves_minutes: advice.saves_minutes,
            less_doubt_minutes: advice.less_doubt_minutes,
            worth_it: advice.is_worth_it(),
            order: advice.order.clone(),
            sentence: words::of_test_advice(advice),
        }
    }
}

impl PartsToCarry {
    fn new(of: &diagnosis::Diagnosis, fitting: &[FittingPart]) -> Self {
        let parts = of.parts.parts.iter().map(|advice| PartToCarry {
            part: advice.part.clone(),
            fits: that_fit(fitting, of, &advice.part).into_iter().map(PartThatFits::from).collect(),
            needed: advice.needed,
            ends_job: advice.ends_job,
            sentence: words::of_part(advice),
        });
        Self {
            without_parts: of.parts.without_parts,
            with_all_parts: of.parts.with_all_parts,
            parts: parts.collect(),
        }
    }
}

impl DiagnosisNote {
    fn new(of: &diagnosis::Diagnosis, note: &NoteOf) -> Self {
        let kind = match note {
            NoteOf::Danger { .. } => NoteKind::Danger,
            NoteOf::WhichMachine { .. } => NoteKind::WhichMachine,
            NoteOf::ComplaintUnknown { .. } => NoteKind::ComplaintUnknown,
            NoteOf::NothingRead => NoteKind::NothingRead,
            NoteOf::NothingKnown => NoteKind::NothingKnown,
            NoteOf::Contradiction { .. } => NoteKind::Contradiction,
            NoteOf::Unexplained { .. } => NoteKind::Unexplained,
            NoteOf::OutsideTheCatalogue { .. } => NoteKind::OutsideTheCatalogue,
            NoteOf::NeverConsidered { .. } => NoteKind::NeverConsidered,
            NoteOf::UnknownFinding { .. } => NoteKind::UnknownFinding,
            NoteOf::ReadingsLeftOut => NoteKind::ReadingsLeftOut,
        };
        Self { kind, sentence: words::of_note(of, note) }
    }
}

impl From<NotWeighedOf> for SetAside {
    fn from(not_weighed: NotWeighedOf) -> Self {
        Self { what: not_weighed.what, reason: not_weighed.reason }
    }
}

impl From<&diagnosis::Repeats> for RepeatedReading {
    fn from(repeats: &diagnosis::Repeats) -> Self {
        Self {
            observation: repeats.key.clone(),
            count: repeats.observations.len(),
            disagree: repeats.disagree,
            sentence: words::of_repeats(repeats),
        }
    }
}
