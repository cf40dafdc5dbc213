//! Repair or replace, in words.

use std::collections::BTreeMap;

use application::Refusal;
use application::appliance::{ApplianceCosts, UpdateAppliance};
use application::work_order::Money;
use domain::id::ApplianceId;
use domain::money::{Amount, Currency};
use domain::replacement::Advice;

use crate::fields::Fields;
use crate::parts::against::figure;
use crate::parts::moves::{Input, Move};

/// What the machine's parts and visits came to, by year.
pub(super) struct Costs {
    pub sentence: String,
    pub years: Vec<YearRow>,
}

pub(super) struct YearRow {
    pub year: i32,
    pub orders: i64,
    pub hours: String,
    pub parts: i64,
    pub amounts: String,
}

impl Costs {
    pub fn of(costs: &ApplianceCosts) -> Self {
        let years = costs.cost.years.iter().rev().map(|(year, of)| YearRow {
            year: *year,
            orders: of.orders,
            hours: figure(of.hours),
            parts: of.parts,
            amounts: amounts(&of.amounts),
        });
        Self { sentence: sentence(costs), years: years.collect() }
    }
}

fn sentence(costs: &ApplianceCosts) -> String {
    let mut variables = vec![("spent", amounts(&costs.cost.last_year).into())];
    let Some(price) = costs.appliance.replacement_price else {
        return wording::say_with("costs-no-price", &variables);
    };
    variables.push(("price", money(price.amount, price.currency).into()));
    let Some((share, advice)) = costs.beside_new else {
        return wording::say_with("costs-other-currency", &variables);
    };
    variables.push(("share", format!("{:.0}", 100.0 * share).into()));
    match advice {
        Advice::Repair => wording::say_with("costs-repair", &variables),
        Advice::LookCloser => wording::say_with("costs-look-closer", &variables),
        Advice::Replace => wording::say_with("costs-replace", &variables),
    }
}

fn money(amount: Amount, currency: Currency) -> String {
    format!("{} {currency}", wording::decimal(amount.to_string()))
}

fn amounts(of: &BTreeMap<Currency, Amount>) -> String {
    if of.is_empty() {
        return wording::say("costs-nothing");
    }
    of.iter().map(|(currency, amount)| money(*amount, *currency)).collect::<Vec<_>>().join(", ")
}

/// Asks what a new machine costs, in the currency in which its parts were paid.
pub(super) fn form(costs: &ApplianceCosts) -> Move {
    let line = |name: &str, label: &str, value: Option<String>| Input::Line {
        name: name.to_owned(),
        label: wording::say(label),
        value: value.unwrap_or_default(),
        is_needed: false,
    };
    let machine = &costs.appliance;
    let amount = machine.replacement_price.map(|price| wording::decimal(price.amount.to_string()));
    let paid_in = costs.cost.years.values().rev().find_map(|year| year.amounts.keys().next());
    let currency = machine.replacement_price.map(|price| price.currency).or(paid_in.copied());
    Move::new("price", format!("/machines/{}/replacement-price", machine.id), wording::say("costs-tell"))
        .with("version", machine.version)
        .asking(line("amount", "costs-price", amount))
        .asking(line("currency", "costs-currency", currency.map(|currency| currency.to_string())))
}

/// What the form says.
pub(super) fn told(machine: ApplianceId, fields: &Fields) -> Result<UpdateAppliance, Refusal> {
    let fault = |key: &str, at: &str| Refusal::invalid(at, wording::say(key));
    let expected_version = fields.parse("version").and_then(Result::ok);
    let expected_version = expected_version.ok_or_else(|| fault("fault-field-needed", "/version"))?;
    let price = match fields.get("amount").map(|text| text.replace(',', ".").parse::<Amount>()) {
        Some(Ok(amount)) if amount > Amount::ZERO => {
            let currency = Currency::try_from(fields.get("currency").unwrap_or_default().to_uppercase());
            let currency = currency.map_err(|_| fault("costs-fault-currency", "/currency"))?;
            Some(Money { amount, currency })
        }
        Some(_) => return Err(fault("costs-fault-amount", "/amount")),
        None => None,
    };
    Ok(UpdateAppliance { replacement_price: Some(price), ..UpdateAppliance::of(machine, expected_version) })
}
