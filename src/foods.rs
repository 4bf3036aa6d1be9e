//! Foods: rows of a nutrient table per 100 g edible portion, read from the bundled table or from
//! files, and found by words. Missing, zero and trace are three different things.
//!
//! Takes bytes and text, gives a [`FoodTable`]. Knows no target, no dish and no price.
//!
//! - [`table`]: the table, bundled foods overlaid with the user's own
//! - [`packed`]: the compact form in which the bundled table is embedded
//! - [`ascii`]: reads the original USDA ASCII release
//! - [`fdc`]: reads a FoodData Central CSV download
//! - [`user`]: reads the CSV a spreadsheet produces
//! - [`search`]: finds foods by words
//! - [`atwater`]: compares a food's stated energy with its macronutrients

pub mod ascii;
pub mod atwater;
pub mod fdc;
pub mod packed;
pub mod search;
pub mod table;
pub mod user;

mod text;

use std::borrow::Cow;
use std::fmt;
use std::sync::Arc;

use crate::diagnostic::Diagnostic;
use crate::nutrient::{Nutrient, Unit};

pub use table::FoodTable;

/// The id of a food: the table and its own number, `sr28:20045`, `fdc:321358`, `user:my-bread`.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FoodId(String);

impl FoodId {
    /// From the full text; no check whether such a food exists.
    pub fn new(id: impl Into<String>) -> FoodId {
        FoodId(id.into())
    }
    /// The id of a food of the bundled table from its number there: 1001 is `sr28:01001`.
    pub fn sr28(number: u32) -> FoodId {
        FoodId(format!("sr28:{number:05}"))
    }
    /// The full text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for FoodId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Display for FoodId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// How much of a nutrient is known to be in 100 g edible portion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Content {
    /// Not known. Never zero.
    Unknown,
    /// Present in an amount too small to state.
    Trace,
    /// This much, in the nutrient's unit. Zero is a known zero.
    Known(f64),
}

impl Content {
    /// The amount counted towards a sum: unknown and trace count 0.
    pub fn counted(self) -> f64 {
        match self {
            Content::Known(v) => v,
            Content::Unknown | Content::Trace => 0.0,
        }
    }
    /// Whether a value is known (a trace is known).
    pub fn is_known(self) -> bool {
        !matches!(self, Content::Unknown)
    }
}

/// What a reader found: the foods it could read, and every problem, worst and mild alike.
///
/// Foods whose row had an error are left out and named in an error; see
/// [`crate::diagnostic::any_error`].
#[derive(Clone, Debug, Default)]
pub struct Reading {
    /// The foods read without an error.
    pub foods: Vec<Food>,
    /// All problems, in the order of the file.
    pub problems: Vec<Diagnostic>,
}

/// A code of the source table with its meaning in words.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Code {
    /// The code as the source writes it.
    pub code: Cow<'static, str>,
    /// Its meaning in the source's words.
    pub meaning: Cow<'static, str>,
}

/// How a value came to be: the pair of codes that a source gives with it.
#[derive(Clone, Debug, PartialEq, Eq, Hash, Default)]
pub struct Provenance {
    /// Kind of data (analysed, calculated, assumed zero...).
    pub source: Option<Code>,
    /// How it was derived.
    pub derivation: Option<Code>,
}

/// What stands beside one value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ValueDetail<'a> {
    /// Number of analyses behind it; 0 when it was calculated or the source does not say.
    pub data_points: u32,
    /// How it came to be.
    pub provenance: &'a Provenance,
}

/// A household measure with its mass.
#[derive(Clone, Debug, PartialEq)]
pub struct Portion {
    /// How many of the measure, mostly 1.
    pub amount: f64,
    /// The measure in the source's words: `cup, chopped`.
    pub measure: String,
    /// Mass of the whole amount of edible portion \[g\].
    pub grams: f64,
}

/// What a footnote is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoteSubject {
    /// The description of the food.
    Description,
    /// A household measure.
    Measure,
    /// A nutrient; `None` when the nutrient is not of our list.
    Value(Option<Nutrient>),
}

/// A remark of the source.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Footnote {
    /// What it is about.
    pub subject: NoteSubject,
    /// The remark.
    pub text: String,
}

/// Factors of a food in the source: nitrogen to protein, and energy of the macronutrients.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct Factors {
    /// Grams of protein per gram of nitrogen.
    pub nitrogen: Option<f64>,
    /// Energy of protein [kcal/g].
    pub protein: Option<f64>,
    /// Energy of fat [kcal/g].
    pub fat: Option<f64>,
    /// Energy of carbohydrate by difference [kcal/g].
    pub carbohydrate: Option<f64>,
}

/// One food: what is known about 100 g of its edible portion.
#[derive(Clone, Debug, PartialEq)]
pub struct Food {
    /// Its id, unique in a table.
    pub id: FoodId,
    /// Its name in the source's words.
    pub name: String,
    /// Food group, empty when not given.
    pub group: String,
    /// Other common names, empty when not given.
    pub common_names: String,
    /// Scientific name, empty when not given.
    pub scientific_name: String,
    /// Who makes it, empty when generic.
    pub manufacturer: String,
    /// Share of the bought mass that is not eaten [%]; `None` when not given.
    pub refuse_percent: Option<f64>,
    /// What the refuse is: `Bone and skin`; empty when not given.
    pub refuse: String,
    /// Household measures.
    pub portions: Vec<Portion>,
    /// Remarks of the source.
    pub footnotes: Vec<Footnote>,
    /// The food's own conversion factors.
    pub factors: Factors,
    /// Whether the source lists it among the foods people report eating most in national surveys.
    pub in_survey: bool,
    /// Where the figures come from, as a citation.
    pub source: Cow<'static, str>,
    contents: Box<[Content; Nutrient::COUNT]>,
    details: Vec<Detail>,
    provenances: Arc<Vec<Provenance>>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Detail {
    nutrient: u8,
    provenance: u16,
    data_points: u32,
}

impl Food {
    /// A food of which nothing is known but id and name.
    pub fn new(id: FoodId, name: impl Into<String>, source: impl Into<Cow<'static, str>>) -> Food {
        Food {
            id,
            name: name.into(),
            group: String::new(),
            common_names: String::new(),
            scientific_name: String::new(),
            manufacturer: String::new(),
            refuse_percent: None,
            refuse: String::new(),
            portions: Vec::new(),
            footnotes: Vec::new(),
            factors: Factors::default(),
            in_survey: false,
            source: source.into(),
            contents: Box::new([Content::Unknown; Nutrient::COUNT]),
            details: Vec::new(),
            provenances: Arc::default(),
        }
    }

    /// What is known of a nutrient in 100 g edible portion, in the nutrient's unit.
    pub fn content(&self, nutrient: Nutrient) -> Content {
        self.contents[nutrient.index()]
    }

    /// The amount of a nutrient in 100 g edible portion, in its unit; `None` when unknown,
    /// 0 when a trace.
    pub fn amount(&self, nutrient: Nutrient) -> Option<f64> {
        let content = self.content(nutrient);
        content.is_known().then(|| content.counted())
    }

    /// Sets what is known of a nutrient in 100 g edible portion.
    pub fn set(&mut self, nutrient: Nutrient, content: Content) {
        self.contents[nutrient.index()] = content;
    }

    /// Number of data points and derivation of a value; `None` when the source gives neither.
    pub fn value_detail(&self, nutrient: Nutrient) -> Option<ValueDetail<'_>> {
        let detail = self
            .details
            .iter()
            .find(|d| usize::from(d.nutrient) == nutrient.index())?;
        let provenance = self.provenances.get(usize::from(detail.provenance))?;
        Some(ValueDetail {
            data_points: detail.data_points,
            provenance,
        })
    }

    /// All nutrients of which something is known, in the order of the list.
    pub fn known(&self) -> impl Iterator<Item = (Nutrient, Content)> + '_ {
        Nutrient::all()
            .map(|n| (n, self.content(n)))
            .filter(|(_, c)| c.is_known())
    }

    fn detail(&mut self, nutrient: Nutrient, data_points: u32, provenance: u16) {
        self.details.push(Detail {
            nutrient: nutrient.index() as u8,
            provenance,
            data_points,
        });
    }
}

/// How many of a smaller unit of mass go into a gram; `None` for energy and IU.
fn per_gram(unit: Unit) -> Option<f64> {
    match unit {
        Unit::Gram => Some(1.0),
        Unit::Milligram => Some(1e3),
        Unit::Microgram => Some(1e6),
        Unit::Kilocalorie | Unit::Kilojoule | Unit::InternationalUnit => None,
    }
}

/// An amount in another unit of the same kind; `None` when they cannot be converted.
fn convert(value: f64, from: Unit, to: Unit) -> Option<f64> {
    if from == to {
        return Some(value);
    }
    match (from, to) {
        (Unit::Kilojoule, Unit::Kilocalorie) => Some(value / crate::units::KJ_PER_KCAL),
        (Unit::Kilocalorie, Unit::Kilojoule) => Some(value * crate::units::KJ_PER_KCAL),
        _ => {
            let (from, to) = (per_gram(from)?, per_gram(to)?);
            // Multiply or divide by a whole number so that decimals stay what they were.
            Some(if to >= from {
                value * (to / from)
            } else {
                value / (from / to)
            })
        }
    }
}
