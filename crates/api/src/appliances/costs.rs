use std::collections::BTreeMap;

use application::appliance::{ApplianceCosts as Costs, GetApplianceCosts};
use axum::extract::State;
use axum::response::Response;
use domain::id::ApplianceId;
use domain::money::{Amount, Currency};
use domain::replacement::Advice;
use domain::time::Timestamp;
use serde::Serialize;
use utoipa::ToSchema;

use crate::answer;
use crate::extract::Path;
use crate::guard::Authenticated;
use crate::problem::Problem;
use crate::schema;
use crate::state::ApiState;
use crate::work_orders::Money;

/// What a machine cost by year, beside what a new one costs. Parts that a warranty pays are not in it.
#[derive(Serialize, ToSchema)]
pub struct ApplianceCosts {
    #[schema(value_type = schema::Instant)]
    as_of: Timestamp,
    /// What a new machine in its place would cost; null where nobody has said.
    #[schema(required)]
    replacement_price: Option<Money>,
    /// Parts fitted in the twelve months before, by currency; never added over currencies.
    #[schema(max_items = 200)]
    last_twelve_months: Vec<Money>,
    /// Of the price, what those parts came to; null without a price, and where some were paid in another currency than it.
    #[schema(required, minimum = 0)]
    share_of_new: Option<f64>,
    /// `repair`: less than a quarter of a new one; `look_closer`: up to half; `replace`: more (common practice, no source; work
    /// is not in it). Null where the share is.
    #[schema(required, value_type = Option<schema::Key>)]
    advice: Option<Advice>,
    /// The newest first, in the kitchen's time zone.
    #[schema(max_items = 300)]
    years: Vec<YearOfAppliance>,
}

/// One year of a machine.
#[derive(Serialize, ToSchema)]
pub struct YearOfAppliance {
    #[schema(minimum = 1900, maximum = 2200)]
    year: i32,
    /// Orders on which somebody was there.
    #[schema(minimum = 0)]
    orders: i64,
    /// On site, all visits that ended together.
    #[schema(minimum = 0)]
    hours_on_site: f64,
    /// Lines of parts fitted.
    #[schema(minimum = 0)]
    part_lines: i64,
    /// What those cost, by currency.
    #[schema(max_items = 200)]
    parts: Vec<Money>,
}

impl From<Costs> for ApplianceCosts {
    fn from(costs: Costs) -> Self {
        let years = costs.cost.years.into_iter().rev().map(|(year, of)| YearOfAppliance {
            year,
            orders: of.orders,
            hours_on_site: of.hours,
            part_lines: of.parts,
            parts: by_currency(of.amounts),
        });
        let (share, advice) = costs.beside_new.unzip();
        Self {
            as_of: costs.as_of,
            replacement_price: costs.appliance.replacement_price.map(Into::into),
            last_twelve_months: by_currency(costs.cost.last_year),
            share_of_new: share,
            advice,
            years: years.collect(),
        }
    }
}

fn by_currency(amounts: BTreeMap<Currency, Amount>) -> Vec<Money> {
    amounts.into_iter().map(|(currency, amount)| Money { amount, currency }).collect()
}

/// Repair or replace?
#[utoipa::path(get, path = "/v1/appliances/{id}/costs", tag = "appliances", params(("id" = schema::Id, Path)),
    responses((status = 200, description = "By year, beside the price of a new one", body = ApplianceCosts)))]
pub async fn get_appliance_costs(
    State(state): State<ApiState>,
    Authenticated(caller): Authenticated,
    Path(id): Path<ApplianceId>,
) -> Result<Response, Problem> {
    answer::json(&ApplianceCosts::from(state.application.ask(&caller, GetApplianceCosts(id)).await?))
}
