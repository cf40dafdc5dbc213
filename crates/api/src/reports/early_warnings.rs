//! Which machine is on its way to failing?

use application::drift::{EarlyWarnings, GetEarlyWarnings, READINGS_TO_A_FALSE_ALARM, Warning};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::id::{ApplianceId, SiteId};
use domain::text::{Key, Name};
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::table::{Cell, Format, Table};
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

/// The fleet's machines whose own readings have left their past since the last repair of the position.
#[derive(Serialize, ToSchema)]
pub struct EarlyWarningsView {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// Whose readings were looked at.
    #[schema(minimum = 0)]
    machines: i64,
    /// The latest alarm first.
    #[schema(max_items = 100_000)]
    items: Vec<EarlyWarning>,
    rule: WarningRule,
    left_out: WarningsLeftOut,
}

/// How a warning comes about, and how often one comes of nothing.
#[derive(Serialize, ToSchema)]
pub struct WarningRule {
    /// Weight of the newest score in the average.
    #[schema(minimum = 0, maximum = 1)]
    weight: f64,
    /// Half the width of the average's limits, in its own standard deviations.
    #[schema(minimum = 0)]
    width: f64,
    /// Half the shift that the sums are to find.
    #[schema(minimum = 0)]
    allowance: f64,
    /// A sum above it is an alarm.
    #[schema(minimum = 0)]
    decision: f64,
    /// Where nothing changes, one reading in so many rings the average or the sums.
    #[schema(minimum = 1)]
    readings_to_a_false_alarm: f64,
}

/// One measurement of one machine.
#[derive(Serialize, ToSchema)]
pub struct EarlyWarning {
    #[schema(value_type = schema::Id)]
    appliance_id: ApplianceId,
    #[schema(value_type = schema::Name)]
    position_label: Name,
    #[schema(value_type = schema::Key)]
    model: Key,
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    #[schema(value_type = schema::Name)]
    site_name: Name,
    #[schema(value_type = schema::Key)]
    procedure: Key,
    #[schema(value_type = schema::Key)]
    step: Key,
    /// What of a recorded series.
    #[schema(required, max_length = 64)]
    statistic: Option<&'static str>,
    #[schema(value_type = schema::Key)]
    position: Position,
    #[schema(max_length = 64)]
    quantity: &'static str,
    /// UCUM code.
    #[schema(max_length = 32)]
    unit: &'static str,
    /// The reading that rang first.
    #[schema(value_type = schema::Instant)]
    drifting_since: Timestamp,
    rises: bool,
    /// Readings since the last repair of the position.
    #[schema(minimum = 0)]
    n: u32,
    /// Their mean before the alarm.
    usual: f64,
    last: f64,
    #[schema(value_type = schema::Instant)]
    last_at: Timestamp,
    /// What is wrong most often at that position, by the model's newest catalogue; null where it names nothing.
    #[schema(value_type = Option<schema::Name>, required)]
    most_often: Option<Name>,
    /// How long a look takes; null where the procedure is not known any more.
    #[schema(required, minimum = 0)]
    minutes: Option<f64>,
    /// The newest order that is open on the machine; null without one.
    #[schema(required, minimum = 1)]
    open_order: Option<i64>,
}

/// What is not told.
#[derive(Serialize, ToSchema)]
pub struct WarningsLeftOut {
    /// Warnings whose position was mended since the last reading.
    #[schema(minimum = 0)]
    mended_since: usize,
    /// Whether there are more machines than are told.
    more_machines: bool,
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct EarlyWarningsQuery {
    /// In which form, whatever the client accepts: for a link.
    #[param(inline, nullable = false)]
    format: Option<Format>,
}

/// Report early warnings
///
/// JSON, or where the client accepts it CSV (RFC 4180) or a workbook.
#[utoipa::path(get, path = "/v1/reports/early-warnings", tag = "reports", params(EarlyWarningsQuery),
    responses(
        (status = 200, description = "The warnings, with their rule", content(
            (EarlyWarningsView = "application/json"), (schema::PlainText = "text/csv"),
            (schema::File = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"))),
        (status = 406, description = "None of the three is accepted", body = Problem, content_type = "application/problem+json"),
    ))]
pub async fn get_early_warnings(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<EarlyWarningsQuery>,
) -> Result<Response, Problem> {
    let format = Format::wanted(&headers, query.format)?;
    let warnings = state.application.ask(&caller, GetEarlyWarnings).await?;
    let view = EarlyWarningsView::from(warnings);
    format.answer(&view, || table(&view))
}

impl From<EarlyWarnings> for EarlyWarningsView {
    fn from(warnings: EarlyWarnings) -> Self {
        let rules = warnings.rules;
        Self {
            as_of: warnings.as_of,
            machines: warnings.machines,
            items: warnings.warnings.into_iter().map(EarlyWarning::from).collect(),
            rule: WarningRule {
                weight: rules.weight,
                width: rules.width,
                allowance: rules.allowance,
                decision: rules.decision,
                readings_to_a_false_alarm: READINGS_TO_A_FALSE_ALARM,
            },
            left_out: WarningsLeftOut { mended_since: warnings.mended, more_machines: warnings.is_cut },
        }
    }
}

impl From<Warning> for EarlyWarning {
    fn from(warning: Warning) -> Self {
        let Warning { machine, drift, often, minutes } = warning;
        Self {
            appliance_id: machine.appliance,
            position_label: machine.label,
            model: machine.model,
            site_id: machine.site,
            site_name: machine.site_name,
            procedure: drift.of.procedure,
            step: drift.of.step,
            statistic: drift.of.statistic.map(domain::equipment::SeriesStatistic::key),
            position: drift.position,
            quantity: drift.quantity.key(),
            unit: drift.quantity.canonical_unit(),
            drifting_since: drift.since,
            rises: drift.rises,
            n: drift.n,
            usual: drift.usual,
            last: drift.last,
            last_at: drift.last_at,
            most_often: often,
            minutes,
            open_order: machine.open_order,
        }
    }
}

fn table(view: &EarlyWarningsView) -> Table<'_> {
    let text = |text: &dyn ToString| Cell::Text(text.to_string());
    let row = move |item: &EarlyWarning| {
        vec![
            text(&item.drifting_since),
            text(&item.appliance_id),
            text(&item.position_label),
            text(&item.model),
            text(&item.site_name),
            text(&item.procedure),
            text(&item.step),
            text(&item.position.key()),
            text(&item.unit),
            Cell::Number(item.usual),
            Cell::Number(item.last),
            text(&item.last_at),
            Cell::Count(item.n.into()),
            item.open_order.map_or(Cell::Empty, |number| Cell::Count(number.unsigned_abs())),
        ]
    };
    Table {
        name: "early-warnings",
        header: vec![
            "drifting_since",
            "appliance_id",
            "position_label",
            "model",
            "site_name",
            "procedure",
            "step",
            "position",
            "unit",
            "usual",
            "last",
            "last_at",
            "n",
            "open_order",
        ],
        rows: Box::new(view.items.iter().map(row)),
    }
}
