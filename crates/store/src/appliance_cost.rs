//! What a machine cost by year.

use std::collections::BTreeMap;

use domain::id::ApplianceId;
use domain::money::{Amount, Currency};
use domain::time::Timestamp;
use rust_decimal::Decimal;

use crate::error::stored;
use crate::{Database, StoreError};

/// One year of a machine, in the kitchen's time zone.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct YearOfMachine {
    /// Orders on which somebody was there.
    pub orders: i64,
    /// On site, all visits that ended together.
    pub hours: f64,
    /// Lines of parts fitted, without what a warranty pays.
    pub parts: i64,
    /// What those cost, by currency.
    pub amounts: BTreeMap<Currency, Amount>,
}

#[derive(Debug, Clone, Default)]
pub struct CostOfMachine {
    pub years: BTreeMap<i32, YearOfMachine>,
    /// Parts fitted in the twelve months before, without what a warranty pays.
    pub last_year: BTreeMap<Currency, Amount>,
}

/// What the machine cost up to `as_of`.
pub async fn of_appliance(
    database: &Database,
    id: ApplianceId,
    as_of: Timestamp,
) -> Result<CostOfMachine, StoreError> {
    let mut cost = CostOfMachine::default();
    let visits = sqlx::query!(
        r#"SELECT date_part('year', v.arrived_at AT TIME ZONE site.time_zone)::int AS "year!",
               count(DISTINCT o.id) AS "orders!",
               coalesce(sum(extract(epoch FROM v.left_at - v.arrived_at)), 0)::float8 / 3600 AS "hours!"
           FROM work_order o JOIN site ON site.id = o.site_id JOIN visit v ON v.work_order_id = o.id
           WHERE o.appliance_id = $1 AND v.arrived_at <= $2 GROUP BY 1"#,
        id.uuid(),
        as_of.instant()
    )
    .fetch_all(database.pool())
    .await?;
    for row in visits {
        let year = cost.years.entry(row.year).or_default();
        (year.orders, year.hours) = (row.orders, row.hours);
    }
    let parts = sqlx::query!(
        r#"SELECT date_part('year', l.fitted_at AT TIME ZONE site.time_zone)::int AS "year!", l.currency,
               count(*) AS "lines!", sum(l.quantity * l.unit_price) AS "amount!",
               coalesce(sum(l.quantity * l.unit_price) FILTER (WHERE l.fitted_at > $2::timestamptz - interval '1 year'), 0)
                   AS "last_year!"
           FROM work_order o JOIN site ON site.id = o.site_id JOIN part_line l ON l.work_order_id = o.id
           WHERE o.appliance_id = $1 AND l.state = 'fitted' AND l.payer <> 'warranty' AND l.fitted_at <= $2
           GROUP BY 1, 2"#,
        id.uuid(),
        as_of.instant()
    )
    .fetch_all(database.pool())
    .await?;
    for row in parts {
        let currency: Currency = stored(row.currency, "part_line", "currency", id)?;
        let amount = |sum: Decimal| stored::<Amount, _>(sum, "part_line", "unit_price", id);
        let year = cost.years.entry(row.year).or_default();
        year.parts += row.lines;
        year.amounts.insert(currency, amount(row.amount)?);
        if row.last_year > Decimal::ZERO {
            let sum = cost.last_year.entry(currency).or_insert(Amount::ZERO);
            *sum = amount(sum.decimal() + row.last_year)?;
        }
    }
    Ok(cost)
}
