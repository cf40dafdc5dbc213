use axum::extract::State;
use axum::response::Response;
use domain::id::SiteId;
use domain::site_water::{self, SamplePoint, Standing, Treatment, WaterValue};
use domain::text::Key;
use domain::time::Timestamp;
use serde::Serialize;
use store::{appliance, site};
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
    let (database, scope) = (state.application.database(), caller.read_scope());
    site::find(database, &scope, id).await?.ok_or_else(|| Problem::not_found("site"))?;
    let kept = store::site_water::of_site(database, id).await?;
    let taken: Vec<_> = kept.iter().map(|kept| kept.taken).collect();
    let at_the_machines = kept.iter().map(|kept| kept.taken).find(|taken| {
        taken.sample.sample_point == SamplePoint::AfterTreatment || taken.sample.treatment == Treatment::None
    });
    let mut against_limits = Vec::new();
    if let Some(newest) = at_the_machines {
        for (model, version) in appliance::models_at(database, id).await? {
            let known = state.application.versions().model(model.as_str(), version).await?;
            let Some(known) = known else { continue };
            let findings = site_water::compare(&newest.sample, &known.water_limits);
            against_limits.push(AgainstLimits {
                model,
                model_version: version,
                taken_at: newest.taken_at,
                findings: findings.into_iter().map(WaterFinding::from).collect(),
            });
        }
    }
    let points = SamplePoint::ALL.iter().flat_map(|at| WaterValue::ALL.iter().map(move |of| (*of, *at)));
    let trends = points.filter_map(|(of, sample_point)| {
        let trend = site_water::trend(&taken, of, sample_point)?;
        Some(WaterTrend { of, sample_point, n: trend.n, per_year: trend.per_year })
    });
    answer::hashed(&SiteWater {
        treatment_changes: site_water::treatment_changes(&taken)
            .into_iter()
            .map(|change| TreatmentChange {
                after: change.after,
                by: change.by,
                from: change.from,
                to: change.to,
            })
            .collect(),
        trends: trends.collect(),
        against_limits,
        samples: kept.into_iter().map(SiteWaterSample::from).collect(),
    })
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
