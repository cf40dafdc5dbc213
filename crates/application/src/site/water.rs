//! The water of a kitchen over time, and against the limits of the machines that it reaches.

use domain::id::SiteId;
use domain::site_water::{self, SamplePoint, Treatment, TreatmentChange, Trend, WaterFinding, WaterValue};
use domain::text::Key;
use domain::time::Timestamp;
use store::site_water::KeptWaterSample;
use store::{appliance, site};

use crate::{Application, Caller, Question, Refusal};

/// The water of a kitchen.
#[derive(Debug, Clone, Copy)]
pub struct GetSiteWater(pub SiteId);

#[derive(Debug)]
pub struct SiteWater {
    /// Newest first.
    pub samples: Vec<KeptWaterSample>,
    /// Oldest first.
    pub treatment_changes: Vec<TreatmentChange>,
    /// Of each value that enough samples hold since the treatment last changed.
    pub trends: Vec<(SamplePoint, Trend)>,
    /// The newest sample of what reaches the machines, against the limits of each model that stands here.
    pub against_limits: Vec<AgainstLimits>,
}

/// A sample against the limits of a model.
#[derive(Debug)]
pub struct AgainstLimits {
    pub model: Key,
    pub model_version: u32,
    pub taken_at: Timestamp,
    pub findings: Vec<WaterFinding>,
}

impl Question for GetSiteWater {
    const NAME: &'static str = "get_site_water";
    type Answer = SiteWater;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<SiteWater, Refusal> {
        let database = application.database();
        let site = site::find(database, &caller.read_scope(), self.0).await?;
        site.ok_or(Refusal::NotFound { what: "site" })?;
        let samples = store::site_water::of_site(database, self.0).await?;
        let taken: Vec<_> = samples.iter().map(|kept| kept.taken).collect();
        let at_the_machines = taken.iter().find(|taken| {
            taken.sample.sample_point == SamplePoint::AfterTreatment
                || taken.sample.treatment == Treatment::None
        });
        let mut against_limits = Vec::new();
        if let Some(newest) = at_the_machines {
            for (model, model_version) in appliance::models_at(database, self.0).await? {
                let known = application.versions().model(model.as_str(), model_version).await?;
                let Some(known) = known else { continue };
                let findings = site_water::compare(&newest.sample, &known.water_limits);
                against_limits.push(AgainstLimits {
                    model,
                    model_version,
                    taken_at: newest.taken_at,
                    findings,
                });
            }
        }
        let points = SamplePoint::ALL.iter().flat_map(|at| WaterValue::ALL.iter().map(move |of| (*of, *at)));
        let trends = points.filter_map(|(of, at)| Some((at, site_water::trend(&taken, of, at)?))).collect();
        let treatment_changes = site_water::treatment_changes(&taken);
        Ok(SiteWater { samples, treatment_changes, trends, against_limits })
    }
}
