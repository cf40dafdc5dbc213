//! Repair or replace: what a machine cost in a year beside what a new one costs.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use crate::money::{Amount, Currency};
use crate::word_list;

word_list! {
    /// What a year's cost says beside the price of a new machine.
    pub enum Advice {
        /// Less than a quarter of a new one: keep repairing.
        Repair = "repair",
        /// From a quarter to half of a new one: look at what comes back before the next repair.
        LookCloser = "look_closer",
        /// More than half of a new one: talk about a new one.
        Replace = "replace",
    }
}

/// What was spent as a share of the price of a new machine, from 0 up. None where some of it was spent in another currency than
/// the price's (amounts of several currencies are never added), or where the price is nothing.
///
/// ```
/// use std::collections::BTreeMap;
/// use domain::money::{Amount, Currency};
/// use domain::replacement::share_of_new;
/// let amount = |text: &str| text.parse::<Amount>().unwrap();
/// let [euro, dollar] = ["EUR", "USD"].map(|code| Currency::try_from(code.to_owned()).unwrap());
/// let mut spent = BTreeMap::from([(euro, amount("1000.00"))]);
/// assert_eq!(share_of_new(&spent, amount("4000.00"), euro).unwrap().to_string(), "0.25");
/// spent.insert(dollar, amount("0.01"));
/// assert_eq!(share_of_new(&spent, amount("4000.00"), euro), None);
/// ```
pub fn share_of_new(
    spent: &BTreeMap<Currency, Amount>,
    price: Amount,
    currency: Currency,
) -> Option<Decimal> {
    if spent.iter().any(|(of, amount)| *of != currency && *amount > Amount::ZERO) {
        return None;
    }
    let spent = spent.get(&currency).copied().unwrap_or(Amount::ZERO);
    spent.decimal().checked_div(price.decimal())
}

/// What a year's share of the price of a new machine says. A quarter and a half are **common practice, no source**.
///
/// ```
/// use domain::replacement::{Advice, advise};
/// let of = |share: &str| advise(share.parse().unwrap());
/// assert_eq!([of("0.2499"), of("0.25")], [Advice::Repair, Advice::LookCloser]);
/// assert_eq!([of("0.5"), of("0.5001")], [Advice::LookCloser, Advice::Replace]);
/// ```
pub fn advise(share: Decimal) -> Advice {
    if share < Decimal::new(25, 2) {
        Advice::Repair
    } else if share <= Decimal::new(5, 1) {
        Advice::LookCloser
    } else {
        Advice::Replace
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_spent_is_no_share_of_a_price_and_no_price_has_no_share() {
        let euro = Currency::try_from("EUR".to_owned()).unwrap();
        let dollar = Currency::try_from("USD".to_owned()).unwrap();
        let price = "100.00".parse().unwrap();
        assert_eq!(share_of_new(&BTreeMap::new(), price, euro), Some(Decimal::ZERO));
        assert_eq!(share_of_new(&BTreeMap::from([(dollar, Amount::ZERO)]), price, euro), Some(Decimal::ZERO));
        assert_eq!(share_of_new(&BTreeMap::from([(euro, price)]), Amount::ZERO, euro), None);
    }
}
