//! Repair or replace: what a machine cost, beside what a new one costs.

use domain::id::ApplianceId;
use domain::replacement::{Advice, advise, share_of_new};
use domain::time::Timestamp;
use rust_decimal::prelude::ToPrimitive;
use store::appliance::Appliance;
use store::appliance_cost::{self, CostOfMachine};

use super::require_shown;
use crate::{Application, Caller, Question, Refusal};

/// What a machine cost by year.
#[derive(Debug, Clone, Copy)]
pub struct GetApplianceCosts(pub ApplianceId);

#[derive(Debug)]
pub struct ApplianceCosts {
    pub as_of: Timestamp,
    /// With the price of a new one, if somebody said it.
    pub appliance: Appliance,
    pub cost: CostOfMachine,
    /// What was spent on parts in twelve months as a share of a new one, and what that says. None where nobody has said what a
    /// new one costs, or where parts were paid in another currency than that.
    pub beside_new: Option<(f64, Advice)>,
}

impl Question for GetApplianceCosts {
    const NAME: &'static str = "get_appliance_costs";
    type Answer = ApplianceCosts;

    async fn answer(self, application: &Application, caller: &Caller) -> Result<ApplianceCosts, Refusal> {
        let as_of = application.now();
        let appliance = require_shown(application, caller, self.0).await?;
        let cost = appliance_cost::of_appliance(application.database(), self.0, as_of).await?;
        let share = appliance
            .replacement_price
            .and_then(|price| share_of_new(&cost.last_year, price.amount, price.currency));
        let beside_new = share.and_then(|share| Some((share.to_f64()?, advise(share))));
        Ok(ApplianceCosts { as_of, appliance, cost, beside_new })
    }
}
