//! Price lists: what a purchase amount costs, where and when. Takes the text of price lists, gives
//! the cost of grams of a product. Money in decimals; a product without a price is never free.

use crate::diagnostic::Diagnostic;
use crate::kitchen::{Catalogue, Source, rows};
use crate::money::Currency;
use crate::units::{G_PER_OZ, KG_PER_LB};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::Deserialize;
use std::collections::BTreeMap;

/// Millilitres in a US fluid ounce, NIST Handbook 44.
pub const ML_PER_FL_OZ: f64 = 29.5735;

/// Least and most that a price may buy, g, and the highest price: what is outside is a slip of the hand, and
/// figures that a sum could not hold; the price is that of the largest budget. Design choices.
const LEAST_GRAMS: f64 = 0.001;
const MOST_GRAMS: f64 = 1e9;
const MOST_PRICE: u64 = 100_000_000;

/// One line of a price list.
#[derive(Clone, Debug, PartialEq)]
pub struct Price {
    /// What is bought: a product id.
    pub buy: String,
    /// Grams that the price buys.
    pub grams: f64,
    /// The price.
    pub price: Decimal,
    /// Sold only in packs of `grams`.
    pub pack: bool,
    /// Where.
    pub place: String,
    /// When, ISO 8601.
    pub date: String,
    /// Citation, or `invented: ...`.
    pub source: String,
}

impl Price {
    /// Price of a gram, for the model. [currency/g]
    pub fn per_gram(&self) -> f64 {
        self.price.to_f64().unwrap_or(0.0) / self.grams
    }
    /// Whether nobody published it.
    pub fn invented(&self) -> bool {
        self.source.starts_with("invented")
    }
    /// What grams cost when the price is taken per gram. [currency, exact to 1e-4]
    pub fn cost(&self, grams: f64) -> Decimal {
        let (Some(g), Some(per)) = (Decimal::from_f64(grams), Decimal::from_f64(self.grams)) else {
            return Decimal::ZERO;
        };
        (self.price * g / per).round_dp(4)
    }
}

/// A price list of one region in one currency.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceList {
    /// Its currency.
    pub currency: Currency,
    /// The cheapest line of each product per gram, by product id.
    pub prices: BTreeMap<String, Price>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PriceRow {
    buy: String,
    amount: f64,
    unit: String,
    price: String,
    currency: String,
    place: String,
    date: String,
    pack: String,
    source: String,
}

impl PriceList {
    /// The bundled price list of a region, `None` when there is none.
    ///
    /// # Errors
    /// Every problem of the list.
    pub fn bundled(region: &str, catalogue: &Catalogue) -> Result<Option<PriceList>, Vec<Diagnostic>> {
        let name = format!("prices/{region}.csv");
        match crate::kitchen::bundled("prices")
            .into_iter()
            .find(|s| s.name == name)
        {
            Some(source) => Self::read(&source, catalogue).map(Some),
            None => Ok(None),
        }
    }

    /// Reads a price list; where a product stands more than once the cheapest per gram counts.
    ///
    /// # Errors
    /// Every bad row: unknown product or unit, price not above zero, mixed currencies.
    pub fn read(source: &Source, catalogue: &Catalogue) -> Result<PriceList, Vec<Diagnostic>> {
        let mut out = Vec::new();
        let mut currency: Option<Currency> = None;
        let mut prices: BTreeMap<String, Price> = BTreeMap::new();
        for (line, r) in rows::<PriceRow>(source, &mut out) {
            let mut say = |text: String, help: &str| {
                out.push(
                    Diagnostic::error("price-row", format!("{}: {text}", source.name))
                        .on_line(line)
                        .help(help.to_string()),
                );
            };
            let Some(product) = catalogue.product_of(&r.buy) else {
                let near =
                    crate::diagnostic::suggestion(&r.buy, catalogue.products.keys().map(String::as_str));
                say(
                    format!("column `buy`: `{}` is no product, food or item", r.buy),
                    &near.map_or("use a product id of the catalogue".to_string(), |n| {
                        format!("did you mean `{n}`?")
                    }),
                );
                continue;
            };
            let per_unit = match r.unit.as_str() {
                "g" => Some(1.0),
                "kg" => Some(1000.0),
                "lb" => Some(KG_PER_LB * 1000.0),
                "oz" => Some(G_PER_OZ),
                "ml" => product.density,
                "l" => product.density.map(|d| 1000.0 * d),
                "fl_oz" => product.density.map(|d| ML_PER_FL_OZ * d),
                "piece" => product.piece_g,
                "dozen" => product.piece_g.map(|g| g * 12.0),
                _ => None,
            };
            let Some(per_unit) = per_unit else {
                say(
                    format!("column `unit`: cannot weigh `{}` of `{}`", r.unit, r.buy),
                    "use g, kg, lb or oz; ml, l and fl_oz where the product has a density, piece and dozen where it has a piece weight",
                );
                continue;
            };
            if !(r.amount.is_finite() && r.amount > 0.0) {
                say(
                    format!("column `amount`: read {}, expected a number above 0", r.amount),
                    "write how much the price buys",
                );
                continue;
            }
            let grams = r.amount * per_unit;
            if !(LEAST_GRAMS..=MOST_GRAMS).contains(&grams) {
                say(
                    format!(
                        "column `amount`: read {} {}, expected between {LEAST_GRAMS} g and {:.0} t",
                        r.amount,
                        r.unit,
                        MOST_GRAMS / 1e6
                    ),
                    "write how much the price buys",
                );
                continue;
            }
            let price = match r.price.parse::<Decimal>() {
                Ok(p) if p > Decimal::ZERO && p <= MOST_PRICE.into() => p,
                _ => {
                    say(
                        format!(
                            "column `price`: read `{}`, expected a decimal above 0, at most {MOST_PRICE}",
                            r.price
                        ),
                        "leave the row out when the price is not known; a food without a price is never free",
                    );
                    continue;
                }
            };
            match (Currency::parse(&r.currency), currency) {
                (None, _) => {
                    say(
                        format!("column `currency`: `{}` is no ISO 4217 code", r.currency),
                        "write three letters such as USD or INR",
                    );
                    continue;
                }
                (Some(c), Some(have)) if c != have => {
                    say(
                        format!("column `currency`: {c} in a list of {have}"),
                        "keep one currency a file",
                    );
                    continue;
                }
                (Some(c), _) => currency = Some(c),
            }
            let pack = match r.pack.as_str() {
                "yes" => true,
                "no" => false,
                other => {
                    say(
                        format!("column `pack`: read `{other}`, expected yes or no"),
                        "yes when it is sold only in packs of that amount",
                    );
                    continue;
                }
            };
            let p = Price {
                buy: product.id.clone(),
                grams,
                price,
                pack,
                place: r.place,
                date: r.date,
                source: r.source,
            };
            match prices.get(&product.id) {
                Some(have) if have.per_gram() <= p.per_gram() => {}
                _ => {
                    prices.insert(product.id.clone(), p);
                }
            }
        }
        if out.is_empty() && currency.is_none() {
            out.push(Diagnostic::error(
                "price-empty",
                format!("{}: no price in the list", source.name),
            ));
        }
        match currency {
            Some(currency) if out.is_empty() => Ok(PriceList { currency, prices }),
            _ => Err(out),
        }
    }
}
