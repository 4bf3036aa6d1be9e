//! Money in decimals with an ISO 4217 currency. Never a binary fraction.
//!
//! Takes text or decimals, gives amounts that only add within one currency.

use rust_decimal::Decimal;
use std::fmt;

/// An ISO 4217 currency code such as `USD`: three capital letters.
#[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Currency([u8; 3]);

impl Currency {
    /// Reads a code of three ASCII letters (any case); `None` otherwise.
    pub fn parse(text: &str) -> Option<Currency> {
        let bytes: [u8; 3] = text.trim().as_bytes().try_into().ok()?;
        bytes
            .iter()
            .all(u8::is_ascii_alphabetic)
            .then(|| Currency(bytes.map(|b| b.to_ascii_uppercase())))
    }
    /// The code in capitals.
    pub fn code(&self) -> &str {
        std::str::from_utf8(&self.0).unwrap_or("???")
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// An amount of money.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Money {
    /// The amount in whole currency units, exact.
    pub amount: Decimal,
    /// Its currency.
    pub currency: Currency,
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.amount.round_dp(2), self.currency)
    }
}
