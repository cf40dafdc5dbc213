//! A company's own machine from its plate.

use application::catalogue::DraftModel;
use axum::extract::State;
use axum::response::Response;
use domain::draft::{self, Draft};
use domain::equipment;
use domain::procedure;
use domain::vocabulary::Position;
use serde::Serialize;
use std::collections::BTreeSet;
use utoipa::ToSchema;

use super::fault_shape::FaultCatalogue;
use super::model_shape::{FunctionalLimit, HeaterWiring, Model};
use super::procedure_shape::Procedure;
use crate::answer;
use crate::extract::Json;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What stands on a machine's plate and what anybody can time at a sound one. What a position needs must be
/// given; a position that is left out is switched off.
#[derive(serde::Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "requests are the domain's type; this only gives its schema")]
pub struct Plate {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(value_type = schema::Name)]
    title: String,
    #[schema(value_type = Vec<schema::PositionWord>, min_items = 1, max_items = 100)]
    positions: Vec<String>,
    /// Gauge pressure of the supply without flow for which the times hold; 3 if left out.
    #[schema(required = false)]
    static_pressure_bar: f64,
    /// 230 if left out.
    #[schema(required = false)]
    supply_voltage_v: f64,
    /// 15 if left out.
    #[schema(required = false)]
    water_temperature_cel: f64,
    /// Water in the full vessel: the sump of a wash, the tank of a warewasher, the generator of a steamer.
    #[schema(nullable = false)]
    vessel_l: Option<f64>,
    /// From first water to the full mark.
    #[schema(nullable = false)]
    fill_time_s: Option<f64>,
    /// How long the controls wait for the mark; three usual fills if left out.
    #[schema(nullable = false)]
    fill_allowed_s: Option<f64>,
    /// Drop of pressure from which a flow regulator holds the fill's flow, where the machine has one.
    #[schema(nullable = false)]
    regulator_from_bar: Option<f64>,
    /// The timed call of water at the start of a cycle, where the machine makes one.
    #[schema(nullable = false)]
    start_up_call_s: Option<f64>,
    #[schema(nullable = false)]
    wash_flow_l_per_min: Option<f64>,
    #[schema(nullable = false)]
    wash_run_s: Option<f64>,
    #[schema(nullable = false)]
    motor_current_a: Option<f64>,
    #[schema(nullable = false)]
    capacitor_uf: Option<f64>,
    /// From the full mark until the vessel is empty.
    #[schema(nullable = false)]
    drain_time_s: Option<f64>,
    #[schema(nullable = false)]
    heater: Option<PlateHeater>,
    /// Liquid chemical that the dosing pump gives in one wash, where it is measured.
    #[schema(nullable = false)]
    dose_ml: Option<f64>,
    /// Fresh water of one rinse, where it is measured.
    #[schema(nullable = false)]
    rinse_volume_l: Option<f64>,
    /// From command to steady steam.
    #[schema(nullable = false)]
    steam_time_s: Option<f64>,
    #[schema(required = false, max_items = 3)]
    wash_stages_cel: Vec<f64>,
    #[schema(nullable = false)]
    highest_temperature_cel: Option<f64>,
    /// Limits that a person knows better: each takes the place of the drafted limit on the same measurement.
    #[schema(required = false, max_items = 1000)]
    functional_limits: Vec<FunctionalLimit>,
}

#[derive(serde::Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "requests are the domain's type; this only gives its schema")]
pub struct PlateHeater {
    #[schema(minimum = 1, maximum = 24)]
    elements: u32,
    power_per_element_w: f64,
    wiring: HeaterWiring,
    rated_voltage_v: f64,
    /// From the water's temperature to the last stage of the wash; without stages to 95 °C, and if it is then left
    /// out, the time to steam.
    #[schema(nullable = false)]
    heating_time_s: Option<f64>,
}

/// A valid beginning: to be read, changed and posted, the model first.
#[derive(Serialize, ToSchema)]
pub struct ModelDraft {
    #[schema(value_type = Model)]
    model: equipment::Model,
    /// Those of the service that fit the machine; they are in the catalogue already.
    #[schema(value_type = Vec<Procedure>, max_items = 1000)]
    procedures: Vec<procedure::Procedure>,
    #[schema(value_type = FaultCatalogue)]
    faults: equipment::FaultCatalogue,
    /// Positions of the machine of which nothing general is known to fail: whoever knows adds a fault.
    #[schema(value_type = Vec<schema::PositionWord>, max_items = 100)]
    without_faults: BTreeSet<Position>,
}

/// Draft a model from its plate
///
/// The model with limits and typical values, the procedures that fit, and a catalogue of faults out of the general
/// one by position, marked `general`: its rates are to be learned. Nothing is stored until it is posted. All that
/// is missing on the plate or impossible is told at once, with what would be right.
#[utoipa::path(post, path = "/v1/model-drafts", tag = "catalogue", request_body = Plate,
    responses((status = 200, description = "The draft, which is valid", body = ModelDraft)))]
pub async fn draft_model(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Json(plate): Json<draft::Plate>,
) -> Result<Response, Problem> {
    let Draft { model, procedures, faults, without_faults } =
        state.application.ask(&caller, DraftModel(plate)).await?;
    let procedures = procedures.into_iter().cloned().collect();
    answer::json(&ModelDraft { model, procedures, faults, without_faults })
}
