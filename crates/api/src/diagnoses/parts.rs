//! Which parts that can be ordered are meant by the names that a catalogue of faults gives them.

use domain::diagnosis::Diagnosis;
use domain::id::PartId;
use domain::text::{Key, Name};
use rust_decimal::Decimal;
use serde::Serialize;
use store::part::FittingPart;
use utoipa::ToSchema;

use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;

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

pub async fn of_model(state: &ApiState, model: &Key) -> Result<Vec<FittingPart>, Problem> {
    Ok(store::part::fitting(state.application.database(), model.as_str()).await?)
}

/// The parts that fit the position of this name; where there is none, those that fit where a fault needs it.
pub fn that_fit(fitting: &[FittingPart], diagnosis: &Diagnosis, needed: &Key) -> Vec<PartThatFits> {
    let by_name = fitting.iter().any(|part| part.position == *needed);
    let needing = |position: &Key| {
        let mut needing = diagnosis.faults.iter().filter(|fault| fault.parts.contains(needed));
        needing.any(|fault| fault.position.key() == position.as_str())
    };
    let is_meant = |part: &&FittingPart| {
        if by_name { part.position == *needed } else { needing(&part.position) }
    };
    fitting
        .iter()
        .filter(is_meant)
        .map(|part| PartThatFits {
            id: part.id,
            number: part.number.clone(),
            title: part.title.clone(),
            unit_price: part.unit_price,
            currency: part.currency.clone(),
        })
        .collect()
}
