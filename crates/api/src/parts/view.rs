use domain::id::PartId;
use domain::text::{Key, Name};
use domain::time::Timestamp;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::schema;

/// A place where a part fits.
#[derive(Clone, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartFit {
    #[schema(value_type = schema::Key)]
    model_key: Key,
    #[schema(value_type = schema::Key)]
    position: Key,
}

impl From<PartFit> for application::part::Fit {
    fn from(fit: PartFit) -> Self {
        Self { model_key: fit.model_key, position: fit.position }
    }
}

/// Something that can be ordered and fitted.
#[derive(Serialize, ToSchema)]
pub struct Part {
    #[schema(value_type = schema::Id)]
    id: PartId,
    /// The version to name in If-Match.
    #[schema(minimum = 1)]
    version: i64,
    /// The company's own number.
    #[schema(value_type = schema::Name)]
    number: Name,
    #[schema(value_type = schema::Name)]
    title: Name,
    #[schema(value_type = schema::Amount)]
    unit_price: Decimal,
    #[schema(value_type = schema::Currency)]
    currency: String,
    #[schema(max_items = 500)]
    fits: Vec<PartFit>,
    #[schema(value_type = schema::Instant)]
    created_at: Timestamp,
}

impl From<application::part::Part> for Part {
    fn from(part: application::part::Part) -> Self {
        let fits = part.fits.into_iter();
        Self {
            id: part.id,
            version: part.version,
            number: part.number,
            title: part.title,
            unit_price: part.unit_price,
            currency: part.currency,
            fits: fits.map(|fit| PartFit { model_key: fit.model_key, position: fit.position }).collect(),
            created_at: part.created_at,
        }
    }
}
