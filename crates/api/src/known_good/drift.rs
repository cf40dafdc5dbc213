use application::drift::{GetApplianceDrift, MeasurementDrift};
use axum::extract::State;
use axum::response::Response;
use domain::id::{ApplianceId, TestRunId};
use domain::known_good::drift::{DriftPoint, Signal, Spread};
use domain::quantity::Scale;
use domain::text::Key;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct DriftQuery {
    /// What happened later is left out; now unless asked for.
    #[param(value_type = schema::Instant, required = false, nullable = false)]
    as_of: Option<Timestamp>,
    /// Of this procedure's measurements alone.
    #[param(value_type = schema::Key, required = false, nullable = false)]
    procedure: Option<Key>,
}

/// The drift charts of one appliance.
#[derive(Serialize, ToSchema)]
pub struct ApplianceDrift {
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// Where the spreads within units come from; null before anything was learned.
    #[schema(required, minimum = 1)]
    knowledge_version: Option<i64>,
    #[schema(max_items = 1000)]
    charts: Vec<MeasurementChart>,
}

/// A moving average and a cumulative sum over the readings of one measurement at reference conditions. Both
/// are of scores: a reading's distance from the mean of those before it since the last repair of the position.
#[derive(Serialize, ToSchema)]
pub struct MeasurementChart {
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(value_type = schema::Key)]
    step: Key,
    /// What of a recorded series.
    #[schema(required, max_length = 64)]
    statistic: Option<&'static str>,
    #[schema(value_type = schema::Key)]
    position: Position,
    #[schema(max_length = 64)]
    quantity: &'static str,
    /// UCUM code.
    #[schema(max_length = 32)]
    unit: &'static str,
    #[schema(value_type = schema::ScaleWord)]
    scale: Scale,
    rules: ChartRules,
    /// The spread within units of the model, on the scale; null if this machine's own readings give it.
    #[schema(required)]
    spread_of_model: Option<f64>,
    /// Readings since the last repair of the position.
    #[schema(minimum = 0)]
    n: u32,
    /// The first alarm since then.
    #[schema(value_type = Option<schema::Instant>, required)]
    drifting_since: Option<Timestamp>,
    #[schema(max_items = 10_000)]
    points: Vec<ChartPoint>,
}

/// The settings of the charts, in standard deviations of one score.
#[derive(Serialize, ToSchema)]
pub struct ChartRules {
    /// Weight of the newest score in the average.
    weight: f64,
    /// Half the width of the average's limits, in its own standard deviations.
    width: f64,
    /// Half the shift that the sums are to find.
    allowance: f64,
    /// A sum above it is an alarm.
    decision: f64,
}

/// One reading, and the charts after it.
#[derive(Serialize, ToSchema)]
pub struct ChartPoint {
    #[schema(value_type = schema::Id)]
    test_run_id: TestRunId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    value: f64,
    /// Counted from 0; each repair of the position begins the next.
    #[schema(minimum = 0)]
    segment: u32,
    /// Null where too few readings stand before it.
    #[schema(required)]
    score: Option<f64>,
    average: f64,
    /// The average is an alarm beyond plus or minus this.
    average_limit: f64,
    sum_high: f64,
    sum_low: f64,
    #[schema(value_type = Vec<schema::SignalWord>, max_items = 4)]
    alarms: Vec<Signal>,
}

/// Does it drift?
///
/// Charts of each measurement of an appliance against its own past. They begin anew at each repair of the
/// position. Readings that were taken out of the references are left out.
#[utoipa::path(get, path = "/v1/appliances/{id}/drift", tag = "known good",
    params(("id" = schema::Id, Path), DriftQuery),
    responses((status = 200, description = "The charts", body = ApplianceDrift)))]
pub async fn get_appliance_drift(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
    Query(query): Query<DriftQuery>,
) -> Result<Response, Problem> {
    let question = GetApplianceDrift { id, as_of: query.as_of, procedure: query.procedure };
    let drift = state.application.ask(&caller, question).await?;
    answer::json(&ApplianceDrift {
        appliance_id: id,
        as_of: drift.as_of,
        knowledge_version: drift.knowledge_version,
        charts: drift.charts.into_iter().map(MeasurementChart::from).collect(),
    })
}

impl From<MeasurementDrift> for MeasurementChart {
    fn from(drift: MeasurementDrift) -> Self {
        let MeasurementDrift { of, position, quantity, chart } = drift;
        let rules = chart.rules;
        Self {
            procedure: of.procedure,
            step: of.step,
            statistic: of.statistic.map(domain::equipment::SeriesStatistic::key),
            position,
            quantity: quantity.key(),
            unit: quantity.canonical_unit(),
            scale: chart.scale,
            rules: ChartRules {
                weight: rules.weight,
                width: rules.width,
                allowance: rules.allowance,
                decision: rules.decision,
            },
            spread_of_model: match chart.spread {
                Spread::Pooled(spread) => Some(spread),
                Spread::Own => None,
            },
            n: chart.n,
            drifting_since: chart.drifting_since,
            points: chart.points.into_iter().map(ChartPoint::from).collect(),
        }
    }
}

impl From<DriftPoint> for ChartPoint {
    fn from(point: DriftPoint) -> Self {
        Self {
            test_run_id: point.reading.test_run,
            taken_at: point.reading.taken_at,
            value: point.reading.value,
            segment: point.segment,
            score: point.score,
            average: point.average,
            average_limit: point.average_limit,
            sum_high: point.sum_high,
            sum_low: point.sum_low,
            alarms: point.signals,
        }
    }
}
