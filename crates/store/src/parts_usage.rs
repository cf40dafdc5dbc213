//! Parts fitted, by part, kitchen and month of fitting: one statement for every grouping, planned for each: orders and kitchens
//! are not looked at where nobody asks for them. In a time zone of the caller's own a day may be up to two away from the
//! kitchen's.

use chrono::NaiveDate;
use domain::id::{PartId, SiteId};
use domain::text::Name;
use domain::time::Timestamp;
use rust_decimal::Decimal;

use crate::error::stored_option;
use crate::{Database, StoreError};

/// Which lines are counted, and by what they are told apart.
#[derive(Debug, Clone)]
pub struct UsageQuestion {
    /// In which days and months begin and end: one for all, or each kitchen's own.
    pub time_zone: Option<Name>,
    /// Days of fitting, both included.
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    pub part: Option<PartId>,
    pub site: Option<SiteId>,
    pub as_of: Timestamp,
    pub by_part: bool,
    pub by_site: bool,
    pub by_month: bool,
}

/// What was fitted in one group, in one currency.
#[derive(Debug, Clone)]
pub struct UsageRow {
    pub part: Option<(PartId, String, String)>,
    pub site: Option<(SiteId, String)>,
    /// First day of the month.
    pub month: Option<NaiveDate>,
    pub currency: String,
    pub lines: i64,
    pub quantity: i64,
    pub amount: Decimal,
    pub customer: Decimal,
    pub contract: Decimal,
    pub warranty: Decimal,
    pub own_company: Decimal,
}

/// Lines of the same question that are not counted, and why.
#[derive(Debug, Clone, Copy, Default)]
pub struct UsageLeftOut {
    /// Ordered and sent back without being fitted.
    pub returned_unused: i64,
    /// Fitted, found defective and sent back.
    pub defective_returned: i64,
    /// Not fitted yet.
    pub not_fitted: i64,
    pub withdrawn: i64,
}

/// More groups than this nobody reads, and no answer has room for.
pub const MOST_GROUPS: u32 = 20_000;

/// The first [`MOST_GROUPS`] groups, and one more if there are more.
pub async fn usage(database: &Database, question: &UsageQuestion) -> Result<Vec<UsageRow>, StoreError> {
    let rows = sqlx::query!(
        r#"SELECT CASE WHEN $6 THEN part.id END AS part_id, CASE WHEN $6 THEN part.number END AS part_number,
               CASE WHEN $6 THEN part.title END AS part_title,
               CASE WHEN $7 THEN site.id END AS site_id, CASE WHEN $7 THEN site.name END AS site_name,
               CASE WHEN $8 THEN date_trunc('month', (CASE WHEN $9::text IS NULL THEN line.fitted_on
                   ELSE (line.fitted_at AT TIME ZONE $9)::date END)::timestamp)::date END AS month,
               line.currency, count(*) AS "lines!", sum(line.quantity) AS "quantity!",
               sum(line.quantity * line.unit_price) AS "amount!",
               coalesce(sum(line.quantity * line.unit_price) FILTER (WHERE payer = 'customer'), 0) AS "customer!",
               coalesce(sum(line.quantity * line.unit_price) FILTER (WHERE payer = 'contract'), 0) AS "contract!",
               coalesce(sum(line.quantity * line.unit_price) FILTER (WHERE payer = 'warranty'), 0) AS "warranty!",
               coalesce(sum(line.quantity * line.unit_price) FILTER (WHERE payer = 'own_company'), 0)
                   AS "own_company!"
           FROM part_line line JOIN part ON part.id = line.part_id
               LEFT JOIN work_order ON work_order.id = line.work_order_id LEFT JOIN site ON site.id = work_order.site_id
           WHERE line.state = 'fitted' AND line.fitted_at <= $5
               AND ($1::date IS NULL OR line.fitted_on >= $1::date - CASE WHEN $9::text IS NULL THEN 0 ELSE 2 END)
               AND ($2::date IS NULL OR line.fitted_on <= $2::date + CASE WHEN $9::text IS NULL THEN 0 ELSE 2 END)
               AND ($1::date IS NULL OR $9::text IS NULL OR (line.fitted_at AT TIME ZONE $9)::date >= $1)
               AND ($2::date IS NULL OR $9::text IS NULL OR (line.fitted_at AT TIME ZONE $9)::date <= $2)
               AND ($3::uuid IS NULL OR part.id = $3) AND ($4::uuid IS NULL OR site.id = $4)
           GROUP BY 1, 2, 3, 4, 5, 6, line.currency
           ORDER BY month NULLS FIRST, site_name NULLS FIRST, site_id, part_number NULLS FIRST, line.currency
           LIMIT $10"#,
        question.from,
        question.to,
        question.part.map(PartId::uuid),
        question.site.map(SiteId::uuid),
        question.as_of.instant(),
        question.by_part,
        question.by_site,
        question.by_month,
        question.time_zone.as_ref().map(Name::as_str),
        i64::from(MOST_GROUPS) + 1,
    )
    .fetch_all(database.planned_for_each_use())
    .await?;
    rows.into_iter()
        .map(|row| {
            let part: Option<PartId> =
                stored_option(row.part_id, "part", "id", row.part_id.unwrap_or_default())?;
            let site: Option<SiteId> =
                stored_option(row.site_id, "site", "id", row.site_id.unwrap_or_default())?;
            Ok(UsageRow {
                part: part
                    .map(|id| (id, row.part_number.unwrap_or_default(), row.part_title.unwrap_or_default())),
                site: site.map(|id| (id, row.site_name.unwrap_or_default())),
                month: row.month,
                currency: row.currency,
                lines: row.lines,
                quantity: row.quantity,
                amount: to_cents(row.amount),
                customer: to_cents(row.customer),
                contract: to_cents(row.contract),
                warranty: to_cents(row.warranty),
                own_company: to_cents(row.own_company),
            })
        })
        .collect()
}

/// With two decimals, nought included, which comes without any.
fn to_cents(mut amount: Decimal) -> Decimal {
    amount.rescale(2);
    amount
}

/// The lines of the question's part and kitchen that are not in its figures, whenever they were made.
pub async fn left_out(database: &Database, question: &UsageQuestion) -> Result<UsageLeftOut, StoreError> {
    sqlx::query_as!(
        UsageLeftOut,
        r#"SELECT count(*) FILTER (WHERE line.state = 'returned_unused') AS "returned_unused!",
               count(*) FILTER (WHERE line.state = 'defective_returned') AS "defective_returned!",
               count(*) FILTER (WHERE line.state = 'withdrawn') AS "withdrawn!",
               count(*) FILTER (WHERE line.state NOT IN ('returned_unused', 'defective_returned', 'withdrawn'))
                   AS "not_fitted!"
           FROM part_line line LEFT JOIN work_order ON work_order.id = line.work_order_id
           WHERE line.created_at <= $3 AND (line.state <> 'fitted' OR (line.state = 'fitted' AND line.fitted_at > $3))
               AND ($1::uuid IS NULL OR line.part_id = $1)
               AND ($2::uuid IS NULL OR work_order.site_id = $2)"#,
        question.part.map(PartId::uuid),
        question.site.map(SiteId::uuid),
        question.as_of.instant(),
    )
    .fetch_one(database.planned_for_each_use())
    .await
    .map_err(StoreError::from)
}
