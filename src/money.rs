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
    /// Decimal places of the currency's minor unit: 2 for most, 0 for the yen, 3 for the dinar of Kuwait.
    /// Source: ISO 4217, list one (current currencies), column minor unit; from memory.
    pub fn decimals(&self) -> u32 {
        const NONE: [&str; 15] = [
            "BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF", "UGX", "VND", "VUV", "XAF",
            "XOF",
        ];
        const THREE: [&str; 7] = ["BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"];
        match self.code() {
            code if NONE.contains(&code) => 0,
            code if THREE.contains(&code) => 3,
            _ => 2,
        }
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
        write!(
            f,
            "{} {}",
            self.amount.round_dp(self.currency.decimals()),
            self.currency
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO 4217: the yen and the CFA franc have no minor unit, the dollar has cents, the Kuwaiti dinar fils.
    #[test]
    fn minor_units() {
        for (code, decimals) in [("JPY", 0), ("XOF", 0), ("USD", 2), ("INR", 2), ("KWD", 3)] {
            assert_eq!(
                Currency::parse(code).map(|c| c.decimals()),
                Some(decimals),
                "{code}"
            );
        }
    }
}
