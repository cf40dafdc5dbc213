use application::catalogue::{self, CreateTerm, ListTerms, TermList};
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use domain::text::{Key, Text};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// An entry of a list.
#[derive(Serialize, ToSchema)]
pub struct Term {
    #[schema(value_type = schema::Key)]
    key: String,
    #[schema(max_length = 500, required)]
    description: Option<String>,
    /// Comes with the service; the others are the company's own.
    built_in: bool,
}

impl From<catalogue::Term> for Term {
    fn from(term: catalogue::Term) -> Self {
        Self { key: term.key, description: term.description, built_in: term.built_in }
    }
}

/// One of the lists in which everybody speaks of a fault.
#[derive(Serialize, ToSchema)]
pub struct NamedList {
    #[schema(value_type = schema::Key)]
    list: &'static str,
    /// Whether the company may add entries of its own.
    may_be_extended: bool,
    #[schema(max_items = 10_000)]
    terms: Vec<Term>,
}

/// All lists.
#[derive(Serialize, ToSchema)]
pub struct TermLists {
    #[schema(max_items = 20)]
    items: Vec<NamedList>,
}

/// This operation takes no parameters.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NoQuery {}

/// List the terms: positions, symptoms, failure modes, mechanisms, causes, actions and what closed lists there are
#[utoipa::path(get, path = "/v1/terms", tag = "catalogue",
    responses((status = 200, description = "All lists with all entries", body = TermLists)))]
pub async fn list_terms(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Query(NoQuery {}): Query<NoQuery>,
) -> Result<Response, Problem> {
    let items = state.application.ask(&caller, ListTerms).await?.into_iter().map(|list| NamedList {
        list: list.name,
        may_be_extended: list.may_be_extended,
        terms: list.terms.into_iter().map(Term::from).collect(),
    });
    answer::hashed(&TermLists { items: items.collect() })
}

/// An entry of the company's own.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TermCreate {
    #[schema(value_type = schema::TermListWord)]
    list: TermList,
    #[schema(value_type = schema::Key)]
    key: Key,
    #[schema(value_type = String, min_length = 1, max_length = 500)]
    description: Text<1, 500>,
}

/// Take an entry into a list that may be extended
///
/// An entry stays: findings speak of it.
#[utoipa::path(post, path = "/v1/terms", tag = "catalogue", request_body = TermCreate,
    responses(
        (status = 201, description = "Taken in", body = Term),
        (status = 200, description = "Was there already", body = Term),
    ))]
pub async fn create_term(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<TermCreate>,
) -> Result<Response, Problem> {
    let use_case =
        CreateTerm { list: body.list, key: body.key.clone(), description: body.description.clone() };
    carry_out(&state, &caller, key, &body, use_case, |created| {
        let status = if created.is_new { StatusCode::CREATED } else { StatusCode::OK };
        Ok(Answer::json(status, &Term::from(created.item))?
            .with("location", "/v1/terms".to_owned())
            .versioned(1))
    })
    .await
}
