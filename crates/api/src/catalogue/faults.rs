use application::catalogue::{Entry, GetFault, GetFaultVersion, KeptFault, ListFaults};
use axum::extract::State;
use axum::response::Response;
use domain::equipment;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::vocabulary::{Action, Cause, FailureMode, Position};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::fault_shape::Fault;
use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What a list says of a fault; all numbers stand in its catalogue.
#[derive(Serialize, ToSchema)]
pub struct FaultSummary {
    #[schema(value_type = schema::Key)]
    model: Key,
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(minimum = 1)]
    version: u32,
    #[schema(value_type = schema::Name)]
    title: Name,
    #[schema(value_type = schema::PositionWord)]
    position: Position,
    /// A state of the building or of the use, not of the machine.
    external: bool,
    #[schema(value_type = schema::FailureModeWord)]
    failure_mode: FailureMode,
    #[schema(value_type = Vec<schema::CauseWord>, max_items = 30)]
    causes: Vec<Cause>,
    /// What mends it.
    #[schema(value_type = schema::RepairActionWord)]
    action: Action,
    /// Parts that this takes, by the names that the catalogue of faults gives them.
    #[schema(value_type = Vec<schema::Key>, max_items = 20)]
    parts: Vec<Key>,
}

/// The faults in the newest catalogue of each model.
#[derive(Serialize, ToSchema)]
pub struct FaultList {
    #[schema(max_items = 100_000)]
    items: Vec<FaultSummary>,
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct FaultQuery {
    /// Of one model.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    model: Option<Key>,
    /// At one position.
    #[param(value_type = Option<schema::PositionWord>, nullable = false)]
    position: Option<Position>,
}

/// List faults
#[utoipa::path(get, path = "/v1/faults", tag = "catalogue", params(FaultQuery),
    responses((status = 200, description = "By model, in the order of the catalogue", body = FaultList)))]
pub async fn list_faults(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(query): Query<FaultQuery>,
) -> Result<Response, Problem> {
    let kept = state.application.ask(&caller, ListFaults { model: query.model }).await?;
    let all = kept.into_iter().flat_map(|kept| {
        let model = kept.entry.model;
        kept.entry.faults.into_iter().map(move |fault| (model.clone(), fault))
    });
    let wanted = all.filter(|(_, fault)| query.position.is_none_or(|position| fault.position == position));
    answer::json(&FaultList { items: wanted.map(|(model, fault)| FaultSummary::new(model, fault)).collect() })
}

impl FaultSummary {
    fn new(model: Key, fault: equipment::Fault) -> Self {
        Self {
            model,
            external: fault.is_external(),
            key: fault.key,
            version: fault.version,
            title: fault.title,
            position: fault.position,
            failure_mode: fault.failure_mode,
            causes: fault.causes,
            action: fault.remedy.action,
            parts: fault.remedy.parts.into_iter().map(|need| need.part).collect(),
        }
    }
}

/// A version of a fault as it is kept.
#[derive(Serialize, ToSchema)]
pub struct CatalogueFault {
    #[schema(value_type = schema::Key)]
    model: Key,
    #[schema(value_type = Fault)]
    fault: equipment::Fault,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<KeptFault> for CatalogueFault {
    fn from(kept: KeptFault) -> Self {
        Self { model: kept.model, fault: kept.fault, created_at: kept.created_at }
    }
}

/// Read the newest version of a fault
#[utoipa::path(get, path = "/v1/faults/{model}/{key}", tag = "catalogue",
    params(("model" = schema::Key, Path), ("key" = schema::Key, Path)),
    responses((status = 200, description = "The newest version", body = CatalogueFault)))]
pub async fn get_fault(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((model, key)): Path<(Key, Key)>,
) -> Result<Response, Problem> {
    let question = GetFault { model, entry: Entry { key, version: None } };
    answer::hashed(&CatalogueFault::from(state.application.ask(&caller, question).await?))
}

/// Read a version of a fault
///
/// The version that a finding names, as it stood then.
#[utoipa::path(get, path = "/v1/faults/{model}/{key}/versions/{version}", tag = "catalogue",
    params(("model" = schema::Key, Path), ("key" = schema::Key, Path),
        ("version" = u32, Path, minimum = 1, maximum = 2_147_483_647)),
    responses((status = 200, description = "The version, which never changes", body = CatalogueFault)))]
pub async fn get_fault_version(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path((model, key, version)): Path<(Key, Key, u32)>,
) -> Result<Response, Problem> {
    let question = GetFaultVersion { model, entry: Entry { key, version: Some(version) } };
    answer::hashed(&CatalogueFault::from(state.application.ask(&caller, question).await?))
}
