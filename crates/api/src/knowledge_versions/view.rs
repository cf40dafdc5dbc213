use application::learning::{Learning, LearningState};
use domain::id::{KnowledgeVersionId, PersonId};
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::schema;

/// One version of what was learned, or the learning that makes it.
#[derive(Serialize, ToSchema)]
pub struct KnowledgeVersion {
    #[schema(minimum = 1)]
    n: i64,
    #[schema(value_type = schema::Id)]
    id: KnowledgeVersionId,
    /// What happened later is taken as not known.
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = schema::LearningStateWord)]
    state: LearningState,
    /// Why it could not go on.
    #[schema(required, max_length = 1000)]
    failure: Option<String>,
    progress: Progress,
    /// Measurements of models that it has a reference for; null until it is done.
    #[schema(required, minimum = 0)]
    references: Option<i64>,
    #[schema(required)]
    made_from: Option<MadeFrom>,
    #[schema(value_type = schema::Id)]
    asked_by: PersonId,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
    #[schema(value_type = Option<schema::Instant>, required)]
    ended_at: Option<Timestamp>,
}

/// How far a learning is.
#[derive(Serialize, ToSchema)]
pub struct Progress {
    #[schema(minimum = 0)]
    appliances: i64,
    #[schema(minimum = 0)]
    appliances_done: i64,
    /// Jobs whose readings could not be graded; they teach nothing.
    #[schema(minimum = 0)]
    jobs_unreadable: i64,
}

/// What a version follows from: the same again gives the same numbers.
#[derive(Serialize, ToSchema)]
pub struct MadeFrom {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// What was stored by then was learned from.
    #[schema(value_type = schema::Instant)]
    known_at: Timestamp,
    /// The program that computed it.
    #[schema(max_length = 100)]
    engine: String,
    /// The orders from which the rates of faults were learned, by model.
    #[schema(max_items = 10_000)]
    faults: Vec<FaultsMadeFrom>,
}

/// What the rates of one model's faults follow from.
#[derive(Serialize, Deserialize, ToSchema)]
pub struct FaultsMadeFrom {
    #[serde(default)]
    #[schema(value_type = schema::Key)]
    model: String,
    #[schema(minimum = 1)]
    catalogue_version: u32,
    #[schema(minimum = 0)]
    jobs: usize,
    /// How long machines of the model were in service, together.
    appliance_years: f64,
    /// Of catalogue, orders and years: the same again gives the same numbers.
    #[schema(max_length = 64)]
    sha256: String,
}

impl FaultsMadeFrom {
    fn of(made_from: Option<&serde_json::Value>) -> Vec<Self> {
        let of_models = made_from.and_then(|made_from| made_from["faults"].as_object());
        let of_model = |(model, of): (&String, &serde_json::Value)| {
            let of: Self = serde_json::from_value(of.clone()).ok()?;
            Some(Self { model: model.clone(), ..of })
        };
        of_models.into_iter().flatten().filter_map(of_model).collect()
    }
}

impl From<Learning> for KnowledgeVersion {
    fn from(learning: Learning) -> Self {
        let engine = learning.made_from.as_ref().and_then(|made_from| made_from["engine"].as_str());
        let made_from = engine.map(|engine| MadeFrom {
            as_of: learning.as_of,
            known_at: learning.created_at,
            engine: engine.to_owned(),
            faults: FaultsMadeFrom::of(learning.made_from.as_ref()),
        });
        Self {
            n: learning.n,
            id: learning.id,
            as_of: learning.as_of,
            state: learning.state,
            failure: learning.failure,
            progress: Progress {
                appliances: learning.appliances,
                appliances_done: learning.appliances_done,
                jobs_unreadable: learning.jobs_unreadable,
            },
            references: learning.references,
            made_from,
            asked_by: learning.asked_by,
            created_at: learning.created_at,
            ended_at: learning.ended_at,
        }
    }
}
