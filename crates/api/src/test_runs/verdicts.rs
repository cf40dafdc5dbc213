use application::verdicts::{GetOrderVerdicts, GetRunVerdicts, LastHealthy, Verdicts};
use axum::extract::State;
use axum::response::Response;
use domain::equipment::Measurement;
use domain::grading::{self, Conformity, ReferenceSource};
use domain::id::{ApplianceId, TestRunId, WorkOrderId};
use domain::text::{Key, Words};
use domain::time::Timestamp;
use domain::vocabulary::{Condition, FailureMode, Position};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::reading::Censored;
use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What follows from all evidence of one epoch.
#[derive(Serialize, ToSchema)]
pub struct VerdictList {
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    /// How many actions had changed the machine when these readings were taken.
    #[schema(minimum = 0)]
    epoch: u32,
    /// How many have by now.
    #[schema(minimum = 0)]
    current_epoch: u32,
    /// Counts the order's evidence; 0 for runs without an order.
    #[schema(minimum = 0)]
    evidence_version: i64,
    /// The knowledge that readings were compared with; null before anything was learned.
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    /// In the order in which the readings were taken.
    #[schema(max_items = 100_000)]
    verdicts: Vec<Verdict>,
    #[schema(max_items = 100_000)]
    not_tested: Vec<NotTested>,
    /// The condition that the readings propose for each position; a person sets it in a finding.
    #[schema(max_items = 1000)]
    conditions: Vec<ProposedCondition>,
}

/// What was concluded from the evidence of one epoch.
#[derive(Serialize, ToSchema)]
pub struct EpochVerdicts {
    /// In the order in which the readings were taken.
    #[schema(max_items = 100_000)]
    verdicts: Vec<Verdict>,
    #[schema(max_items = 100_000)]
    not_tested: Vec<NotTested>,
    /// The condition that the readings proposed for each position.
    #[schema(max_items = 1000)]
    conditions: Vec<ProposedCondition>,
}

impl From<grading::Assessment> for EpochVerdicts {
    fn from(assessment: grading::Assessment) -> Self {
        Self {
            verdicts: assessment.verdicts.into_iter().map(|verdict| Verdict::new(verdict, None)).collect(),
            not_tested: assessment.not_tested.into_iter().map(Into::into).collect(),
            conditions: assessment.conditions.into_iter().map(Into::into).collect(),
        }
    }
}

/// What one reading says: does the machine do its job in this kitchen, and is the part healthy?
#[derive(Serialize, ToSchema)]
pub struct Verdict {
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(minimum = 1)]
    procedure_version: u32,
    #[schema(value_type = schema::Key)]
    step: Key,
    /// Of a recorded series: what it was reduced to.
    #[schema(value_type = Option<schema::Key>, required)]
    statistic: Option<String>,
    #[schema(value_type = Option<schema::Key>, required)]
    position: Option<Position>,
    #[schema(value_type = Option<schema::Key>, required)]
    quantity: Option<&'static str>,
    /// UCUM code of the values and limits here.
    #[schema(required, max_length = 32)]
    unit: Option<&'static str>,
    #[schema(value_type = Option<schema::Key>, required)]
    choice: Option<Key>,
    #[schema(required)]
    censored: Option<Censored>,
    /// The raw value against the functional limit.
    as_found: Grading,
    /// The value brought to reference conditions against the functional limit.
    at_reference: Grading,
    #[schema(required)]
    limit: Option<AppliedLimit>,
    /// What healthy machines show, and whether this one does.
    #[schema(required)]
    healthy: Option<HealthyReference>,
    /// This machine's own reading that was in order last, in another job.
    #[schema(required)]
    last_healthy: Option<LastHealthyReading>,
    #[schema(value_type = schema::ConditionWord)]
    condition: Condition,
    #[schema(value_type = Option<schema::Key>, required)]
    failure_mode: Option<FailureMode>,
    /// All of it in plain words.
    #[schema(max_length = 4000)]
    sentence: String,
}

/// One grading of one value, in the words of ILAC-G8:09/2019.
#[derive(Serialize, ToSchema)]
pub struct Grading {
    #[schema(value_type = schema::ConformityWord)]
    conformity: Conformity,
    #[schema(required)]
    value: Option<f64>,
    #[schema(required)]
    standard_uncertainty: Option<f64>,
    /// That the value lies inside the limit.
    #[schema(required, minimum = 0, maximum = 1)]
    probability: Option<f64>,
    /// Why nothing can be said.
    #[schema(required, max_length = 4000)]
    reason: Option<String>,
}

/// The functional limit.
#[derive(Serialize, ToSchema)]
pub struct AppliedLimit {
    #[schema(required)]
    lower: Option<f64>,
    #[schema(required)]
    upper: Option<f64>,
    source: LimitSource,
}

/// Whose record states the limit.
#[derive(Clone, Copy, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum LimitSource {
    Model,
    Appliance,
}

/// What healthy machines show at reference conditions.
#[derive(Serialize, ToSchema)]
pub struct HealthyReference {
    #[schema(value_type = schema::ReferenceSourceWord)]
    source: ReferenceSource,
    #[schema(required)]
    centre: Option<f64>,
    #[schema(required)]
    lower: Option<f64>,
    #[schema(required)]
    upper: Option<f64>,
    /// Units or readings that it was learned from; null for a model's own word.
    #[schema(required, minimum = 1)]
    n: Option<u32>,
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    /// Whether this reading lies inside.
    usual: bool,
}

/// A reading of an earlier job whose position was in order.
#[derive(Serialize, ToSchema)]
pub struct LastHealthyReading {
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    /// At reference conditions; null for a choice.
    #[schema(required)]
    value: Option<f64>,
    /// The machine's full cycle passed in the same epoch.
    verified: bool,
}

/// A step that was not done.
#[derive(Serialize, ToSchema)]
pub struct NotTested {
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(value_type = schema::Key)]
    step: Key,
    #[schema(value_type = Option<schema::Key>, required)]
    position: Option<Position>,
    #[schema(value_type = schema::Words)]
    reason: Words,
}

/// The worst of a position's latest verdicts.
#[derive(Serialize, ToSchema)]
pub struct ProposedCondition {
    #[schema(value_type = schema::Key)]
    position: Position,
    #[schema(value_type = schema::ConditionWord)]
    condition: Condition,
    #[schema(value_type = Vec<schema::Id>, max_items = 1000)]
    because_of: Vec<TestRunId>,
    #[schema(value_type = Option<schema::Key>, required)]
    failure_mode: Option<FailureMode>,
    /// Why it was not tested, where somebody said so.
    #[schema(value_type = Option<schema::Words>, required)]
    not_tested: Option<Words>,
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct VerdictsQuery {
    /// Another epoch than the current one: 0 is before anything was changed.
    #[param(minimum = 0, maximum = 1_000_000, nullable = false)]
    epoch: Option<u32>,
}

/// Grade an order's readings
///
/// From all evidence of the epoch, in whatever order it came. A finding is a person's; this only proposes.
#[utoipa::path(get, path = "/v1/work-orders/{id}/verdicts", tag = "test runs",
    params(("id" = schema::Id, Path), VerdictsQuery),
    responses((status = 200, description = "A verdict for each reading", body = VerdictList,
        headers(("ETag" = String, description = "Changes with the answer"))),
        (status = 409, description = "Nobody has confirmed yet which machine the order is about", body = Problem,
            content_type = "application/problem+json")))]
pub async fn get_work_order_verdicts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
    Query(query): Query<VerdictsQuery>,
) -> Result<Response, Problem> {
    let question = GetOrderVerdicts { order: id, epoch: query.epoch };
    answer::hashed(&VerdictList::from(state.application.ask(&caller, question).await?))
}

/// Grade one run's readings
///
/// With all evidence that belongs to it: that of its order's epoch, or what was read on the machine within
/// twelve hours.
#[utoipa::path(get, path = "/v1/test-runs/{id}/verdicts", tag = "test runs", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "A verdict for each reading", body = VerdictList,
        headers(("ETag" = String, description = "Changes with the answer")))))]
pub async fn get_test_run_verdicts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<TestRunId>,
) -> Result<Response, Problem> {
    answer::hashed(&VerdictList::from(state.application.ask(&caller, GetRunVerdicts(id)).await?))
}

impl From<Verdicts> for VerdictList {
    fn from(verdicts: Verdicts) -> Self {
        let last_healthy = verdicts.last_healthy;
        let of_verdict = |verdict: grading::Verdict| {
            let last = last_healthy.get(&verdict.of).cloned();
            Verdict::new(verdict, last)
        };
        let assessment = verdicts.assessment;
        Self {
            appliance_id: verdicts.appliance,
            epoch: verdicts.epoch,
            current_epoch: verdicts.current_epoch,
            evidence_version: verdicts.evidence_version,
            knowledge_version: verdicts.knowledge_version,
            verdicts: assessment.verdicts.into_iter().map(of_verdict).collect(),
            not_tested: assessment.not_tested.into_iter().map(Into::into).collect(),
            conditions: assessment.conditions.into_iter().map(Into::into).collect(),
        }
    }
}

impl Verdict {
    fn new(verdict: grading::Verdict, last_healthy: Option<LastHealthy>) -> Self {
        let sentence = wording::verdict::sentence(&verdict);
        let Measurement { procedure, step, statistic } = verdict.of;
        Self {
            test_run_id: verdict.test_run,
            procedure,
            procedure_version: verdict.procedure_version,
            step,
            statistic: statistic.map(|statistic| statistic.key().to_owned()),
            position: verdict.position,
            quantity: verdict.quantity.map(domain::quantity::QuantityKind::key),
            unit: verdict.quantity.map(domain::quantity::QuantityKind::canonical_unit),
            choice: verdict.choice,
            censored: verdict.censored.map(Into::into),
            as_found: verdict.as_found.into(),
            at_reference: verdict.at_reference.into(),
            limit: verdict.limit.map(|limit| AppliedLimit {
                lower: limit.bounds.lower,
                upper: limit.bounds.upper,
                source: match limit.source {
                    grading::LimitSource::Model => LimitSource::Model,
                    grading::LimitSource::Appliance => LimitSource::Appliance,
                },
            }),
            healthy: verdict.comparison.map(|comparison| HealthyReference {
                source: comparison.reference.source,
                centre: comparison.reference.centre,
                lower: comparison.reference.bounds.lower,
                upper: comparison.reference.bounds.upper,
                n: comparison.reference.n,
                knowledge_version: comparison.reference.knowledge_version,
                usual: comparison.usual,
            }),
            last_healthy: last_healthy.map(|last| LastHealthyReading {
                test_run_id: last.test_run,
                taken_at: last.taken_at,
                value: last.value,
                verified: last.verified,
            }),
            condition: verdict.condition,
            failure_mode: verdict.failure_mode,
            sentence,
        }
    }
}

impl From<grading::Grading> for Grading {
    fn from(grading: grading::Grading) -> Self {
        Self {
            conformity: grading.conformity,
            value: grading.value,
            standard_uncertainty: grading.standard_uncertainty,
            probability: grading.probability,
            reason: grading.reason.as_ref().map(wording::verdict::reason),
        }
    }
}

impl From<grading::NotTested> for NotTested {
    fn from(skipped: grading::NotTested) -> Self {
        Self {
            test_run_id: skipped.test_run,
            procedure: skipped.procedure,
            step: skipped.step,
            position: skipped.position,
            reason: skipped.reason,
        }
    }
}

impl From<grading::ProposedCondition> for ProposedCondition {
    fn from(proposed: grading::ProposedCondition) -> Self {
        Self {
            position: proposed.position,
            condition: proposed.condition,
            because_of: proposed.because_of,
            failure_mode: proposed.failure_mode,
            not_tested: proposed.not_tested,
        }
    }
}
