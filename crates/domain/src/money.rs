//! Amounts of money: exact decimals with at most two places, and the currency that they are in.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

/// An amount from 0 to 9 999 999 999.99 with at most two decimals, kept and sent as a decimal text.
///
/// ```
/// use domain::money::Amount;
/// assert_eq!("148.5".parse::<Amount>().unwrap().to_string(), "148.50");
/// assert!("148.505".parse::<Amount>().is_err());
/// assert!("-1".parse::<Amount>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Amount(Decimal);

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("an amount is from 0.00 to 9999999999.99 with at most two decimals, such as 148.50")]
pub struct InvalidAmount;

impl Amount {
    pub const ZERO: Self = Self(Decimal::ZERO);

    pub fn new(amount: Decimal) -> Result<Self, InvalidAmount> {
        let mut scaled = amount;
        scaled.rescale(2);
        let is_whole = scaled == amount;
        let in_range = amount >= Decimal::ZERO && amount < Decimal::from(10_000_000_000_i64);
        if is_whole && in_range { Ok(Self(scaled)) } else { Err(InvalidAmount) }
    }

    pub fn decimal(self) -> Decimal {
        self.0
    }

    /// This many of it; an error past the largest amount.
    pub fn times(self, quantity: u32) -> Result<Self, InvalidAmount> {
        Self::new(self.0.checked_mul(Decimal::from(quantity)).ok_or(InvalidAmount)?)
    }

    /// The sum; an error past the largest amount.
    pub fn plus(self, other: Self) -> Result<Self, InvalidAmount> {
        Self::new(self.0.checked_add(other.0).ok_or(InvalidAmount)?)
    }
}

impl std::str::FromStr for Amount {
    type Err = InvalidAmount;

    fn from_str(text: &str) -> Result<Self, InvalidAmount> {
        Self::new(text.parse().map_err(|_| InvalidAmount)?)
    }
}

impl TryFrom<String> for Amount {
    type Error = InvalidAmount;

    fn try_from(text: String) -> Result<Self, InvalidAmount> {
        text.parse()
    }
}

impl TryFrom<Decimal> for Amount {
    type Error = InvalidAmount;

    fn try_from(amount: Decimal) -> Result<Self, InvalidAmount> {
        Self::new(amount)
    }
}

impl From<Amount> for String {
    fn from(amount: Amount) -> Self {
        amount.to_string()
    }
}

impl std::fmt::Display for Amount {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(formatter)
    }
}

/// An alphabetic code in the form of ISO 4217: three capital letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Currency([u8; 3]);

#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a currency is three capital letters of ISO 4217, such as EUR")]
pub struct InvalidCurrency;

impl Currency {
    pub fn as_str(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or_default()
    }
}

impl TryFrom<String> for Currency {
    type Error = InvalidCurrency;

    fn try_from(text: String) -> Result<Self, InvalidCurrency> {
        let letters: [u8; 3] = text.as_bytes().try_into().map_err(|_| InvalidCurrency)?;
        if letters.iter().all(u8::is_ascii_uppercase) { Ok(Self(letters)) } else { Err(InvalidCurrency) }
    }
}

impl From<Currency> for String {
    fn from(currency: Currency) -> Self {
        currency.as_str().to_owned()
    }
}

impl std::fmt::Display for Currency {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_exact_and_bounded() {
        let amount = |text: &str| text.parse::<Amount>();
        assert_eq!(amount("0.10").unwrap().plus(amount("0.20").unwrap()), amount("0.3"));
        assert_eq!(amount("33.33").unwrap().times(3), amount("99.99"));
        assert_eq!(amount("10000000000"), Err(InvalidAmount));
        assert_eq!(amount("9999999999.99").unwrap().plus(amount("0.01").unwrap()), Err(InvalidAmount));
        assert_eq!(amount("9999999999.99").unwrap().times(u32::MAX), Err(InvalidAmount));
        for bad in ["", "x", "1.001", "-0.01", "NaN"] {
            assert_eq!(amount(bad), Err(InvalidAmount), "{bad}");
        }
    }

    #[test]
    fn currencies_are_three_capitals() {
        assert_eq!(Currency::try_from("EUR".to_owned()).unwrap().as_str(), "EUR");
        for bad in ["eur", "EU", "EURO", "€"] {
            assert_eq!(Currency::try_from(bad.to_owned()), Err(InvalidCurrency), "{bad}");
        }
    }
}
