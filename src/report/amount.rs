//! Amounts as people read them: the one place of the reports where numbers are rounded.
//!
//! Takes figures of a plan, gives short text. CSV and JSON take [`significant`] from here too, so
//! that no report rounds by a rule of its own.

use crate::money::Currency;
use crate::nutrient::Nutrient;
use crate::units::{G_PER_OZ, KG_PER_LB, KJ_PER_KCAL};
use rust_decimal::prelude::FromPrimitive;
use rust_decimal::{Decimal, RoundingStrategy};
use std::cell::Cell;

/// How a shopping list weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Units {
    /// Kilogram and gram.
    #[default]
    Metric,
    /// Pound and ounce.
    Us,
}

/// In what energy is told to people.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum EnergyUnit {
    /// Kilocalories.
    #[default]
    Kcal,
    /// Kilojoules; a thermochemical kilocalorie is 4.184 kJ (ISO 80000-5:2007, annex C).
    Kj,
}

/// How figures are told to people; tables for programs (CSV, JSON) and spreadsheets do not follow it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub struct Style {
    /// Unit of energy.
    pub energy: EnergyUnit,
    /// A decimal comma instead of a point.
    pub comma: bool,
}

thread_local! {
    static STYLE: Cell<Style> = const { Cell::new(Style { energy: EnergyUnit::Kcal, comma: false }) };
}

/// Writes with the given style: all figures of this module follow it until `write` returns.
pub fn styled<T>(style: Style, write: impl FnOnce() -> T) -> T {
    let before = STYLE.replace(style);
    let result = write();
    STYLE.set(before);
    result
}

/// Energy in the unit of the style. \[kcal or kJ\]
fn energy(kcal: f64) -> f64 {
    match STYLE.get().energy {
        EnergyUnit::Kcal => kcal,
        EnergyUnit::Kj => kcal * KJ_PER_KCAL,
    }
}

/// Label of a nutrient's unit in the style: `kcal`, `kJ`, `mg`.
pub fn unit(nutrient: Nutrient) -> &'static str {
    match (nutrient == Nutrient::ENERGY, STYLE.get().energy) {
        (true, EnergyUnit::Kj) => "kJ",
        _ => nutrient.unit().label(),
    }
}

/// A nutrient's figure without its unit; energy in whole numbers of the style's unit.
pub fn bare(nutrient: Nutrient, value: f64) -> String {
    if nutrient == Nutrient::ENERGY {
        decimals(energy(value), 0)
    } else {
        figure(value)
    }
}

/// Household fractions with their glyphs.
const FRACTIONS: [(f64, &str); 6] = [
    (1.0 / 8.0, "⅛"),
    (1.0 / 4.0, "¼"),
    (1.0 / 3.0, "⅓"),
    (1.0 / 2.0, "½"),
    (2.0 / 3.0, "⅔"),
    (3.0 / 4.0, "¾"),
];

/// How near an amount must be to a household fraction to be called by it.
const NEAR: f64 = 0.02;

/// Words that only describe the noun after them.
const DESCRIBING: [&str; 12] = [
    "small", "medium", "large", "extra", "big", "thin", "thick", "level", "heaped", "heaping", "short",
    "long",
];

/// Measures: the noun is this word whatever follows it ("cup pieces" are "cups pieces").
const MEASURES: [&str; 14] = [
    "cup",
    "bowl",
    "glass",
    "plate",
    "slice",
    "piece",
    "handful",
    "can",
    "container",
    "pinch",
    "mug",
    "serving",
    "scoop",
    "bunch",
];

/// Words that have one form, besides all that end in `i` (katori, chapati, idli).
const ONE_FORM: [&str; 16] = [
    "tbsp", "tsp", "oz", "fl", "g", "kg", "mg", "ml", "cl", "dl", "l", "lb", "medium", "large", "small",
    "naan",
];

/// The number rounded to so many significant digits; as it is when not finite.
pub fn significant(value: f64, digits: usize) -> f64 {
    if !value.is_finite() {
        return value;
    }
    let rounded: f64 = format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value);
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// The number with at most so many decimals, halves away from zero, without trailing zeros: `56`.
pub fn decimals(value: f64, most: usize) -> String {
    let scale = 10f64.powi(most as i32);
    let text = format!("{:.most$}", (value * scale).round() / scale);
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" { "0".into() } else { pointed(text) }
}

/// A figure with the decimal mark of the style.
fn pointed(text: &str) -> String {
    if STYLE.get().comma {
        text.replace('.', ",")
    } else {
        text.into()
    }
}

/// The number with exactly so many decimals, halves away from zero, for columns: `61.0`.
pub fn fixed(value: f64, places: usize) -> String {
    let scale = 10f64.powi(places as i32);
    let text = format!("{:.places$}", (value * scale).round() / scale);
    let text = if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') {
        text.trim_start_matches('-')
    } else {
        &text
    };
    pointed(text)
}

/// A change with its sign and exactly so many decimals: `+0.3`, `-1.2`, `0.0`.
pub fn signed(value: f64, places: usize) -> String {
    let text = fixed(value, places);
    let zero = text.chars().all(|c| matches!(c, '0' | '.' | ','));
    if zero || text.starts_with('-') {
        text
    } else {
        format!("+{text}")
    }
}

/// A figure of about three significant digits: `2512`, `61.3`, `2.45`, `0.04`.
pub fn figure(value: f64) -> String {
    let size = value.abs();
    let most = if size >= 99.95 {
        0
    } else if size >= 9.995 {
        1
    } else if size >= 0.999_5 {
        2
    } else if size >= 0.1 {
        3
    } else {
        4
    };
    decimals(value, most)
}

/// An amount of a nutrient with its unit: `61.3 g`, `2512 kcal`.
pub fn nutrient(nutrient: Nutrient, value: f64) -> String {
    format!("{} {}", bare(nutrient, value), unit(nutrient))
}

/// Grams on a plate: `84 g`, `4.5 g`.
pub fn grams(value: f64) -> String {
    if value > 0.0 && value < 0.05 {
        return "under 0.1 g".into();
    }
    format!("{} g", decimals(value, usize::from(value < 9.95)))
}

/// Energy given in kcal, in the unit of the style: `2512 kcal`, `10510 kJ`.
pub fn kcal(value: f64) -> String {
    nutrient(Nutrient::ENERGY, value)
}

/// Money to the cent, without its currency: `9.35`.
pub fn money(amount: Decimal) -> String {
    coins(amount, None)
}

/// Money to the minor unit of its currency, without the code: `9.35` of dollars, `935` of yen.
pub fn coins(amount: Decimal, currency: Option<Currency>) -> String {
    let places = currency.map_or(2, |c| c.decimals());
    let rounded = amount.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
    pointed(&format!("{rounded:.*}", places as usize))
}

/// A value of the search with its unit, money to the cent: `USD 9.35`, `0.245 share`.
pub fn objective(value: f64, unit: &str, is_money: bool) -> String {
    match Decimal::from_f64(value).filter(|_| is_money) {
        Some(amount) => format!("{unit} {}", coins(amount, Currency::parse(unit))),
        None => format!("{} {unit}", decimals(value, 3)),
    }
}

/// A bound of the search as [`objective`], rounded down so that it stays a bound.
pub fn lower_bound(value: f64, unit: &str, is_money: bool) -> String {
    let places = Currency::parse(unit).filter(|_| is_money).map(|c| c.decimals());
    let scale = match places {
        Some(places) => 10f64.powi(places as i32),
        None if is_money => 100.0,
        None => 1000.0,
    };
    objective((value * scale).floor() / scale, unit, is_money)
}

/// A share as a percentage rounded up to a tenth, for "at most": `7.1 %`.
pub fn at_most(share: f64) -> String {
    format!("{} %", decimals((share * 1000.0 - 1e-9).ceil() / 10.0, 1))
}

/// Money with its currency: `USD 9.35`.
pub fn price(amount: Decimal, currency: Option<Currency>) -> String {
    currency.map_or_else(|| money(amount), |c| format!("{c} {}", coins(amount, Some(c))))
}

/// A share as a percentage: `85 %`, `5.2 %`; what is not the whole is never called 100 %.
pub fn percent(share: f64) -> String {
    let value = share * 100.0;
    if (99.5..100.0).contains(&value) {
        return ">99 %".into();
    }
    format!("{} %", decimals(value, usize::from(value.abs() < 9.95)))
}

/// The change of body mass a week: `+0.25 kg a week`.
pub fn weekly(kg: f64, units: Units) -> String {
    let (value, unit) = match units {
        Units::Metric => (kg, "kg"),
        Units::Us => (kg / KG_PER_LB, "lb"),
    };
    let sign = if value > 0.0 { "+" } else { "" };
    format!("{sign}{} {unit} a week", decimals(value, 2))
}

/// A mass in the shop: `450 g`, `1.12 kg`; `5.3 oz`, `2 lb 4 oz`.
pub fn mass(grams_: f64, units: Units) -> String {
    match units {
        Units::Metric if grams_ >= 999.5 => format!("{} kg", decimals(grams_ / 1000.0, 2)),
        Units::Metric => grams(grams_),
        Units::Us => {
            let ounces = grams_ / G_PER_OZ;
            if ounces < 15.95 {
                if grams_ > 0.0 && ounces < 0.05 {
                    return "under 0.1 oz".into();
                }
                return format!("{} oz", decimals(ounces, 1));
            }
            let whole = ounces.round();
            let (pounds, rest) = ((whole / 16.0).floor(), whole % 16.0);
            if rest == 0.0 {
                format!("{pounds} lb")
            } else {
                format!("{pounds} lb {rest} oz")
            }
        }
    }
}

/// A count with household fractions: `1½`, `¾`, `3`; `None` when it is near to none of them.
pub fn fraction(value: f64) -> Option<String> {
    if !(value.is_finite() && value > 0.0 && value < 1e6) {
        return None;
    }
    let whole = value.floor();
    let rest = value - whole;
    if rest < NEAR && whole > 0.0 {
        return Some(format!("{whole}"));
    }
    if 1.0 - rest < NEAR {
        return Some(format!("{}", whole + 1.0));
    }
    let (_, glyph) = FRACTIONS.iter().find(|(f, _)| (rest - f).abs() < NEAR)?;
    Some(if whole > 0.0 {
        format!("{whole}{glyph}")
    } else {
        (*glyph).to_string()
    })
}

/// A household amount: so many times a serving such as `1/2 cup` or `1 slice (32 g)`.
///
/// `("1/2 cup", 3)` is `1½ cups`. A mass in grams in brackets is left out, since grams are printed
/// beside it; another number in brackets is multiplied. `1.6 x 1 cup` when no household fraction
/// is near or the serving does not begin with a number.
pub fn household(serving: &str, servings: f64) -> String {
    let serving = serving.trim();
    let (main, bracket) = match serving.split_once('(') {
        Some((m, b)) if b.trim_end().ends_with(')') => {
            (m.trim(), Some(b.trim_end().trim_end_matches(')').trim()))
        }
        _ => (serving, None),
    };
    let scaled = leading(main).and_then(|(n, rest)| Some((fraction(n * servings)?, n * servings, n, rest)));
    let Some((count, amount, stated, rest)) = scaled else {
        if servings == 1.0 {
            return serving.to_string();
        }
        return format!("{} x {serving}", decimals(servings, 2));
    };
    // "1 omelette, 2 eggs": what follows the comma is a number of its own.
    let (rest, tail) = match rest.split_once(", ") {
        Some((r, t)) if leading(t).is_some() => (r, Some(t)),
        _ => (rest, None),
    };
    let noun = match (amount > 1.0 + NEAR, stated > 1.0) {
        (true, false) => inflect(rest, plural),
        (false, true) => inflect(rest, singular),
        _ => rest.to_string(),
    };
    let text = format!(
        "{count} {noun}{}",
        tail.map_or_else(String::new, |t| format!(", {}", bracketed(t, servings)))
    );
    let text = text.trim_end().to_string();
    match bracket {
        None => text,
        Some(b) if in_grams(b) => text,
        Some(b) => format!("{text} ({})", bracketed(b, servings)),
    }
}

/// What stands in brackets, multiplied where it is a total and not a size.
fn bracketed(text: &str, servings: f64) -> String {
    let size = ["each", "inch", "cm", "mm", "%"]
        .iter()
        .any(|w| text.split_whitespace().any(|t| t == *w));
    match leading(text) {
        Some((_, rest)) if !size && !rest.is_empty() => household(text, servings),
        _ => text.to_string(),
    }
}

fn in_grams(text: &str) -> bool {
    leading(text).is_some_and(|(_, rest)| rest == "g")
}

/// The number at the head of a text (`2`, `1/2`, `1 1/2`, `½`, `1½`, `1.5`) and what follows it.
fn leading(text: &str) -> Option<(f64, &str)> {
    let glyph = |t: &str| {
        FRACTIONS
            .iter()
            .find_map(|(v, g)| t.strip_prefix(g).map(|_| (*v, g.len())))
    };
    let plain = |t: &str| -> Option<(f64, usize)> {
        let end = t
            .find(|c: char| !c.is_ascii_digit() && c != '.' && c != '/')
            .unwrap_or(t.len());
        let head = &t[..end];
        let value = match head.split_once('/') {
            Some((a, b)) => a.parse::<f64>().ok()? / b.parse::<f64>().ok().filter(|b| *b > 0.0)?,
            None => head.parse::<f64>().ok()?,
        };
        Some((value, end))
    };
    let (mut value, mut end) = glyph(text).or_else(|| plain(text))?;
    if value.fract() == 0.0 {
        let tail = &text[end..];
        let spaces = tail.len() - tail.trim_start().len();
        let more = glyph(&tail[spaces..]).or_else(|| {
            plain(&tail[spaces..])
                .filter(|(v, n)| *v < 1.0 && spaces > 0 && tail[spaces..spaces + n].contains('/'))
        });
        if let Some((v, n)) = more {
            value += v;
            end += spaces + n;
        }
    }
    (value.is_finite() && value > 0.0).then(|| (value, text[end..].trim()))
}

/// Changes the noun of a serving: a measure, or the last word before "of", "in", "with" or a comma.
fn inflect(text: &str, change: fn(&str) -> String) -> String {
    let words: Vec<&str> = text.split(' ').collect();
    let first = words
        .iter()
        .position(|w| !DESCRIBING.contains(w))
        .unwrap_or(words.len());
    let Some(head) = words.get(first) else {
        return text.to_string();
    };
    let measure =
        |w: &str| ONE_FORM.contains(&w) || MEASURES.contains(&w) || MEASURES.contains(&singular(w).as_str());
    let noun = if measure(head) {
        first
    } else {
        let stop = words[first..]
            .iter()
            .position(|w| ["of", "in", "with", "from"].contains(w))
            .map_or(words.len(), |n| first + n);
        let comma = words[first..stop]
            .iter()
            .position(|w| w.ends_with(','))
            .map_or(stop, |n| first + n + 1);
        comma.max(first + 1) - 1
    };
    let changed = words
        .iter()
        .enumerate()
        .map(|(n, w)| match (n == noun, w.strip_suffix(',')) {
            (false, _) => (*w).to_string(),
            (true, Some(w)) => change(w) + ",",
            (true, None) => change(w),
        });
    changed.collect::<Vec<_>>().join(" ")
}

/// More than one of a thing.
pub(crate) fn plural(word: &str) -> String {
    if word.is_empty()
        || ONE_FORM.contains(&word)
        || word.ends_with('i')
        || !word.ends_with(char::is_alphabetic)
    {
        return word.to_string();
    }
    if let Some(stem) = word.strip_suffix("lf").or_else(|| word.strip_suffix("af")) {
        return format!("{stem}{}ves", &word[word.len() - 2..word.len() - 1]);
    }
    if let Some(stem) = word.strip_suffix('y')
        && !stem.ends_with(['a', 'e', 'i', 'o', 'u'])
    {
        return format!("{stem}ies");
    }
    let sharp = ["s", "x", "z", "ch", "sh", "ato", "ango"]
        .iter()
        .any(|e| word.ends_with(e));
    format!("{word}{}", if sharp { "es" } else { "s" })
}

/// One of the things.
fn singular(word: &str) -> String {
    if ONE_FORM.contains(&word) || word.ends_with("ss") {
        return word.to_string();
    }
    for (end, instead) in [
        ("ies", "y"),
        ("lves", "lf"),
        ("aves", "af"),
        ("atoes", "ato"),
        ("angoes", "ango"),
        ("sses", "ss"),
        ("ches", "ch"),
        ("shes", "sh"),
        ("xes", "x"),
        ("s", ""),
    ] {
        if let Some(stem) = word.strip_suffix(end) {
            return format!("{stem}{instead}");
        }
    }
    word.to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn household_amounts() {
        for (serving, servings, expected) in [
            ("1/2 cup", 3.0, "1½ cups"),
            ("1/2 cup", 1.0, "½ cup"),
            ("1/2 cup", 2.0, "1 cup"),
            ("1/3 cup", 2.0, "⅔ cup"),
            ("1/4 cup", 0.5, "⅛ cup"),
            ("1 1/2 cups", 2.0, "3 cups"),
            ("1½ cups", 0.5, "¾ cup"),
            ("½ cup", 4.0, "2 cups"),
            ("1.5 cups", 2.0, "3 cups"),
            ("1 katori (150 g)", 1.5, "1½ katori"),
            ("1 chapati (40 g)", 3.0, "3 chapati"),
            ("1 slice (32 g)", 3.0, "3 slices"),
            ("2 slices", 0.5, "1 slice"),
            ("8 halves (16 g)", 0.125, "1 half"),
            ("2 eggs in gravy (220 g)", 0.5, "1 egg in gravy"),
            ("1 cup pieces", 2.0, "2 cups pieces"),
            ("1 medium tomato", 2.0, "2 medium tomatoes"),
            ("1 medium", 2.0, "2 medium"),
            ("1 thigh, skinless", 2.0, "2 thighs, skinless"),
            ("1 chicken leg", 2.0, "2 chicken legs"),
            ("1 tbsp (20 g)", 2.5, "2½ tbsp"),
            ("1/4 avocado", 2.0, "½ avocado"),
            ("1 patty (3 oz)", 2.0, "2 patties (6 oz)"),
            ("1 sandwich (2 eggs)", 2.0, "2 sandwiches (4 eggs)"),
            ("1/2 oz (10 halves)", 2.0, "1 oz (20 halves)"),
            ("1 bowl (1/2 cup dry oats)", 3.0, "3 bowls (1½ cups dry oats)"),
            ("1 tortilla (8 inch)", 2.0, "2 tortillas (8 inch)"),
            ("2 slices (1 oz each)", 2.0, "4 slices (1 oz each)"),
            ("1 glass (250 ml)", 2.0, "2 glasses (500 ml)"),
            ("1 omelette, 2 eggs", 2.0, "2 omelettes, 4 eggs"),
            ("1 katori, 2 eggs", 1.5, "1½ katori, 3 eggs"),
            ("1 katori", 1.6, "1.6 x 1 katori"),
            ("a handful", 2.0, "2 x a handful"),
            ("a handful", 1.0, "a handful"),
            ("", 2.0, "2 x"),
        ] {
            assert_eq!(
                household(serving, servings).trim(),
                expected,
                "{serving} x {servings}"
            );
        }
    }

    #[test]
    fn masses_in_the_shop() {
        assert_eq!(mass(450.0, Units::Metric), "450 g");
        assert_eq!(mass(999.7, Units::Metric), "1 kg");
        assert_eq!(mass(1120.0, Units::Metric), "1.12 kg");
        assert_eq!(mass(0.01, Units::Metric), "under 0.1 g");
        assert_eq!(mass(453.592_37, Units::Us), "1 lb");
        assert_eq!(mass(453.5, Units::Us), "1 lb");
        assert_eq!(mass(1_020.582_832_5, Units::Us), "2 lb 4 oz");
        assert_eq!(mass(150.0, Units::Us), "5.3 oz");
    }

    #[test]
    fn figures() {
        assert_eq!(
            [
                figure(2512.4),
                figure(61.34),
                figure(56.0),
                figure(2.449),
                figure(0.04),
                figure(0.0)
            ],
            ["2512", "61.3", "56", "2.45", "0.04", "0"]
        );
        assert_eq!(
            [figure(-0.000_01), figure(99.96), figure(9.996)],
            ["0", "100", "10"]
        );
        assert_eq!(
            [percent(0.999), percent(1.0), percent(0.052), percent(0.85)],
            [">99 %", "100 %", "5.2 %", "85 %"]
        );
        assert_eq!(
            [grams(84.4), grams(4.5), grams(9.97), grams(0.0)],
            ["84 g", "4.5 g", "10 g", "0 g"]
        );
        assert_eq!(money("9.345".parse().unwrap()), "9.35");
        assert_eq!(
            [
                objective(3.765, "USD", true),
                lower_bound(3.499, "USD", true),
                lower_bound(0.2459, "share", false)
            ],
            ["USD 3.77", "USD 3.49", "0.245 share"]
        );
        assert_eq!(
            [at_most(0.0704), at_most(0.07), at_most(0.0)],
            ["7.1 %", "7 %", "0 %"]
        );
        assert_eq!(significant(1_234.567_89, 6), 1234.57);
        assert_eq!(significant(0.000_123_456_78, 6), 0.000_123_457);
    }
}
