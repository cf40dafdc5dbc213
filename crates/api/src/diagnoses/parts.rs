//! A part that can be ordered, as a diagnosis names it.

use application::part::FittingPart;
use domain::id::PartId;
use domain::text::Name;
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::ToSchema;

use crate::schema;

/// A part that fits where it is needed.
#[derive(Serialize, ToSchema)]
pub struct PartThatFits {
    #[schema(value_type = schema::Id)]
    id: PartId,
    #[schema(value_type = schema::Name)]
    number: Name,
    #[schema(value_type = schema::Name)]
    title: Name,
    #[schema(value_type = schema::Amount)]
    unit_price: Decimal,
    #[schema(value_type = schema::Currency)]
    currency: String,
}

impl From<&FittingPart> for PartThatFits {
    fn from(part: &FittingPart) -> Self {
        Self {
            id: part.id,
            number: part.number.clone(),
            title: part.title.clone(),
            unit_price: part.unit_price,
            currency: part.currency.clone(),
        }
    }
}
