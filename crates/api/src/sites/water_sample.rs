use std::collections::BTreeMap;
use std::fmt::Display;

use application::site::RecordSiteWater;
use application::site::{KeptWaterSample, NewWaterSample};
use axum::extract::State;
use axum::response::Response;
use domain::id::{SiteId, SiteWaterId};
use domain::quantity::{
    Alkalinity, AsRead, Conductivity, Hardness, MassConcentration, Ph, QuantityKind, Temperature,
};
use domain::site_water::{SamplePoint, Treatment, WaterSample, WaterValue};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::{Problem, ProblemFault};
use crate::schema;
use crate::state::ApiState;
use crate::test_runs::{HardnessScale, number_as_text};

/// A value of a water as it was read.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WaterReading {
    #[schema(example = 180.0)]
    value: f64,
    /// UCUM code: `mg/L`, `mmol/L`, `uS/cm`, `[pH]`, `Cel`, `1` with a hardness scale, …
    #[schema(min_length = 1, max_length = 32, example = "mg/L")]
    unit: String,
    /// For a hardness in degrees, which have no UCUM code: the unit is then `1`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    hardness_scale: Option<HardnessScale>,
}

impl WaterReading {
    fn as_read(&self) -> AsRead {
        AsRead {
            text: number_as_text(self.value),
            value: self.value,
            unit: self.unit.clone(),
            hardness_scale: self.hardness_scale.map(Into::into),
        }
    }
}

/// A sample of a kitchen's water. What was not measured is left out.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SiteWaterCreate {
    #[schema(value_type = schema::Id)]
    id: SiteWaterId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    #[schema(value_type = schema::SamplePointWord)]
    sample_point: SamplePoint,
    /// What stands between the building's water and the machines.
    #[schema(value_type = schema::TreatmentWord)]
    treatment: Treatment,
    #[schema(nullable = false)]
    hardness: Option<WaterReading>,
    /// The share of the hardness due to calcium, where it was analysed.
    #[schema(nullable = false)]
    calcium_hardness: Option<WaterReading>,
    #[schema(nullable = false)]
    alkalinity: Option<WaterReading>,
    #[schema(nullable = false)]
    conductivity: Option<WaterReading>,
    #[schema(nullable = false)]
    chloride: Option<WaterReading>,
    #[schema(nullable = false)]
    ph: Option<WaterReading>,
    #[schema(nullable = false)]
    temperature: Option<WaterReading>,
}

/// A sample as it is kept: the values as they were read, and the scaling indices that follow from them.
#[derive(Serialize, ToSchema)]
pub struct SiteWaterSample {
    #[schema(value_type = schema::Id)]
    id: SiteWaterId,
    #[schema(value_type = schema::Instant)]
    taken_at: Timestamp,
    #[schema(value_type = schema::SamplePointWord)]
    sample_point: SamplePoint,
    #[schema(value_type = schema::TreatmentWord)]
    treatment: Treatment,
    /// By name: `hardness`, `calcium_hardness`, `alkalinity`, `conductivity`, `chloride`, `ph`, `temperature`.
    values: BTreeMap<String, WaterReading>,
    /// Langelier saturation index at the sample's temperature; null where a value for it is missing.
    #[schema(required)]
    langelier_index: Option<f64>,
    /// Ryznar stability index, likewise.
    #[schema(required)]
    ryznar_index: Option<f64>,
}

impl From<KeptWaterSample> for SiteWaterSample {
    fn from(kept: KeptWaterSample) -> Self {
        let sample = kept.taken.sample;
        let values = kept.as_read.into_iter().map(|(name, read)| {
            let hardness_scale = read.hardness_scale.map(Into::into);
            (name, WaterReading { value: read.value, unit: read.unit, hardness_scale })
        });
        Self {
            id: kept.id,
            taken_at: kept.taken.taken_at,
            sample_point: sample.sample_point,
            treatment: sample.treatment,
            values: values.collect(),
            langelier_index: sample.value(WaterValue::LangelierIndex),
            ryznar_index: sample.value(WaterValue::RyznarIndex),
        }
    }
}

/// Keep a sample of a kitchen's water
#[utoipa::path(post, path = "/v1/sites/{id}/water", tag = "sites", request_body = SiteWaterCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Kept", body = SiteWaterSample),
        (status = 200, description = "Was there already", body = SiteWaterSample),
    ))]
pub async fn create_site_water(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(site): Path<SiteId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<SiteWaterCreate>,
) -> Result<Response, Problem> {
    let (sample, as_read) = sample(&body).map_err(Problem::invalid)?;
    let new = NewWaterSample { id: body.id, site, taken_at: body.taken_at, sample, as_read };
    carry_out(&state, &caller, key, &(site, &body), RecordSiteWater(new), move |created| {
        let location = format!("/v1/sites/{site}/water");
        Answer::created(created.is_new, location, 1, &SiteWaterSample::from(created.item))
    })
    .await
}

/// The sample in canonical units, and what was read by its name; or everything that is no such value.
fn sample(body: &SiteWaterCreate) -> Result<(WaterSample, BTreeMap<String, AsRead>), Vec<ProblemFault>> {
    let mut reading = Reading { faults: Vec::new(), as_read: BTreeMap::new() };
    let sample = WaterSample {
        sample_point: body.sample_point,
        treatment: body.treatment,
        hardness: reading.take::<Hardness>("hardness", body.hardness.as_ref(), Hardness::KIND),
        calcium_hardness: reading.take("calcium_hardness", body.calcium_hardness.as_ref(), Hardness::KIND),
        alkalinity: reading.take("alkalinity", body.alkalinity.as_ref(), Alkalinity::KIND),
        conductivity: reading.take("conductivity", body.conductivity.as_ref(), Conductivity::KIND),
        chloride: reading.take("chloride", body.chloride.as_ref(), MassConcentration::KIND),
        ph: reading.take("ph", body.ph.as_ref(), Ph::KIND),
        temperature: reading.take("temperature", body.temperature.as_ref(), Temperature::KIND),
    };
    if reading.faults.is_empty() { Ok((sample, reading.as_read)) } else { Err(reading.faults) }
}

struct Reading {
    faults: Vec<ProblemFault>,
    as_read: BTreeMap<String, AsRead>,
}

impl Reading {
    fn take<T: TryFrom<f64, Error: Display>>(
        &mut self,
        name: &'static str,
        value: Option<&WaterReading>,
        kind: QuantityKind,
    ) -> Option<T> {
        let read = value?.as_read();
        let canonical = read.canonical(kind).map_err(|reason| reason.to_string());
        match canonical.and_then(|value| T::try_from(value).map_err(|reason| reason.to_string())) {
            Ok(quantity) => {
                self.as_read.insert(name.to_owned(), read);
                Some(quantity)
            }
            Err(detail) => {
                self.faults.push(ProblemFault::pointer(format!("/{name}"), detail));
                None
            }
        }
    }
}
