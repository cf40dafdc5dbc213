use application::site::{self, GetSiteWater};
use axum::extract::State;
use axum::response::Response;
use domain::id::SiteId;
use domain::site_water::{self, SamplePoint, Standing, Treatment, WaterValue};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use super::water_sample::SiteWaterSample;
use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The water of a kitchen over time.
#[derive(Serialize, ToSchema)]
pub struct SiteWater {
    /// Newest first.
    #[schema(max_items = 1000)]
    samples: Vec<SiteWaterSample>,
    /// Oldest first.
    #[schema(max_items = 1000)]
    treatment_changes: Vec<TreatmentChange>,
    /// Of each value that three samples or more hold since the treatment last changed.
    #[schema(max_items = 20)]
    trends: Vec<WaterTrend>,
    /// The newest sample of what reaches the machines, against the limits of each model that stands here.
    #[schema(max_items = 1000)]
    against_limits: Vec<AgainstLimits>,
}

/// The treatment changed between two samples.
#[derive(Serialize, ToSchema)]
pub struct TreatmentChange {
    #[schema(value_type = schema::Instant)]
    after: Timestamp,
    #[schema(value_type = schema::Instant)]
    by: Timestamp,
    #[schema(value_type = schema::TreatmentWord)]
    from: Treatment,
    #[schema(value_type = schema::TreatmentWord)]
    to: Treatment,
}

/// How a value moves: the median of the slopes between all pairs of samples.
#[derive(Serialize, ToSchema)]
pub struct WaterTrend {
    #[schema(value_type = schema::WaterValueWord)]
    of: WaterValue,
    #[schema(value_type = schema::SamplePointWord)]
    sample_point: SamplePoint,
    /// Samples in it.
    n: usize,
    /// In the value's unit (`mg/L as CaCO3`, `µS/cm`, `mg/L`, none) per year of 365.25 days.
    per_year: f64,
}

/// A sample against the limits of a model.
#[derive(Serialize, ToSchema)]
pub struct AgainstLimits {
    #[schema(value_type = schema::Key)]
    model: Key,
    model_version: u32,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    #[schema(max_items = 20)]
    findings: Vec<WaterFinding>,
}

/// One value against one limit.
#[derive(Serialize, ToSchema)]
pub struct WaterFinding {
    #[schema(value_type = schema::WaterValueWord)]
    of: WaterValue,
    #[schema(required)]
    value: Option<f64>,
    #[schema(required)]
    lower: Option<f64>,
    #[schema(required)]
    upper: Option<f64>,
    #[schema(value_type = schema::StandingWord)]
    standing: Standing,
    /// In plain words.
    #[schema(max_length = 1000)]
    sentence: String,
}

/// Read the water of a kitchen
#[utoipa::path(get, path = "/v1/sites/{id}/water", tag = "sites", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Samples and what follows from them", body = SiteWater)))]
pub async fn get_site_water(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
) -> Result<Response, Problem> {
    let water = state.application.ask(&caller, GetSiteWater(id)).await?;
    let trends = water.trends.into_iter().map(|(sample_point, trend)| WaterTrend {
        of: trend.of,
        sample_point,
        n: trend.n,
        per_year: trend.per_year,
    });
    answer::hashed(&SiteWater {
        samples: water.samples.into_iter().map(SiteWaterSample::from).collect(),
        treatment_changes: water.treatment_changes.into_iter().map(TreatmentChange::from).collect(),
        trends: trends.collect(),
        against_limits: water.against_limits.into_iter().map(AgainstLimits::from).collect(),
    })
}

impl From<site_water::TreatmentChange> for TreatmentChange {
    fn from(change: site_water::TreatmentChange) -> Self {
        Self { after: change.after, by: change.by, from: change.from, to: change.to }
    }
}

impl From<site::AgainstLimits> for AgainstLimits {
    fn from(against: site::AgainstLimits) -> Self {
        Self {
            model: against.model,
            model_version: against.model_version,
            taken_at: against.taken_at,
            findings: against.findings.into_iter().map(WaterFinding::from).collect(),
        }
    }
}

impl From<site_water::WaterFinding> for WaterFinding {
    fn from(finding: site_water::WaterFinding) -> Self {
        Self {
            of: finding.of,
            value: finding.value,
            lower: finding.limits.lower,
            upper: finding.limits.upper,
            standing: finding.standing,
            sentence: finding.sentence,
        }
    }
}
