use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{FindingId, PartId, PartLineId, WorkOrderId};
use domain::money::{Amount, Currency};
use domain::text::{Key, Name, Words};
use domain::time::Timestamp;
use domain::work::{PartLineState, Payer};
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A part that an order needs, and how far it has come.
#[derive(Serialize, ToSchema)]
pub struct PartLine {
    #[schema(value_type = schema::Id)]
    id: PartLineId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    #[schema(value_type = schema::Id)]
    work_order_id: WorkOrderId,
    #[schema(value_type = Option<schema::Id>, required)]
    finding_id: Option<FindingId>,
    #[schema(value_type = schema::Id)]
    part_id: PartId,
    #[schema(value_type = schema::Name)]
    part_number: Name,
    #[schema(value_type = Option<schema::Key>, required)]
    position: Option<Key>,
    #[schema(minimum = 1)]
    quantity: u32,
    #[schema(value_type = schema::PartLineStateWord)]
    state: PartLineState,
    #[schema(value_type = schema::PayerWord)]
    payer: Payer,
    #[schema(value_type = schema::Amount)]
    unit_price: Amount,
    #[schema(value_type = schema::Currency)]
    currency: Currency,
    #[schema(value_type = Option<schema::Day>, required)]
    promised_on: Option<NaiveDate>,
    /// Every day that the supplier named, in the order in which he did.
    #[schema(max_items = 1000)]
    promises: Vec<Promise>,
    /// Days from the first day that was promised to the last; null where none was.
    #[schema(required)]
    slipped_days: Option<i64>,
    /// Why it is fitted where the catalogue does not list it.
    #[schema(value_type = Option<schema::Words>, required)]
    fit_override: Option<Words>,
    #[schema(value_type = Option<schema::Instant>, required)]
    fitted_at: Option<Timestamp>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

/// A day that a supplier named for a part.
#[derive(Serialize, ToSchema)]
pub struct Promise {
    #[schema(value_type = schema::Day)]
    promised_on: NaiveDate,
    /// When he named it.
    #[schema(value_type = schema::Instant)]
    noted_at: DateTime<Utc>,
}

impl From<application::part_line::PartLine> for PartLine {
    fn from(line: application::part_line::PartLine) -> Self {
        let (first, last) = (line.promises.first(), line.promises.last());
        let slipped = first.zip(last).map(|(first, last)| (last.promised_on - first.promised_on).num_days());
        let promises = line.promises.into_iter();
        Self {
            id: line.id,
            version: line.version,
            work_order_id: line.work_order,
            finding_id: line.finding,
            part_id: line.part,
            part_number: line.part_number,
            position: line.position,
            quantity: line.quantity,
            state: line.state,
            payer: line.payer,
            unit_price: line.unit_price,
            currency: line.currency,
            promised_on: line.promised_on,
            promises: promises
                .map(|promise| Promise { promised_on: promise.promised_on, noted_at: promise.noted_at })
                .collect(),
            slipped_days: slipped,
            fit_override: line.fit_override,
            fitted_at: line.fitted_at,
            created_at: line.created_at,
        }
    }
}
