use std::collections::BTreeMap;

use application::site::{GetStandingFacts, UpdateStandingFacts};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::id::SiteId;
use domain::standing_facts::{StandingFact, StandingFacts as Facts};
use domain::text::Words;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, IfMatch, Json, Path, present};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

macro_rules! facts {
    ($($(#[$doc:meta])* $field:ident: $fact:ident,)+) => {
        /// What holds of a kitchen whoever comes; null where nobody has told it.
        #[derive(Serialize, ToSchema)]
        pub struct StandingFacts {
            /// The kitchen's version, to name in If-Match.
            #[schema(minimum = 1)]
            version: i64,
            $($(#[$doc])* #[schema(value_type = Option<schema::Words>, required)] $field: Option<Words>,)+
        }

        impl StandingFacts {
            fn of(version: i64, mut facts: Facts) -> Self {
                Self { version, $($field: facts.remove(&StandingFact::$fact),)+ }
            }
        }

        /// What to change of it (RFC 7396): an absent field stays, null empties it.
        #[derive(Serialize, Deserialize, ToSchema)]
        #[serde(deny_unknown_fields)]
        pub struct StandingFactsPatch {
            $($(#[$doc])* #[serde(default, deserialize_with = "present")] #[schema(value_type = Option<schema::Words>)]
            $field: Option<Option<Words>>,)+
        }

        impl StandingFactsPatch {
            fn changes(&self) -> BTreeMap<StandingFact, Option<Words>> {
                let told = [$((StandingFact::$fact, self.$field.clone())),+];
                told.into_iter().filter_map(|(fact, words)| Some((fact, words?))).collect()
            }
        }
    };
}

facts! {
    /// Where to park and unload.
    parking: Parking,
    /// Who lets one in, and where the key is.
    getting_in: GettingIn,
    /// When the kitchen cannot be disturbed, or the machine cannot be spared.
    quiet_hours: QuietHours,
    /// Where electricity, water, gas and steam are shut off.
    shut_offs: ShutOffs,
    /// Who may sign for the work.
    who_signs: WhoSigns,
    other: Other,
}

/// Read what holds of a kitchen whoever comes
///
/// The version is the kitchen's.
#[utoipa::path(get, path = "/v1/sites/{id}/standing-facts", tag = "sites", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "What was told", body = StandingFacts)))]
pub async fn get_standing_facts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
) -> Result<Response, Problem> {
    let (facts, version) = state.application.ask(&caller, GetStandingFacts(id)).await?;
    answer::item(&StandingFacts::of(version, facts), version)
}

/// Tell what holds of a kitchen whoever comes
///
/// Whoever is sent there learns it first: a technician tells it too, of the kitchens of his orders.
#[utoipa::path(patch, path = "/v1/sites/{id}/standing-facts", tag = "sites",
    request_body(content = StandingFactsPatch, content_type = "application/merge-patch+json"),
    params(("id" = schema::Id, Path)),
    responses((status = 200, description = "Told", body = StandingFacts)))]
pub async fn update_standing_facts(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
    IfMatch(expected_version): IfMatch,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<StandingFactsPatch>,
) -> Result<Response, Problem> {
    let request = (id, expected_version, &body);
    let use_case = UpdateStandingFacts { id, expected_version, facts: body.changes() };
    carry_out(&state, &caller, key, &request, use_case, |site| {
        let version = site.version;
        Ok(Answer::json(StatusCode::OK, &StandingFacts::of(version, site.standing_facts))?.versioned(version))
    })
    .await
}
