//! The embedded tables of `src/targets/*.csv`, typed. Numbers stand there, not here.

use crate::brief::Scope;
use crate::nutrient::{Nutrient, Unit};
use crate::person::Sex;
use serde::Deserialize;
use serde::de::DeserializeOwned;

/// A row of `dri.csv`.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Dri {
    pub sex: String,
    pub age_lo: u32,
    pub age_hi: u32,
    pub nutrient: String,
    pub rda_or_ai: Option<f64>,
    pub kind: String,
    pub ul: Option<f64>,
    pub source: String,
}

impl Dri {
    /// Whether it is for this person.
    pub fn fits(&self, sex: Sex, age: u32) -> bool {
        let word = match sex {
            Sex::Female => "female",
            Sex::Male => "male",
        };
        self.sex == word && (self.age_lo..=self.age_hi).contains(&age)
    }
}

/// A row of `intakes.csv`.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Intake {
    pub dri: String,
    pub floor: Option<String>,
    pub ceiling: Option<String>,
    pub factor: f64,
    pub most_per_1000_kcal: Option<f64>,
    pub vegetarian_factor: Option<f64>,
    pub note: Option<String>,
}

/// A row of `rules.csv`.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Rule {
    pub nutrient: String,
    pub bound: String,
    pub value: f64,
    pub unit: String,
    pub scope: String,
    pub strength: String,
    pub when: Option<String>,
    pub reason: String,
    pub source: String,
    #[allow(dead_code, reason = "for readers of the table; a test checks the words")]
    pub mark: String,
}

/// A row of `cutoffs.csv`.
#[derive(Clone, Debug, Deserialize)]
struct Cutoff {
    cutoff: String,
    sex: String,
    value: f64,
}

/// A row of `diets.csv`.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Diet {
    pub diet: String,
    pub meatless: String,
    pub plant_only: String,
}

const DRI: &str = include_str!("dri.csv");
const INTAKES: &str = include_str!("intakes.csv");
const RULES: &str = include_str!("rules.csv");
const CUTOFFS: &str = include_str!("cutoffs.csv");
const DIETS: &str = include_str!("diets.csv");

/// The rows of an embedded table. A test reads every row of every table, so none is lost here.
fn rows<T: DeserializeOwned>(text: &str) -> Vec<T> {
    csv::Reader::from_reader(text.as_bytes())
        .into_deserialize()
        .filter_map(Result::ok)
        .collect()
}

pub(super) fn dri() -> Vec<Dri> {
    rows(DRI)
}
pub(super) fn intakes() -> Vec<Intake> {
    rows(INTAKES)
}
/// Recommended or adequate intakes of a healthy adult a day, each in the unit of its nutrient: the rows of
/// `dri.csv` that `intakes.csv` holds a nutrient against. Empty below 19 years.
pub fn reference_intakes(sex: Sex, age: u32) -> Vec<(Nutrient, f64)> {
    let dri = dri();
    let one = |i: Intake| {
        let nutrient = Nutrient::from_id(i.floor.as_deref()?)?;
        let row = dri.iter().find(|r| r.nutrient == i.dri && r.fits(sex, age))?;
        Some((nutrient, row.rda_or_ai? * i.factor))
    };
    intakes().into_iter().filter_map(one).collect()
}
pub(super) fn rules() -> Vec<Rule> {
    rows(RULES)
}
pub(super) fn diets() -> Vec<Diet> {
    rows(DIETS)
}

/// A limit by id, for a sex; `None` when there is no such row (a test looks each one up).
pub(super) fn cutoff(id: &str, sex: Sex) -> Option<f64> {
    let word = match sex {
        Sex::Female => "female",
        Sex::Male => "male",
    };
    rows::<Cutoff>(CUTOFFS)
        .into_iter()
        .find(|row| row.cutoff == id && (row.sex == "both" || row.sex == word))
        .map(|row| row.value)
}

/// The scope of a word of the tables.
pub(super) fn scope(word: &str) -> Option<Scope> {
    match word {
        "meal" => Some(Scope::Meal),
        "day" => Some(Scope::Day),
        "mean" => Some(Scope::Mean),
        _ => None,
    }
}

/// An amount of a nutrient with as many decimals as make sense for people.
pub(super) fn shown(value: f64, nutrient: Nutrient) -> String {
    let decimals = match value.abs() {
        v if v >= 100.0 || nutrient.unit() == Unit::Kilocalorie => 0,
        v if v >= 10.0 => 1,
        _ => 2,
    };
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_string(),
        false => text,
    };
    format!("{text} {}", nutrient.unit().label())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all_read<T: DeserializeOwned>(text: &str) {
        let lines = text.lines().count() - 1;
        let read: Result<Vec<T>, _> = csv::Reader::from_reader(text.as_bytes())
            .into_deserialize()
            .collect();
        assert_eq!(read.expect("every row").len(), lines);
    }

    #[test]
    fn every_row_of_every_table_is_read() {
        all_read::<Dri>(DRI);
        all_read::<Intake>(INTAKES);
        all_read::<Rule>(RULES);
        all_read::<Cutoff>(CUTOFFS);
        all_read::<Diet>(DIETS);
    }

    #[test]
    fn every_word_of_the_tables_is_known() {
        for rule in rules() {
            assert!(Nutrient::from_id(&rule.nutrient).is_some(), "{rule:?}");
            assert!(
                ["floor", "ceiling", "centre"].contains(&rule.bound.as_str()),
                "{rule:?}"
            );
            let units = ["g/kg", "g/kg FFM", "% energy", "x intake", "g", "mg"];
            assert!(units.contains(&rule.unit.as_str()), "{rule:?}");
            assert!(scope(&rule.scope).is_some(), "{rule:?}");
            assert!(["must", "should"].contains(&rule.strength.as_str()), "{rule:?}");
            assert!(
                ["read", "memory", "design"].contains(&rule.mark.as_str()),
                "{rule:?}"
            );
            let words = ["gain", "hold", "lose", "trained", "untrained", "older", "lean"];
            let when = rule.when.clone().unwrap_or_default();
            assert!(when.split_whitespace().all(|w| words.contains(&w)), "{rule:?}");
            assert!(!rule.source.is_empty() && !rule.reason.is_empty());
        }
        let named: Vec<String> = intakes().into_iter().map(|i| i.dri).collect();
        for row in dri() {
            assert!(
                named.contains(&row.nutrient),
                "{} is not in intakes.csv",
                row.nutrient
            );
        }
        for intake in intakes() {
            for id in [&intake.floor, &intake.ceiling].into_iter().flatten() {
                assert!(Nutrient::from_id(id).is_some(), "{id}");
            }
            // A row that is not used says why.
            assert!(intake.floor.is_some() || intake.ceiling.is_some() || intake.note.is_some());
            assert!(intake.factor == 1.0 || intake.dri == "copper");
        }
    }

    #[test]
    fn every_cutoff_is_there() {
        for id in [
            "older",
            "lean",
            "obese",
            "reference_bmi",
            "plant_factor",
            "macro_room",
            "protein_room",
            "energy_override",
        ] {
            assert!(
                cutoff(id, Sex::Female).is_some() && cutoff(id, Sex::Male).is_some(),
                "{id}"
            );
        }
    }
}
