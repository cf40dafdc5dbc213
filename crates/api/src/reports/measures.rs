//! How well do we do?

mod chart;
mod table;
mod view;

use application::measures::{FOLLOWED_DAYS, GetMeasures, Grouping, USUAL_DAYS};
use application::repeats::Window;
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::time::Timestamp;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::table::Format;
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct MeasuresQuery {
    /// First day, in UTC; a year before the last, unless said.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    from: Option<NaiveDate>,
    /// Last day; the last that is over, unless it is earlier.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    to: Option<NaiveDate>,
    /// As it was known at the end of the last day before this moment, as far as what happened has a time. Now, unless said.
    #[param(value_type = Option<schema::Instant>, nullable = false)]
    as_of: Option<Timestamp>,
    /// Within how many days something comes back: 7, 30 or 90; 30, unless said.
    #[param(nullable = false, minimum = 7, maximum = 90, example = 30)]
    days: Option<u16>,
    /// By what the measures are told apart; only all orders together, unless said.
    #[param(inline, nullable = false)]
    by: Option<MeasuresGrouping>,
    /// In which form, whatever the client accepts: for a link.
    #[param(inline, nullable = false)]
    format: Option<Format>,
}

/// By what measures are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeasuresGrouping {
    Branch,
    Model,
    Urgency,
    /// Months of UTC, as the days of the period are: none is longer or shorter by an hour.
    Month,
    /// Who was there, for managers and administrators. Who was at the first visit answers for it, and for how soon somebody
    /// came; for the rest, who was at the last. An order of two counts for both.
    Person,
    /// What was done to which position; only what may come back is told.
    Repair,
}

impl MeasuresGrouping {
    fn grouping(self) -> Grouping {
        match self {
            Self::Branch => Grouping::Branch,
            Self::Model => Grouping::Model,
            Self::Urgency => Grouping::Urgency,
            Self::Month => Grouping::Month,
            Self::Person => Grouping::Person,
            Self::Repair => Grouping::Repair,
        }
    }
}

/// How well do we do?
///
/// JSON, or where the client accepts it CSV (RFC 4180) or a workbook, a line for each measure and group; or the shares with
/// their limits as a picture (image/svg+xml).
#[utoipa::path(get, path = "/v1/reports/measures", tag = "reports", params(MeasuresQuery),
    responses(
        (status = 200, description = "Each measure with what it is made of", content(
            (view::MeasuresView = "application/json"), (schema::PlainText = "text/csv"),
            (schema::File = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            (schema::PlainText = "image/svg+xml"))),
        (status = 406, description = "None of the four is accepted", body = Problem, content_type = "application/problem+json"),
    ))]
pub async fn get_measures(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<MeasuresQuery>,
) -> Result<Response, Problem> {
    let format = Format::wanted_or_picture(&headers, query.format)?;
    let now = state.application.now();
    let as_of = query.as_of.unwrap_or(now);
    if as_of > now {
        return Err(Problem::bad_parameter("as_of", format!("must not be later than now, {now}")));
    }
    let days = query.days.unwrap_or(USUAL_DAYS);
    if !FOLLOWED_DAYS.contains(&days) {
        return Err(Problem::bad_parameter("days", "must be 7, 30 or 90"));
    }
    let window = Window::of(query.from, query.to, as_of)
        .map_err(|fault| Problem::bad_parameter(fault.is_of(), fault.to_string()))?;
    let question = GetMeasures { window, as_of, days, by: query.by.map(MeasuresGrouping::grouping) };
    let measures = state.application.ask(&caller, question).await?;
    let view = view::MeasuresView::of(measures, query.by);
    format.answer(&view, || table::of(&view), || chart::of(&view))
}
