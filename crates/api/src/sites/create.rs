use application::site::CreateSite;
use application::site::NewSite;
use axum::extract::State;
use axum::response::Response;
use domain::id::{BranchId, CustomerId, SiteId};
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Site;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, Json};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// A kitchen to take in.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SiteCreate {
    #[schema(value_type = schema::Id)]
    id: SiteId,
    #[schema(value_type = schema::Id)]
    customer_id: CustomerId,
    #[schema(value_type = Option<schema::Id>)]
    branch_id: Option<BranchId>,
    #[schema(value_type = schema::Name)]
    name: Name,
    /// Where it is: as one would tell a technician.
    #[schema(value_type = schema::Name)]
    place: Name,
    /// A name of the IANA time zone database: the months of reports are the kitchen's own.
    #[schema(value_type = schema::TimeZone)]
    time_zone: Name,
    #[schema(value_type = Option<schema::Name>)]
    external_id: Option<Name>,
    /// How high it lies above the sea, m: decides where water boils, and with it whether a hot stage can be reached.
    #[schema(minimum = -500, maximum = 6000)]
    altitude_m: Option<f64>,
}

/// Take a kitchen in
///
/// The same id and body again is answered 200 and changes nothing.
#[utoipa::path(post, path = "/v1/sites", tag = "sites", request_body = SiteCreate,
    responses(
        (status = 201, description = "Taken in", body = Site),
        (status = 200, description = "Was there already", body = Site),
    ))]
pub async fn create_site(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<SiteCreate>,
) -> Result<Response, Problem> {
    let new = NewSite {
        id: body.id,
        customer: body.customer_id,
        branch: body.branch_id,
        name: body.name.clone(),
        place: body.place.clone(),
        time_zone: body.time_zone.clone(),
        external_id: body.external_id.clone(),
        altitude_m: body.altitude_m,
    };
    carry_out(&state, &caller, key, &body, CreateSite(new), |created| {
        let location = format!("/v1/sites/{}", created.item.id);
        let version = created.item.version;
        Answer::created(created.is_new, location, version, &Site::from(created.item))
    })
    .await
}
