//! What cooking leaves of each nutrient: the USDA table of retention factors, and the one function that
//! says what so many grams of a food hold. Takes the text of the table and a food, gives amounts.

use super::Source;
use crate::diagnostic::{Diagnostic, suggestion};
use crate::foods::{FoodId, FoodTable};
use crate::nutrient::{Nutrient, Unit};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Energy of alcohol, kcal/g: Merrill and Watt, "Energy Value of Foods", USDA Agriculture Handbook 74,
/// 1973, table 13. What boils off takes this energy with it.
pub const ALCOHOL_KCAL_PER_G: f64 = 6.93;
/// Energy of fat that is poured off, kcal/g, where the food has no factor of its own: the same handbook,
/// table 13, fat of meat.
pub const FAT_KCAL_PER_G: f64 = 9.02;
/// The code of a dish file for a food that loses nothing.
pub const NONE: &str = "none";

/// A way of cooking with what it leaves of each nutrient.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Code of the table, four digits, or [`NONE`].
    pub code: String,
    /// The table's words.
    pub description: String,
    /// Share that is left, 0..1, by [`Nutrient::index`]; `None` where the table has no figure.
    pub factors: Vec<Option<f64>>,
}

impl Way {
    /// The share of a nutrient that is left, 0..1; `None` where it is not known.
    pub fn factor(&self, n: Nutrient) -> Option<f64> {
        self.factors.get(n.index()).copied().flatten()
    }
}

/// All ways of cooking, by code.
#[derive(Clone, Debug, PartialEq)]
pub struct Retention {
    ways: BTreeMap<String, Arc<Way>>,
}

impl Default for Retention {
    /// Only [`NONE`].
    fn default() -> Self {
        let none = Way {
            code: NONE.into(),
            description: "nothing is lost".into(),
            factors: vec![Some(1.0); Nutrient::COUNT],
        };
        Retention {
            ways: BTreeMap::from([(NONE.to_string(), Arc::new(none))]),
        }
    }
}

/// Columns of the table that are no nutrient of the list, or stand for more than one: number in the table
/// and the numbers of the list that move with it. Retinol and vitamin A as RAE go with the table's
/// retinol equivalents (392); folate as DFE and added B12 go with what they are computed from. The
/// table's factors of food folate and folic acid are the same in every row, so DFE is exact; those of
/// 392 and the carotenes (321, 322, 334) differ in one row, 1706, by five points.
const MOVE_TOGETHER: [(u16, &[u16]); 3] = [(392, &[319, 320]), (432, &[432, 435]), (418, &[418, 578])];

impl Retention {
    /// The table from its text: code, description, then a column in percent for each nutrient number.
    ///
    /// # Errors
    /// Every cell that is no percentage, and every code that stands twice.
    pub fn read(source: &Source) -> Result<Retention, Vec<Diagnostic>> {
        let mut all = Retention::default();
        let mut problems = Vec::new();
        let mut say = |line: usize, text: String| {
            problems
                .push(Diagnostic::error("retention-data", format!("{}: {text}", source.name)).on_line(line));
        };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .from_reader(source.text.as_bytes());
        let heads: Vec<String> = match reader.headers() {
            Ok(h) => h.iter().map(str::to_string).collect(),
            Err(e) => {
                say(1, e.to_string());
                Vec::new()
            }
        };
        for record in reader.records() {
            let row = match record {
                Ok(row) => row,
                Err(e) => {
                    say(e.position().map_or(0, |p| p.line() as usize), e.to_string());
                    continue;
                }
            };
            let line = row.position().map_or(0, |p| p.line() as usize);
            let mut way = Way {
                code: row.get(0).unwrap_or_default().to_string(),
                description: row.get(1).unwrap_or_default().to_string(),
                factors: vec![Some(1.0); Nutrient::COUNT],
            };
            for (head, cell) in heads.iter().zip(&row).skip(2) {
                let Ok(number) = head.parse::<u16>() else {
                    say(1, format!("column `{head}`: expected a nutrient number"));
                    continue;
                };
                let factor = match cell {
                    "" => None,
                    text => match text.parse::<f64>() {
                        Ok(v) if (0.0..=100.0).contains(&v) => Some(v / 100.0),
                        _ => {
                            say(line, format!("`{text}` in column {head}: expected 0 to 100 %"));
                            continue;
                        }
                    },
                };
                let own = [number];
                let moved = MOVE_TOGETHER.iter().find(|(n, _)| *n == number);
                for n in moved.map_or(&own[..], |(_, list)| list) {
                    if let Some(n) = Nutrient::from_number(*n) {
                        way.factors[n.index()] = factor;
                    }
                }
            }
            if all.ways.contains_key(&way.code) {
                say(line, format!("code `{}` stands twice", way.code));
            }
            all.ways.insert(way.code.clone(), Arc::new(way));
        }
        if problems.is_empty() {
            Ok(all)
        } else {
            Err(problems)
        }
    }

    /// The way of cooking with this code.
    pub fn way(&self, code: &str) -> Option<&Arc<Way>> {
        self.ways.get(code)
    }

    /// All ways in the order of their codes, [`NONE`] last.
    pub fn ways(&self) -> impl Iterator<Item = &Arc<Way>> {
        self.ways.values()
    }

    /// The code nearest to a misspelt one.
    pub fn nearest(&self, code: &str) -> Option<&str> {
        suggestion(code, self.ways.keys().map(String::as_str))
    }
}

/// How a raw food of a dish is cooked.
#[derive(Clone, Debug, PartialEq)]
pub struct Cooking {
    /// What is left of each nutrient.
    pub way: Arc<Way>,
    /// Grams of its fat that are poured off, for each gram of the food.
    pub fat_lost: f64,
    /// Grams of water in the finished dish for each gram of water in its raw ingredients; `None` when the
    /// water of an ingredient is not known.
    pub water: Option<f64>,
}

/// What so many grams of a food hold, by [`Nutrient::index`], in the nutrient's unit; `None` is unknown, a
/// trace is 0. Every total of the program is a sum of these.
///
/// Eaten as it stands (`cooking` is `None`): content x grams / 100. Cooked from raw: that, less the fat
/// poured off, times the share that is left. Fat takes with it its energy, the fatty acids in proportion
/// and the vitamins D, E and K, for which the table has no factor; cholesterol stays. Alcohol that boils
/// off takes its energy. Water follows the mass of the finished dish.
pub fn held(
    table: &FoodTable,
    food: &FoodId,
    grams: f64,
    cooking: Option<&Cooking>,
) -> Option<Vec<Option<f64>>> {
    let food = table.kept(food)?;
    let raw = |n: Nutrient| food.amount(n).map(|v| v * grams / 100.0);
    let Some(c) = cooking else {
        return Some(Nutrient::all().map(raw).collect());
    };
    let fat = raw(Nutrient::FAT).unwrap_or(0.0);
    let poured = (c.fat_lost * grams).min(fat);
    let fat_left = if fat > 0.0 { 1.0 - poured / fat } else { 1.0 };
    let alcohol = raw(Nutrient::ALCOHOL).unwrap_or(0.0);
    let boiled_off = c.way.factor(Nutrient::ALCOHOL).map(|f| alcohol * (1.0 - f));
    let fat_kcal = food.factors.fat.unwrap_or(FAT_KCAL_PER_G);
    let energy_lost = boiled_off.map(|a| poured * fat_kcal + a * ALCOHOL_KCAL_PER_G);
    let amounts = Nutrient::all().map(|n| {
        let v = raw(n)?;
        Some(if n == Nutrient::WATER {
            v * c.water?
        } else if n == Nutrient::ENERGY {
            (v - energy_lost?).max(0.0)
        } else if n.unit() == Unit::Kilojoule {
            (v - energy_lost? * crate::units::KJ_PER_KCAL).max(0.0)
        } else if goes_with_fat(n) {
            v * fat_left * c.way.factor(n)?
        } else {
            v * c.way.factor(n)?
        })
    });
    Some(amounts.collect())
}

/// Whether pouring off fat takes this nutrient along in proportion: fat, its fatty acids (numbers 605 to
/// 900 of the table but the sterols), and vitamins E (323, 341-347, 573), D (324-328) and K (428-430).
fn goes_with_fat(n: Nutrient) -> bool {
    let sterol = matches!(n.number(), 636 | 638 | 639 | 641);
    match n.number() {
        204 | 323..=328 | 341..=347 | 428..=430 | 573 => true,
        605..=900 => !sterol,
        _ => false,
    }
}

/// Sums of amounts in which an unknown one counts as nothing.
pub fn add(sum: &mut [f64], amounts: &[Option<f64>]) {
    for (s, a) in sum.iter_mut().zip(amounts) {
        *s += a.unwrap_or(0.0);
    }
}
