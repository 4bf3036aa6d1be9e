//! Quantities as newtypes over `f64`, and the only place that converts units.
//!
//! Takes numbers and the text people write (`"168 cm"`, `"5 ft 6 in"`), gives typed quantities.
//! Knows no food, no person, no brief.
//! Sources: 1 kcal = 4.184 kJ (thermochemical calorie, ISO 80000-5:2019 note); 1 lb = 0.45359237 kg
//! and 1 in = 2.54 cm exactly (International yard and pound agreement, 1959).

use std::fmt;

/// Kilojoules in a kilocalorie (thermochemical).
pub const KJ_PER_KCAL: f64 = 4.184;
/// Kilograms in an avoirdupois pound, exact.
pub const KG_PER_LB: f64 = 0.453_592_37;
/// Centimetres in an inch, exact.
pub const CM_PER_IN: f64 = 2.54;
/// Grams in an avoirdupois ounce, exact.
pub const G_PER_OZ: f64 = KG_PER_LB * 1000.0 / 16.0;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Default)]
        pub struct $name(pub f64);
        impl std::ops::Add for $name { type Output = Self; fn add(self, o: Self) -> Self { Self(self.0 + o.0) } }
        impl std::ops::Sub for $name { type Output = Self; fn sub(self, o: Self) -> Self { Self(self.0 - o.0) } }
        impl std::ops::Mul<f64> for $name { type Output = Self; fn mul(self, k: f64) -> Self { Self(self.0 * k) } }
        impl std::ops::Div<f64> for $name { type Output = Self; fn div(self, k: f64) -> Self { Self(self.0 / k) } }
        impl std::ops::Div for $name { type Output = f64; fn div(self, o: Self) -> f64 { self.0 / o.0 } }
        impl std::iter::Sum for $name { fn sum<I: Iterator<Item = Self>>(i: I) -> Self { Self(i.map(|q| q.0).sum()) } }
    };
}

quantity! {
    /// Energy in kilocalories (a day's figure unless said otherwise).
    Kcal
}
quantity! {
    /// Body mass in kilograms.
    Kilograms
}
quantity! {
    /// Mass of food in grams.
    Grams
}
quantity! {
    /// Length in centimetres.
    Centimetres
}

impl Kcal {
    /// From kilojoules.
    pub fn from_kj(kj: f64) -> Kcal {
        Kcal(kj / KJ_PER_KCAL)
    }
    /// In kilojoules.
    pub fn kj(self) -> f64 {
        self.0 * KJ_PER_KCAL
    }
}

impl Kilograms {
    /// From avoirdupois pounds.
    pub fn from_lb(lb: f64) -> Kilograms {
        Kilograms(lb * KG_PER_LB)
    }
    /// In avoirdupois pounds.
    pub fn lb(self) -> f64 {
        self.0 / KG_PER_LB
    }
}

impl Centimetres {
    /// From inches.
    pub fn from_inches(inches: f64) -> Centimetres {
        Centimetres(inches * CM_PER_IN)
    }
    /// In metres.
    pub fn metres(self) -> f64 {
        self.0 / 100.0
    }
}

impl fmt::Display for Kcal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.0} kcal", self.0)
    }
}

/// Why a text is not a quantity. Says what was read; the reader of the text says where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// No text at all.
    #[error("nothing is written here")]
    Empty,
    /// Does not begin with a number.
    #[error("\"{0}\" does not begin with a number")]
    NotANumber(String),
    /// A comma that may be a decimal sign or a thousands separator.
    #[error("the comma in \"{0}\" can be read in two ways")]
    Ambiguous(String),
    /// A number without unit.
    #[error("\"{0}\" has no unit")]
    NoUnit(String),
    /// A unit of another kind, or none at all.
    #[error("\"{unit}\" is not a unit of {of}")]
    UnknownUnit {
        /// What stands there.
        unit: String,
        /// What was expected, such as "length".
        of: &'static str,
    },
    /// Several amounts that do not add up to one: `5 in 6 ft`, `5 ft 16 in`, `60-65 kg`.
    #[error("\"{0}\" is not one amount")]
    NotOne(String),
    /// Below zero.
    #[error("{0} is below zero")]
    Negative(String),
}

/// One number with the unit written after it; the unit is trimmed, single-spaced, maybe empty.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The number in plain notation with a decimal point, so that money stays exact.
    pub number: String,
    /// The same as a float, finite.
    pub value: f64,
    /// The unit as written.
    pub unit: String,
}

/// Splits `"5 ft 6 in"` into numbers with their units. No-break spaces, typographic signs for
/// feet, inches and minus, and a decimal comma are read; a sign other than minus is not.
pub fn split(text: &str) -> Result<Vec<Measured>, QuantityError> {
    let plain: String = text
        .chars()
        .map(|c| match c {
            '\u{a0}' | '\u{202f}' | '\u{2007}' | '\u{2009}' | '\t' => ' ',
            '\u{2212}' | '\u{2013}' => '-',
            '\u{2032}' | '\u{2019}' => '\'',
            '\u{2033}' | '\u{201d}' => '"',
            '\u{3bc}' => 'µ',
            other => other,
        })
        .collect();
    let plain = plain.trim();
    if plain.is_empty() {
        return Err(QuantityError::Empty);
    }
    let mut parts = Vec::new();
    let mut rest = plain;
    while !rest.is_empty() {
        let begins = |c: char| c.is_ascii_digit();
        let unsigned = rest.strip_prefix('-').unwrap_or(rest);
        if !unsigned.starts_with(begins) && !unsigned.starts_with(['.', ',']) {
            return Err(QuantityError::NotANumber(plain.to_string()));
        }
        let length = unsigned
            .find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',')
            .unwrap_or(unsigned.len());
        let (digits, after) = unsigned.split_at(length);
        let number = plain_number(digits)?;
        if unsigned.len() != rest.len() {
            return Err(QuantityError::Negative(format!("-{number}")));
        }
        let value: f64 = number
            .parse()
            .map_err(|_| QuantityError::NotANumber(digits.to_string()))?;
        if !value.is_finite() {
            return Err(QuantityError::NotANumber(digits.to_string()));
        }
        let end = after.find(begins).unwrap_or(after.len());
        let (unit, next) = after.split_at(end);
        if !next.is_empty() && unit.trim_end().ends_with('-') {
            return Err(QuantityError::NotOne(plain.to_string()));
        }
        let unit = unit.split_whitespace().collect::<Vec<_>>().join(" ");
        let unit = unit.replace(" /", "/").replace("/ ", "/");
        parts.push(Measured { number, value, unit });
        rest = next;
    }
    Ok(parts)
}

/// `1,68` to `1.68`; refuses what may be a thousands separator.
fn plain_number(digits: &str) -> Result<String, QuantityError> {
    let bad = || QuantityError::NotANumber(digits.to_string());
    let (dots, commas) = (digits.matches('.').count(), digits.matches(',').count());
    let number = match (dots, commas) {
        (0 | 1, 0) => digits.to_string(),
        (0, 1) => {
            let (whole, part) = digits.split_once(',').ok_or_else(bad)?;
            if part.len() == 3 && !whole.is_empty() && whole.trim_start_matches('0') == whole {
                return Err(QuantityError::Ambiguous(digits.to_string()));
            }
            format!("{whole}.{part}")
        }
        _ => return Err(QuantityError::Ambiguous(digits.to_string())),
    };
    let number = number.strip_suffix('.').map(str::to_string).unwrap_or(number);
    if number.starts_with('.') {
        Ok(format!("0{number}"))
    } else {
        Ok(number)
    }
}

/// The one amount of a text, for units that do not combine.
pub fn single(text: &str) -> Result<Measured, QuantityError> {
    let mut parts = split(text)?;
    match (parts.pop(), parts.is_empty()) {
        (Some(part), true) => Ok(part),
        _ => Err(QuantityError::NotOne(text.trim().to_string())),
    }
}

/// Unit words of one kind with their size in the kind's base unit.
type UnitTable = &'static [(&'static [&'static str], f64)];

const LENGTHS: UnitTable = &[
    (&["m", "metre", "metres", "meter", "meters"], 100.0),
    (&["ft", "'", "foot", "feet"], 12.0 * CM_PER_IN),
    (&["in", "\"", "''", "inch", "inches"], CM_PER_IN),
    (
        &["cm", "centimetre", "centimetres", "centimeter", "centimeters"],
        1.0,
    ),
    (&["mm"], 0.1),
];
const BODY_MASSES: UnitTable = &[
    (&["st", "stone", "stones"], 14.0 * KG_PER_LB),
    (&["kg", "kilogram", "kilograms", "kilo", "kilos"], 1.0),
    (&["lb", "lbs", "pound", "pounds"], KG_PER_LB),
];
const ENERGIES: UnitTable = &[
    (&["mj", "mj/day", "mj/d"], 1000.0 / KJ_PER_KCAL),
    (&["kcal", "kcal/day", "kcal/d"], 1.0),
    (&["kj", "kj/day", "kj/d"], 1.0 / KJ_PER_KCAL),
];
const FOOD_MASSES: UnitTable = &[
    (&["kg", "kilogram", "kilograms", "kilo", "kilos"], 1000.0),
    (&["lb", "lbs", "pound", "pounds"], KG_PER_LB * 1000.0),
    (&["oz", "ounce", "ounces"], G_PER_OZ),
    (&["g", "gram", "grams"], 1.0),
    (&["mg", "milligram", "milligrams"], 1e-3),
    (&["ug", "µg", "mcg", "microgram", "micrograms"], 1e-6),
];

fn factor(unit: &str, table: UnitTable) -> Option<f64> {
    let unit = unit.to_lowercase();
    table
        .iter()
        .find(|(words, _)| words.contains(&unit.as_str()))
        .map(|(_, f)| *f)
}

/// Adds up `5 ft 6 in`: each unit smaller than the one before, and less than one of it.
fn sum(text: &str, of: &'static str, table: UnitTable) -> Result<f64, QuantityError> {
    let mut parts = split(text)?;
    // 5'6 without the sign for inches.
    if let [feet, inches] = parts.as_mut_slice()
        && feet.unit == "'"
        && inches.unit.is_empty()
    {
        inches.unit = "\"".to_string();
    }
    let mut total = 0.0;
    let mut bigger: Option<f64> = None;
    for part in &parts {
        if part.unit.is_empty() {
            return Err(match parts.len() {
                1 => QuantityError::NoUnit(part.number.clone()),
                _ => QuantityError::NotOne(text.trim().to_string()),
            });
        }
        let size = factor(&part.unit, table).ok_or_else(|| QuantityError::UnknownUnit {
            unit: part.unit.clone(),
            of,
        })?;
        if bigger.is_some_and(|b| size >= b || part.value * size >= b * (1.0 - 1e-9)) {
            return Err(QuantityError::NotOne(text.trim().to_string()));
        }
        total += part.value * size;
        bigger = Some(size);
    }
    Ok(total)
}

/// A length in cm from `168 cm`, `1.68 m`, `5 ft 6 in`, `5'6"`.
pub fn length(text: &str) -> Result<Centimetres, QuantityError> {
    sum(text, "length", LENGTHS).map(Centimetres)
}

/// Body mass in kg from `61 kg`, `134 lb`, `9 st 8 lb`.
pub fn body_mass(text: &str) -> Result<Kilograms, QuantityError> {
    sum(text, "body mass", BODY_MASSES).map(Kilograms)
}

/// Energy in kcal (a day) from `500 kcal`, `2100 kJ`, `2.1 MJ`.
pub fn energy(text: &str) -> Result<Kcal, QuantityError> {
    // `mJ` would be a millijoule: only the capital is a megajoule.
    if let Ok(one) = single(text)
        && one.unit.starts_with("mJ")
    {
        return Err(QuantityError::UnknownUnit {
            unit: one.unit,
            of: "energy",
        });
    }
    sum(text, "energy", ENERGIES).map(Kcal)
}

/// Mass of food in g from `2 kg`, `500 g`, `12 oz`, `1 lb 4 oz`.
pub fn food_mass(text: &str) -> Result<Grams, QuantityError> {
    sum(text, "mass", FOOD_MASSES).map(Grams)
}

/// A share 0..1 from `12.5 %`.
pub fn share(text: &str) -> Result<f64, QuantityError> {
    let one = single(text)?;
    match one.unit.as_str() {
        "%" | "percent" | "per cent" => Ok(one.value / 100.0),
        "" => Err(QuantityError::NoUnit(one.number)),
        _ => Err(QuantityError::UnknownUnit {
            unit: one.unit,
            of: "share",
        }),
    }
}

/// A change of body mass a week.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum WeeklyRate {
    /// Share of body mass, 0..1.
    Share(f64),
    /// In kg.
    Mass(Kilograms),
}

/// A rate from `0.35 %/week`, `0.25 kg/week`, `0.5 lb/week`.
pub fn weekly_rate(text: &str) -> Result<WeeklyRate, QuantityError> {
    let one = single(text)?;
    let unknown = || QuantityError::UnknownUnit {
        unit: one.unit.clone(),
        of: "weekly change",
    };
    if one.unit.is_empty() {
        return Err(QuantityError::NoUnit(one.number));
    }
    let Some((unit, "week" | "wk" | "w")) = one.unit.split_once('/') else {
        return Err(unknown());
    };
    if unit == "%" {
        return Ok(WeeklyRate::Share(one.value / 100.0));
    }
    let size = factor(unit, BODY_MASSES).ok_or_else(unknown)?;
    Ok(WeeklyRate::Mass(Kilograms(one.value * size)))
}

/// An amount of a nutrient as written: absolute in grams or kcal, per kg of body mass, or a share
/// of energy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NutrientQuantity {
    /// Grams a day.
    Mass(Grams),
    /// Grams per kg of body mass a day.
    MassPerKilogram(Grams),
    /// Energy a day.
    Energy(Kcal),
    /// Energy per kg of body mass a day.
    EnergyPerKilogram(Kcal),
    /// Share of energy, 0..1.
    EnergyShare(f64),
}

/// A nutrient amount from `110 g`, `18 mg`, `1.8 g/kg`, `25 % energy`, `2500 kcal`, `35 kcal/kg`.
pub fn nutrient_quantity(text: &str) -> Result<NutrientQuantity, QuantityError> {
    let one = single(text)?;
    if one.unit.is_empty() {
        return Err(QuantityError::NoUnit(one.number));
    }
    let value = one.value;
    if matches!(
        one.unit.as_str(),
        "% energy" | "% of energy" | "%energy" | "% E" | "%E"
    ) {
        return Ok(NutrientQuantity::EnergyShare(value / 100.0));
    }
    let unit = one
        .unit
        .strip_suffix("/day")
        .or(one.unit.strip_suffix("/d"))
        .unwrap_or(&one.unit);
    let (unit, per_kg) = match unit.strip_suffix("/kg") {
        Some(unit) => (unit, true),
        None => (unit, false),
    };
    match (factor(unit, FOOD_MASSES), factor(unit, ENERGIES), per_kg) {
        (Some(f), _, false) => Ok(NutrientQuantity::Mass(Grams(value * f))),
        (Some(f), _, true) => Ok(NutrientQuantity::MassPerKilogram(Grams(value * f))),
        (None, Some(f), false) => Ok(NutrientQuantity::Energy(Kcal(value * f))),
        (None, Some(f), true) => Ok(NutrientQuantity::EnergyPerKilogram(Kcal(value * f))),
        (None, None, _) => Err(QuantityError::UnknownUnit {
            unit: one.unit,
            of: "nutrient",
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9 * b.abs().max(1.0), "{a} is not {b}");
    }

    #[test]
    fn lengths_as_people_write_them() {
        for (text, cm) in [
            ("168 cm", 168.0),
            ("168cm", 168.0),
            ("1.68 m", 168.0),
            ("1,68 m", 168.0),
            ("1 m 68 cm", 168.0),
            ("1680 mm", 168.0),
            ("5 ft 6 in", 167.64),
            ("5'6\"", 167.64),
            ("5'6", 167.64),
            ("5’6”", 167.64),
            ("5′ 6″", 167.64),
            ("5 feet 6.5 inches", 168.91),
            ("66 in", 167.64),
            ("168\u{a0}cm", 168.0),
            ("168\u{202f}cm ", 168.0),
        ] {
            near(length(text).unwrap_or_else(|e| panic!("{text}: {e}")).0, cm);
        }
    }

    #[test]
    fn masses_as_people_write_them() {
        near(body_mass("61 kg").unwrap().0, 61.0);
        near(body_mass("61,5 kg").unwrap().0, 61.5);
        near(body_mass("134 lb").unwrap().0, 60.781_377_58);
        near(body_mass("134 lbs").unwrap().0, 60.781_377_58);
        near(body_mass("9 st 8 lb").unwrap().0, 60.781_377_58);
        near(food_mass("2 kg").unwrap().0, 2000.0);
        near(food_mass("12 oz").unwrap().0, 340.194_277_5);
        near(food_mass("1 lb 4 oz").unwrap().0, 566.990_462_5);
        near(food_mass("0.350 kg").unwrap().0, 350.0);
        near(food_mass("0,350 kg").unwrap().0, 350.0);
    }

    #[test]
    fn energy_shares_and_rates() {
        near(energy("500 kcal").unwrap().0, 500.0);
        near(energy("500 kcal/day").unwrap().0, 500.0);
        near(energy("2092 kJ").unwrap().0, 500.0);
        near(energy("2.092 MJ").unwrap().0, 500.0);
        near(share("12.5 %").unwrap(), 0.125);
        near(share("12,5%").unwrap(), 0.125);
        for text in ["0.35 %/week", "0.35 % / week", "0,35%/wk"] {
            assert!(matches!(weekly_rate(text), Ok(WeeklyRate::Share(s)) if (s - 0.0035).abs() < 1e-12));
        }
        assert_eq!(
            weekly_rate("0.25 kg/week").unwrap(),
            WeeklyRate::Mass(Kilograms(0.25))
        );
    }

    #[test]
    fn nutrient_amounts() {
        use NutrientQuantity::*;
        assert_eq!(
            nutrient_quantity("1.8 g/kg").unwrap(),
            MassPerKilogram(Grams(1.8))
        );
        assert_eq!(
            nutrient_quantity("1.8 g / kg").unwrap(),
            MassPerKilogram(Grams(1.8))
        );
        assert_eq!(nutrient_quantity("110 g").unwrap(), Mass(Grams(110.0)));
        assert_eq!(nutrient_quantity("25 % energy").unwrap(), EnergyShare(0.25));
        assert_eq!(nutrient_quantity("2500 kcal").unwrap(), Energy(Kcal(2500.0)));
        assert!(matches!(nutrient_quantity("15 µg"), Ok(Mass(Grams(g))) if (g - 15e-6).abs() < 1e-18));
        assert!(matches!(nutrient_quantity("15 μg"), Ok(Mass(_))));
    }

    #[test]
    fn nonsense_is_an_error() {
        use QuantityError::*;
        assert_eq!(length(""), Err(Empty));
        assert_eq!(length("  "), Err(Empty));
        assert!(matches!(length("tall"), Err(NotANumber(_))));
        assert!(matches!(body_mass("NaN kg"), Err(NotANumber(_))));
        assert!(matches!(body_mass("inf kg"), Err(NotANumber(_))));
        assert!(matches!(body_mass("1.2.3 kg"), Err(Ambiguous(_))));
        assert!(matches!(body_mass("-61 kg"), Err(Negative(_))));
        assert!(matches!(body_mass("−61 kg"), Err(Negative(_))));
        assert!(matches!(length("168"), Err(NoUnit(_))));
        assert!(matches!(length("168 kg"), Err(UnknownUnit { .. })));
        assert!(matches!(length("6 in 5 ft"), Err(NotOne(_))));
        assert!(matches!(length("5 ft 16 in"), Err(NotOne(_))));
        assert!(matches!(length("168 cm 3"), Err(NotOne(_))));
        assert!(matches!(body_mass("60-65 kg"), Err(NotOne(_))));
        assert!(matches!(body_mass("60 kg - 65 kg"), Err(NotOne(_))));
        assert!(matches!(energy("2,100 kJ"), Err(Ambiguous(_))));
        assert!(matches!(energy("1,234.5 kJ"), Err(Ambiguous(_))));
        assert!(matches!(energy("500 cal"), Err(UnknownUnit { .. })));
        assert!(matches!(energy("500 mJ"), Err(UnknownUnit { .. })));
        assert!(matches!(share("0.25"), Err(NoUnit(_))));
        assert!(matches!(weekly_rate("0.35 %"), Err(UnknownUnit { .. })));
        assert!(length(&format!("1{} cm", "0".repeat(400))).is_err());
    }
}
