use domain::id::PartId;
use domain::text::Name;
use rust_decimal::Decimal;
use store::part::{self, Fit, Part};
use store::{Change, UnitOfWork};

use super::fits;
use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a part. Lines that were written keep the price that they were written with.
pub struct UpdatePart {
    pub id: PartId,
    pub expected_version: i64,
    pub title: Option<Name>,
    pub unit_price: Option<Decimal>,
    pub currency: Option<String>,
    pub fits: Option<Vec<Fit>>,
}

impl UseCase for UpdatePart {
    const NAME: &'static str = "update_part";
    type Outcome = Part;

    async fn carry_out(self, unit: &mut UnitOfWork, _: &Caller) -> Result<Part, Refusal> {
        let missing = Refusal::NotFound { what: "part" };
        let mut part = part::get(unit, self.id).await?.ok_or(missing)?;
        let mut changed = Vec::new();
        if let Some(title) = self.title {
            part.title = title;
            changed.push("title");
        }
        if let Some(unit_price) = self.unit_price {
            part.unit_price = unit_price;
            changed.push("unit_price");
        }
        if let Some(currency) = self.currency {
            part.currency = currency;
            changed.push("currency");
        }
        if let Some(fits) = self.fits {
            fits::check(unit, &fits).await?;
            part.fits = fits;
            changed.push("fits");
        }
        if !part::update(unit, &part, self.expected_version).await? {
            return Err(Refusal::Stale { what: "part", current: part.version });
        }
        unit.record(Change::of("part.changed", self.id).fields(changed));
        part.version = self.expected_version + 1;
        Ok(part)
    }
}
