use domain::id::PartLineId;
use domain::money::{Amount, Currency};
use domain::text::{Key, Words};
use domain::work::{PartLineState, Payer};
use store::UnitOfWork;
use store::part_line::{self, PartLine};

use super::fits::{require_fitting, require_right};
use crate::use_case::written;
use crate::work_order::hold;
use crate::{Caller, Refusal, UseCase};

/// Changes some fields of a part line. What was quoted is not changed: the line is withdrawn, or quoted anew.
pub struct UpdatePartLine {
    pub id: PartLineId,
    pub expected_version: i64,
    pub position: Option<Option<Key>>,
    pub quantity: Option<u32>,
    pub payer: Option<Payer>,
    pub unit_price: Option<Amount>,
    pub currency: Option<Currency>,
    /// A manager's word why it goes where the catalogue does not list it.
    pub fit_override: Option<Words>,
}

impl UseCase for UpdatePartLine {
    const NAME: &'static str = "update_part_line";
    type Outcome = PartLine;

    async fn carry_out(self, unit: &mut UnitOfWork, caller: &Caller) -> Result<PartLine, Refusal> {
        let missing = || Refusal::NotFound { what: "part line" };
        let order = part_line::order_of(unit, self.id).await?.ok_or_else(missing)?;
        let held = hold(unit, caller, order).await?;
        let mut line = part_line::get(unit, self.id).await?.ok_or_else(missing)?;
        if line.version != self.expected_version {
            return Err(Refusal::Stale { what: "part line", current: line.version });
        }
        held.require_open()?;
        let is_money = self.quantity.is_some() || self.unit_price.is_some() || self.currency.is_some();
        if is_money && line.state != PartLineState::Identified {
            let detail = format!(
                "the line is {}: quantity and price are settled; withdraw it and note a new one",
                line.state
            );
            return Err(Refusal::Conflict { detail });
        }
        let mut changed = Vec::new();
        if let Some(position) = self.position {
            line.position = position;
            changed.push("position");
        }
        if let Some(quantity) = self.quantity {
            line.quantity = quantity;
            changed.push("quantity");
        }
        if let Some(payer) = self.payer {
            line.payer = payer;
            changed.push("payer");
        }
        if let Some(unit_price) = self.unit_price {
            line.unit_price = unit_price;
            changed.push("unit_price");
        }
        if let Some(currency) = self.currency {
            line.currency = currency;
            changed.push("currency");
        }
        require_right(caller, self.fit_override.as_ref())?;
        if self.fit_override.is_some() {
            line.fit_override = self.fit_override;
            changed.push("fit_override");
        }
        if changed.contains(&"position") || changed.contains(&"fit_override") {
            let (position, word) = (line.position.as_ref(), line.fit_override.as_ref());
            require_fitting(unit, &held.order, line.part, position, word).await?;
        }
        if !part_line::update(unit, &line, self.expected_version).await? {
            return Err(Refusal::Stale { what: "part line", current: line.version });
        }
        unit.record(held.change("part_line.changed", self.id).fields(changed));
        written(part_line::get(unit, self.id).await?, "part line")
    }
}
