use application::site::UpdateSite;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::{BranchId, SiteId};
use domain::text::Name;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::view::Site;
use crate::answer::{Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// What to change of a kitchen (RFC 7396): an absent field stays, null empties it. A kitchen that changes
/// hands is a new site.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SitePatch {
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Id>)]
    branch_id: Option<Option<BranchId>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    name: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::Name, required = false)]
    place: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = schema::TimeZone, required = false)]
    time_zone: Option<Name>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<schema::Name>)]
    external_id: Option<Option<Name>>,
    #[serde(default, deserialize_with = "present")]
    #[schema(value_type = Option<f64>, minimum = -500, maximum = 6000)]
    altitude_m: Option<Option<f64>>,
}

/// Change a kitchen
#[utoipa::path(patch, path = "/v1/sites/{id}", tag = "sites",
    request_body(content = SitePatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Changed", body = Site)))]
pub async fn update_site(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<SitePatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateSite {
        id,
        expected_version,
        branch: body.branch_id,
        name: body.name.clone(),
        place: body.place.clone(),
        time_zone: body.time_zone.clone(),
        external_id: body.external_id.clone(),
        altitude_m: body.altitude_m,
    };
    carry_out(&state, &caller, key, &request, use_case, |site| {
        let version = site.version;
        Ok(Answer::json(StatusCode::OK, &Site::from(site))?.versioned(version))
    })
    .await
}
