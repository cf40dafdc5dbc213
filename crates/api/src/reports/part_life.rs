//! How long do parts live, and when is one replaced before it fails?

mod chart;
mod view;

use application::part_life::{self, ExchangeCosts, GetPartLife, GroupBy, WatchedDays};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::PartId;
use domain::text::Key;
use domain::vocabulary::Position;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::table::Format;
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use view::PartLifeView;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PartLifeQuery {
    /// Parts of this number; say it or position.
    #[param(value_type = Option<schema::Id>, nullable = false)]
    part_id: Option<PartId>,
    /// Parts in this position; say it or part_id.
    #[param(value_type = Option<schema::PositionWord>, nullable = false)]
    position: Option<Key>,
    /// In machines of this model alone.
    #[param(value_type = Option<schema::Key>, nullable = false)]
    model: Option<Key>,
    /// By what lives are told apart: by part, unless said.
    #[param(inline, nullable = false)]
    by: Option<PartLifeGrouping>,
    /// First day of watching, in UTC: a part that was fitted before is counted from its age then. Since anything is
    /// known, unless said.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    from: Option<NaiveDate>,
    /// Last day of watching; until now, unless said.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    to: Option<NaiveDate>,
    /// What an exchange on a planned visit costs in all. With unplanned_cost it is said when to replace before a failure.
    #[param(minimum = 0.01, maximum = 1_000_000_000, nullable = false)]
    planned_cost: Option<f64>,
    /// What a failure costs in all, in the same currency.
    #[param(minimum = 0.01, maximum = 1_000_000_000, nullable = false)]
    unplanned_cost: Option<f64>,
    /// In which form, whatever the client accepts: for a link.
    #[param(inline, nullable = false)]
    format: Option<Format>,
}

/// By what lives are told apart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PartLifeGrouping {
    Nothing,
    #[default]
    Part,
    Position,
    Model,
    /// How hard the water is that reaches the machine, as last read.
    Hardness,
}

/// Report the life of parts
///
/// JSON, or where the client accepts it CSV (RFC 4180), a workbook, or the curves as a picture (image/svg+xml).
#[utoipa::path(get, path = "/v1/reports/part-life", tag = "reports", params(PartLifeQuery),
    responses(
        (status = 200, description = "Lives by group", content(
            (PartLifeView = "application/json"), (schema::PlainText = "text/csv"),
            (schema::File = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            (schema::PlainText = "image/svg+xml"))),
        (status = 406, description = "None of the four is accepted", body = Problem, content_type = "application/problem+json"),
    ))]
pub async fn get_part_life(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<PartLifeQuery>,
) -> Result<Response, Problem> {
    let format = Format::wanted_or_picture(&headers, query.format)?;
    let days = WatchedDays::of(query.from, query.to, state.application.now())
        .map_err(|fault| Problem::bad_parameter(fault.is_of(), fault.to_string()))?;
    if let Some(position) = &query.position {
        position
            .as_str()
            .parse::<Position>()
            .map_err(|unknown| Problem::bad_parameter("position", unknown.to_string()))?;
    }
    let by = query.by.unwrap_or_default();
    let question = GetPartLife {
        part: query.part_id,
        position: query.position.clone(),
        model: query.model.clone(),
        by: match by {
            PartLifeGrouping::Nothing => GroupBy::Nothing,
            PartLifeGrouping::Part => GroupBy::Part,
            PartLifeGrouping::Position => GroupBy::Position,
            PartLifeGrouping::Model => GroupBy::Model,
            PartLifeGrouping::Hardness => GroupBy::Hardness,
        },
        days,
        costs: costs(&query)?,
    };
    let lives = match state.application.ask(&caller, question).await? {
        part_life::PartLife::Lives(lives) => lives,
        part_life::PartLife::OfWhat => {
            let detail = "say which parts: a position such as fill_valve, or a part_id, or both";
            return Err(Problem::bad_parameter("position", detail));
        }
        part_life::PartLife::TooMany { most } => {
            let detail = format!("there are more than {most} lives: name a model, or a part_id");
            return Err(Problem::bad_parameter("model", detail));
        }
    };
    let view = PartLifeView::of(&lives, by);
    format.answer(&view, || view::table(&view), || Some(chart::of(&lives)))
}

/// Both or neither, each above zero.
fn costs(query: &PartLifeQuery) -> Result<Option<ExchangeCosts>, Problem> {
    let (planned, unplanned) = match (query.planned_cost, query.unplanned_cost) {
        (None, None) => return Ok(None),
        (Some(planned), Some(unplanned)) => (planned, unplanned),
        (None, Some(_)) => {
            return Err(Problem::bad_parameter("planned_cost", "belongs to unplanned_cost: say both"));
        }
        (Some(_), None) => {
            return Err(Problem::bad_parameter("unplanned_cost", "belongs to planned_cost: say both"));
        }
    };
    for (name, cost) in [("planned_cost", planned), ("unplanned_cost", unplanned)] {
        if !(0.01..=1e9).contains(&cost) {
            return Err(Problem::bad_parameter(name, "must be from 0.01 to 1,000,000,000"));
        }
    }
    Ok(Some(ExchangeCosts { planned, unplanned }))
}
