//! Which kitchens fail more often than the fleet and chance explain?

mod chains;
mod chart;
mod table;

use application::repeats::{
    FleetRepeats, GetRepeats, GetSiteRepeats, KitchenRepeats, LeftOut, StandsOut, Window,
};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::SiteId;
use domain::repeats::fleet::{self, Family};
use domain::repeats::listing::{LEAST_EXPECTED, MOST_FALSE};
use domain::repeats::prior;
use domain::repeats::trend::Laplace;
use domain::text::Name;
use domain::time::Timestamp;
use domain::vocabulary::Position;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::table::Format;
use crate::answer;
use crate::extract::{Path, Query};
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RepeatsWindow {
    /// First day, in UTC; a year before the last, unless said.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    from: Option<NaiveDate>,
    /// Last day; yesterday, unless it is earlier.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    to: Option<NaiveDate>,
}

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct RepeatsQuery {
    /// First day, in UTC; a year before the last, unless said.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    from: Option<NaiveDate>,
    /// Last day; yesterday, unless it is earlier.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    to: Option<NaiveDate>,
    /// What is compared: kitchens as a whole, unless said.
    #[param(inline, nullable = false)]
    by: Option<RepeatsFamily>,
    /// In which form, whatever the client accepts: for a link.
    #[param(inline, nullable = false)]
    format: Option<Format>,
}

/// What is compared with the fleet.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum RepeatsFamily {
    #[default]
    Kitchen,
    /// Each position of each kitchen.
    KitchenPosition,
}

/// The kitchens that fail more than twice as often as the fleet, as far as can be told.
///
/// A failure is a fault that a corrective order confirmed, once for each position; one that was not restored since
/// continues. Expected is what the other kitchens' rates give, model by model and position by position, in the time in which
/// the kitchen's own machines were watched and had not failed.
#[derive(Serialize, ToSchema)]
pub struct FleetRepeatsView {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = schema::Day)]
    from: NaiveDate,
    #[schema(value_type = schema::Day)]
    to: NaiveDate,
    by: RepeatsFamily,
    /// The surest first.
    #[schema(max_items = 100_000)]
    items: Vec<RepeatsItem>,
    rule: ListingRule,
    /// Kitchens, or positions of kitchens, that were compared.
    #[schema(minimum = 0)]
    cells: usize,
    /// Of them, those that expect enough to be listed.
    #[schema(minimum = 0)]
    considered: usize,
    /// Of those considered, the share whose rate is more than twice the fleet's; null with fewer than two.
    #[schema(required, minimum = 0, maximum = 1)]
    share_above_twice: Option<f64>,
    /// Failures behind all figures.
    #[schema(minimum = 0)]
    failures: usize,
    left_out: RepeatsLeftOut,
}

/// How the list is made.
#[derive(Serialize, ToSchema)]
pub struct ListingRule {
    /// Only what expects so many failures is considered, whatever it had.
    #[schema(minimum = 0)]
    least_expected: f64,
    /// Ranked by the probability of a rate above so many times the fleet's.
    #[schema(minimum = 0)]
    times_the_fleet: f64,
    /// The list ends where the mean probability that an entry is false would pass this.
    #[schema(minimum = 0, maximum = 1)]
    most_false: f64,
}

/// One that stands out.
#[derive(Serialize, ToSchema)]
pub struct RepeatsItem {
    #[schema(value_type = schema::Id)]
    site_id: SiteId,
    #[schema(value_type = schema::Name)]
    site_name: Name,
    #[schema(value_type = Option<schema::Name>, required)]
    customer_name: Option<Name>,
    /// Null where kitchens are compared as a whole.
    #[schema(value_type = Option<schema::Key>, required)]
    position: Option<Position>,
    against_fleet: AgainstFleet,
}

/// Failures beside those expected at the fleet's rate.
#[derive(Serialize, ToSchema)]
pub struct AgainstFleet {
    /// Failures seen.
    #[schema(minimum = 0)]
    n: u32,
    #[schema(minimum = 0)]
    expected: f64,
    /// Failures of models that no other kitchen has: in neither figure.
    #[schema(minimum = 0)]
    n_without_fleet: u32,
    says: AgainstChance,
    /// The probability of so many or more if no kitchen differed (exact, one-sided); null where nothing is expected.
    #[schema(required, minimum = 0, maximum = 1)]
    chance: Option<f64>,
    /// The smallest rate of false discoveries at which it would be one (Benjamini and Hochberg), against a fleet without
    /// differences; null where too little is expected.
    #[schema(required, minimum = 0, maximum = 1)]
    q: Option<f64>,
    /// The rate as a multiple of the fleet's, learned from all kitchens together; null where too little is expected.
    #[schema(required)]
    rate: Option<RateAgainstFleet>,
}

/// What a count says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AgainstChance {
    /// Fewer than one kitchen in a hundred would have so many by chance.
    Beyond,
    Within,
    /// Less than one failure was expected: hardly any count would show an excess.
    TooLittleToTell,
    /// No other kitchen has such machines.
    NoFleet,
}

/// A rate as a multiple of the fleet's.
#[derive(Serialize, ToSchema)]
pub struct RateAgainstFleet {
    #[schema(minimum = 0)]
    mean: f64,
    /// 5 % lie below.
    #[schema(minimum = 0)]
    lower: f64,
    /// 5 % lie above.
    #[schema(minimum = 0)]
    upper: f64,
    /// The probability that it is more than twice the fleet's.
    #[schema(minimum = 0, maximum = 1)]
    exceeds_twice: f64,
}

/// What is in no figure, and why.
#[derive(Serialize, ToSchema)]
pub struct RepeatsLeftOut {
    /// Of a fault that was not verifiably restored since it was last reported.
    #[schema(minimum = 0)]
    continued: u32,
    /// Of machines that stood elsewhere then, were not known yet or were taken out.
    #[schema(minimum = 0)]
    not_watched: u32,
}

/// A kitchen beside the others.
#[derive(Serialize, ToSchema)]
pub struct SiteRepeats {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    #[schema(value_type = schema::Day)]
    from: NaiveDate,
    #[schema(value_type = schema::Day)]
    to: NaiveDate,
    /// All its machines together; null where none was watched, or nothing ever failed on such machines.
    #[schema(required)]
    whole: Option<AgainstFleet>,
    /// Those with most failures first.
    #[schema(max_items = 1000)]
    by_position: Vec<PositionRepeats>,
    /// Whether failures come faster; null with fewer than four.
    #[schema(required)]
    trend: Option<FailureTrend>,
    /// What failed twice or more at one position of one machine, the longest first.
    #[schema(max_items = 10_000)]
    chains: Vec<chains::FailureChain>,
    /// Causes that were found here, the surest to stand out first.
    #[schema(max_items = 1000)]
    causes: Vec<chains::CauseBeside>,
}

/// One position of the kitchen's machines.
#[derive(Serialize, ToSchema)]
pub struct PositionRepeats {
    #[schema(value_type = schema::Key)]
    position: Position,
    against_fleet: AgainstFleet,
}

/// Laplace's test.
#[derive(Serialize, ToSchema)]
pub struct FailureTrend {
    #[schema(minimum = 4)]
    n: u32,
    /// Standard normal if the rate is constant; above zero it is getting worse.
    statistic: f64,
    /// Two-sided.
    #[schema(minimum = 0, maximum = 1)]
    p: f64,
}

/// Which kitchens stand out?
///
/// JSON, or where the client accepts it CSV (RFC 4180), a workbook, or the rates with their limits as a picture
/// (image/svg+xml).
#[utoipa::path(get, path = "/v1/reports/repeats", tag = "reports", params(RepeatsQuery),
    responses(
        (status = 200, description = "Those that stand out, with the rule", content(
            (FleetRepeatsView = "application/json"), (schema::PlainText = "text/csv"),
            (schema::File = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            (schema::PlainText = "image/svg+xml"))),
        (status = 406, description = "None of the four is accepted", body = Problem, content_type = "application/problem+json"),
    ))]
pub async fn get_repeats(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<RepeatsQuery>,
) -> Result<Response, Problem> {
    let format = Format::wanted_or_picture(&headers, query.format)?;
    let by = query.by.unwrap_or_default();
    let window = window(&state, query.from, query.to)?;
    let family = match by {
        RepeatsFamily::Kitchen => Family::Kitchen,
        RepeatsFamily::KitchenPosition => Family::KitchenPosition,
    };
    let repeats = state.application.ask(&caller, GetRepeats { window, family }).await?;
    let view = FleetRepeatsView::of(repeats, by);
    format.answer(&view, || table::of(&view), || chart::of(&view))
}

/// Is this kitchen worse than chance?
#[utoipa::path(get, path = "/v1/sites/{id}/repeats", tag = "reports",
    params(("id" = schema::Id, Path), RepeatsWindow),
    responses((status = 200, description = "Its failures beside those expected", body = SiteRepeats)))]
pub async fn get_site_repeats(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<SiteId>,
    Query(query): Query<RepeatsWindow>,
) -> Result<Response, Problem> {
    let window = window(&state, query.from, query.to)?;
    let repeats = state.application.ask(&caller, GetSiteRepeats { site: id, window }).await?;
    answer::json(&SiteRepeats::from(repeats))
}

fn window(state: &ApiState, from: Option<NaiveDate>, to: Option<NaiveDate>) -> Result<Window, Problem> {
    Window::of(from, to, state.application.now())
        .map_err(|fault| Problem::bad_parameter(fault.is_of(), fault.to_string()))
}

impl FleetRepeatsView {
    fn of(repeats: FleetRepeats, by: RepeatsFamily) -> Self {
        Self {
            as_of: repeats.as_of,
            from: repeats.window.first,
            to: repeats.window.last,
            by,
            items: repeats.listed.into_iter().map(Into::into).collect(),
            rule: ListingRule {
                least_expected: LEAST_EXPECTED,
                times_the_fleet: prior::TWICE,
                most_false: MOST_FALSE,
            },
            cells: repeats.cells,
            considered: repeats.considered,
            share_above_twice: repeats.share_above_twice,
            failures: repeats.failures,
            left_out: repeats.left_out.into(),
        }
    }
}

impl From<LeftOut> for RepeatsLeftOut {
    fn from(left_out: LeftOut) -> Self {
        Self { continued: left_out.continued, not_watched: left_out.not_watched }
    }
}

impl From<StandsOut> for RepeatsItem {
    fn from(item: StandsOut) -> Self {
        Self {
            site_id: item.site.id,
            site_name: item.site.name,
            customer_name: item.site.customer,
            position: item.position,
            against_fleet: item.standing.into(),
        }
    }
}

impl From<KitchenRepeats> for SiteRepeats {
    fn from(repeats: KitchenRepeats) -> Self {
        let by_position = repeats
            .positions
            .into_iter()
            .map(|(position, standing)| PositionRepeats { position, against_fleet: standing.into() });
        Self {
            as_of: repeats.as_of,
            from: repeats.window.first,
            to: repeats.window.last,
            whole: repeats.whole.map(Into::into),
            by_position: by_position.collect(),
            chains: repeats.chains.into_iter().map(Into::into).collect(),
            causes: repeats.causes.into_iter().map(Into::into).collect(),
            trend: repeats.trend.map(|Laplace { statistic, p, n }| FailureTrend { n, statistic, p }),
        }
    }
}

impl From<fleet::Standing> for AgainstFleet {
    fn from(standing: fleet::Standing) -> Self {
        Self {
            n: standing.cell.n,
            expected: standing.cell.expected,
            n_without_fleet: standing.cell.n_without_fleet,
            says: match standing.says {
                fleet::AgainstChance::Beyond => AgainstChance::Beyond,
                fleet::AgainstChance::Within => AgainstChance::Within,
                fleet::AgainstChance::TooLittleToTell => AgainstChance::TooLittleToTell,
                fleet::AgainstChance::NoFleet => AgainstChance::NoFleet,
            },
            chance: standing.tail,
            q: standing.q,
            rate: standing.assessment.map(|assessment| RateAgainstFleet {
                mean: assessment.mean,
                lower: assessment.lower,
                upper: assessment.upper,
                exceeds_twice: assessment.exceeds_twice,
            }),
        }
    }
}
