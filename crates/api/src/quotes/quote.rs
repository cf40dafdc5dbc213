use application::quote::ListQuotes;
use application::quote::{CreateQuote, QuoteRequest};
use axum::extract::State;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::{PartLineId, PersonId, QuoteId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::Name;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::answer::{self, Answer, carry_out};
use crate::extract::{IdempotencyKey, Json, Path};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// Lines to quote, as they stand now.
#[derive(Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteCreate {
    #[schema(value_type = schema::Id)]
    id: QuoteId,
    #[schema(value_type = Vec<schema::Id>, min_items = 1, max_items = 200)]
    part_line_ids: Vec<PartLineId>,
    #[schema(value_type = Option<schema::Day>)]
    valid_until: Option<NaiveDate>,
}

/// What was offered. It never changes; another quote is made.
#[derive(Serialize, ToSchema)]
pub struct Quote {
    #[schema(value_type = schema::Id)]
    id: QuoteId,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    /// Counts the order's quotes.
    #[schema(minimum = 1)]
    number: i32,
    #[schema(max_items = 200)]
    lines: Vec<QuotedLine>,
    #[schema(value_type = schema::Amount)]
    total: Amount,
    #[schema(value_type = schema::Currency)]
    currency: Currency,
    #[schema(value_type = Option<schema::Day>, required)]
    valid_until: Option<NaiveDate>,
    #[schema(value_type = schema::Id)]
    made_by: PersonId,
    #[schema(value_type = schema::Instant)]
    made_at: Timestamp,
}

/// A line as it stood when it was quoted.
#[derive(Serialize, ToSchema)]
pub struct QuotedLine {
    #[schema(value_type = schema::Id)]
    part_line_id: PartLineId,
    #[schema(value_type = schema::Name)]
    part_number: Name,
    #[schema(minimum = 1)]
    quantity: u32,
    #[schema(value_type = schema::Amount)]
    unit_price: Amount,
}

/// The quotes of an order.
#[derive(Serialize, ToSchema)]
pub struct QuoteList {
    #[schema(max_items = 10_000)]
    items: Vec<Quote>,
}

/// Quote some lines of an order
#[utoipa::path(post, path = "/v1/work-orders/{id}/quotes", tag = "quotes", request_body = QuoteCreate,
    params(("id" = schema::Id, Path)),
    responses(
        (status = 201, description = "Quoted", body = Quote),
        (status = 200, description = "Was quoted already", body = Quote),
    ))]
pub async fn create_quote(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(work_order): Path<WorkOrderId>,
    IdempotencyKey(key): IdempotencyKey,
    Json(body): Json<QuoteCreate>,
) -> Result<Response, Problem> {
    let request = (work_order, &body);
    let quote = QuoteRequest {
        id: body.id,
        work_order,
        part_lines: body.part_line_ids.clone(),
        valid_until: body.valid_until,
    };
    carry_out(&state, &caller, key, &request, CreateQuote(quote), |created| {
        let location = format!("/v1/work-orders/{}/quotes", created.item.work_order);
        Answer::created(created.is_new, location, 1, &Quote::from(created.item))
    })
    .await
}

/// List an order's quotes
#[utoipa::path(get, path = "/v1/work-orders/{id}/quotes", tag = "quotes", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "All of them", body = QuoteList)))]
pub async fn list_quotes(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<WorkOrderId>,
) -> Result<Response, Problem> {
    let quotes = state.application.ask(&caller, ListQuotes(id)).await?;
    answer::json(&QuoteList { items: quotes.into_iter().map(Quote::from).collect() })
}

impl From<application::quote::Quote> for Quote {
    fn from(quote: application::quote::Quote) -> Self {
        let lines = quote.lines.into_iter().map(|line| QuotedLine {
            part_line_id: line.part_line,
            part_number: line.part_number,
            quantity: line.quantity,
            unit_price: line.unit_price,
        });
        Self {
            id: quote.id,
            work_order_id: quote.work_order,
            number: quote.number,
            lines: lines.collect(),
            total: quote.total,
            currency: quote.currency,
            valid_until: quote.valid_until,
            made_by: quote.made_by,
            made_at: quote.made_at,
        }
    }
}
