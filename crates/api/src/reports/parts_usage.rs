mod chart;
mod table;

use application::parts_usage::{self, GetPartsUsage, UsageQuestion, UsageRow};
use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::id::{PartId, SiteId};
use domain::text::Name;
use domain::time::Timestamp;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::table::{Format, TableOrPicture};
use crate::extract::Query;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct PartsUsageQuery {
    /// In which days and months begin and end; each kitchen's own where none is given.
    #[param(value_type = Option<schema::TimeZone>, nullable = false)]
    time_zone: Option<Name>,
    /// First day of fitting.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    from: Option<NaiveDate>,
    /// Last day of fitting.
    #[param(value_type = Option<schema::Day>, nullable = false)]
    to: Option<NaiveDate>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    part_id: Option<PartId>,
    #[param(value_type = Option<schema::Id>, nullable = false)]
    site_id: Option<SiteId>,
    /// By what the figures are told apart; by part, kitchen and month unless asked for otherwise.
    #[param(inline, nullable = false)]
    group_by: Option<UsageGrouping>,
    /// As it stood at this moment: what was fitted later is left out. Now, unless said.
    #[param(value_type = Option<schema::Instant>, nullable = false)]
    as_of: Option<Timestamp>,
    /// In which form, whatever the client accepts: for a link.
    #[param(inline, nullable = false)]
    format: Option<Format>,
}

/// By what usage is told apart.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum UsageGrouping {
    #[default]
    PartSiteMonth,
    PartSite,
    PartMonth,
    SiteMonth,
    Part,
    Site,
    Month,
}

impl UsageGrouping {
    fn tells_apart(self) -> (bool, bool, bool) {
        match self {
            Self::PartSiteMonth => (true, true, true),
            Self::PartSite => (true, true, false),
            Self::PartMonth => (true, false, true),
            Self::SiteMonth => (false, true, true),
            Self::Part => (true, false, false),
            Self::Site => (false, true, false),
            Self::Month => (false, false, true),
        }
    }
}

/// Parts fitted, in number and in money. Lines that were sent back are not in it.
#[derive(Serialize, ToSchema)]
pub struct PartsUsage {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// Null: each kitchen's own.
    #[schema(value_type = Option<schema::TimeZone>, required)]
    time_zone: Option<Name>,
    #[schema(value_type = Option<schema::Day>, required)]
    from: Option<NaiveDate>,
    #[schema(value_type = Option<schema::Day>, required)]
    to: Option<NaiveDate>,
    group_by: UsageGrouping,
    /// Lines behind all figures together.
    #[schema(minimum = 0)]
    n: i64,
    #[schema(max_items = 20_000)]
    items: Vec<PartsUsageItem>,
    left_out: PartsUsageLeftOut,
}

/// One group, in one currency.
#[derive(Serialize, ToSchema)]
pub struct PartsUsageItem {
    #[schema(value_type = Option<schema::Id>, required)]
    part_id: Option<PartId>,
    #[schema(required, max_length = 200)]
    part_number: Option<String>,
    #[schema(required, max_length = 200)]
    part_title: Option<String>,
    #[schema(value_type = Option<schema::Id>, required)]
    site_id: Option<SiteId>,
    #[schema(required, max_length = 200)]
    site_name: Option<String>,
    /// Month of fitting.
    #[schema(value_type = Option<String>, required, max_length = 7, pattern = "^[0-9]{4}-[0-9]{2}$", example = "2026-03")]
    month: Option<UsageMonth>,
    #[schema(value_type = schema::Currency)]
    currency: String,
    /// Lines behind the figures.
    #[schema(minimum = 0)]
    n: i64,
    #[schema(minimum = 0)]
    quantity: i64,
    #[schema(value_type = schema::Amount)]
    amount: Decimal,
    paid_by_customer: UsageAmount,
    paid_by_contract: UsageAmount,
    paid_by_warranty: UsageAmount,
    paid_by_own_company: UsageAmount,
}

/// A month by its first day, told without it.
#[derive(Debug, Clone, Copy)]
struct UsageMonth(NaiveDate);

impl Serialize for UsageMonth {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0.format("%Y-%m"))
    }
}

/// Part of an amount.
#[derive(Serialize, ToSchema)]
#[serde(transparent)]
#[schema(value_type = schema::Amount)]
pub struct UsageAmount(Decimal);

/// Lines of the same parts and kitchens that are in no figure, whenever they were written.
#[derive(Serialize, ToSchema)]
pub struct PartsUsageLeftOut {
    #[schema(minimum = 0)]
    returned_unused: i64,
    #[schema(minimum = 0)]
    defective_returned: i64,
    #[schema(minimum = 0)]
    withdrawn: i64,
    #[schema(minimum = 0)]
    not_fitted: i64,
}

/// Report parts usage
///
/// JSON, or where the client accepts it CSV (RFC 4180), a workbook, or how many were fitted month by month as a picture
/// (image/svg+xml), where months are told apart. At most 20,000 figures; a report that would have more
/// is refused with how to ask for fewer.
#[utoipa::path(get, path = "/v1/reports/parts-usage", tag = "reports", params(PartsUsageQuery),
    responses(
        (status = 200, description = "The figures", content(
            (PartsUsage = "application/json"), (schema::PlainText = "text/csv"),
            (schema::File = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
            (schema::PlainText = "image/svg+xml"))),
        (status = 406, description = "None of the four is accepted", body = Problem, content_type = "application/problem+json"),
    ))]
pub async fn get_parts_usage(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    headers: HeaderMap,
    Query(query): Query<PartsUsageQuery>,
) -> Result<Response, Problem> {
    let format = Format::wanted_or_picture(&headers, query.format)?;
    if let (Some(from), Some(to)) = (query.from, query.to)
        && from > to
    {
        return Err(Problem::bad_parameter("to", "must not be earlier than from"));
    }
    let group_by = query.group_by.unwrap_or_default();
    let (by_part, by_site, by_month) = group_by.tells_apart();
    if format == TableOrPicture::Picture && !by_month {
        let detail = "a picture shows month by month: ask for one that tells months apart, such as month";
        return Err(Problem::bad_parameter("group_by", detail));
    }
    let question = UsageQuestion {
        time_zone: query.time_zone.clone(),
        from: query.from,
        to: query.to,
        part: query.part_id,
        site: query.site_id,
        as_of: query.as_of.unwrap_or(state.application.now()),
        by_part,
        by_site,
        by_month,
    };
    let as_of = question.as_of;
    let (rows, left_out) = match state.application.ask(&caller, GetPartsUsage(question)).await? {
        parts_usage::PartsUsage::Figures { rows, left_out } => (rows, left_out),
        parts_usage::PartsUsage::TooMany { most } => return Err(too_many(most)),
        parts_usage::PartsUsage::NoSuchTimeZone => {
            let detail = "is no zone of the IANA time zone database, such as Europe/Lisbon, or UTC";
            return Err(Problem::bad_parameter("time_zone", detail));
        }
    };
    let view = PartsUsage {
        as_of,
        time_zone: query.time_zone,
        from: query.from,
        to: query.to,
        group_by,
        n: rows.iter().map(|row| row.lines).sum(),
        items: rows.into_iter().map(PartsUsageItem::from).collect(),
        left_out: PartsUsageLeftOut {
            returned_unused: left_out.returned_unused,
            defective_returned: left_out.defective_returned,
            withdrawn: left_out.withdrawn,
            not_fitted: left_out.not_fitted,
        },
    };
    format.answer(&view, || table::of(&view), || Some(chart::of(&view)))
}

/// A report that was cut short would look whole.
fn too_many(most: u32) -> Problem {
    let detail = format!(
        "there are more than {most} figures: ask for fewer days with from and to, for one part_id or site_id, or \
         tell less apart, such as group_by=part_month"
    );
    Problem::bad_parameter("group_by", detail)
}

impl From<UsageRow> for PartsUsageItem {
    fn from(row: UsageRow) -> Self {
        let (part_id, part_number, part_title) = match row.part {
            Some((id, number, title)) => (Some(id), Some(number), Some(title)),
            None => (None, None, None),
        };
        let (site_id, site_name) = row.site.unzip();
        Self {
            part_id,
            part_number,
            part_title,
            site_id,
            site_name,
            month: row.month.map(UsageMonth),
            currency: row.currency,
            n: row.lines,
            quantity: row.quantity,
            amount: row.amount,
            paid_by_customer: UsageAmount(row.customer),
            paid_by_contract: UsageAmount(row.contract),
            paid_by_warranty: UsageAmount(row.warranty),
            paid_by_own_company: UsageAmount(row.own_company),
        }
    }
}
