//! Reads an official FoodData Central CSV download.
//!
//! Takes the files as readers, gives foods and every problem. Opens no file itself.
//! Files and columns: USDA FoodData Central, "Download & API Field Descriptions", April 2023.
//!
//! Kept are the data types that carry a food's nutrients: Foundation, SR Legacy and Survey foods.
//! Samples and acquisitions behind them, old versions of Foundation foods, and branded foods are
//! counted and left out. Nutrients are matched by their number (`nutrient_nbr`), which is the SR
//! number. Where a food has no value under the number itself, the closest kin is taken: energy 208,
//! else by the food's own Atwater factors (958), else by the general ones (957), else from kJ (268);
//! fibre 291, else AOAC 2011.25 (293); sugars 269, else 269.3. Carbohydrate by summation (205.2) is
//! not carbohydrate by difference and does not stand in for it.

use std::cell::Cell;
use std::collections::{BTreeMap, HashMap};
use std::io::{self, Read};
use std::rc::Rc;
use std::sync::Arc;

use super::text::{LONGEST_LINE, Problems, decode};
use super::user::most_in_100_g;
use super::{
    Code, Content, Food, FoodId, Footnote, NoteSubject, Portion, Provenance, Reading, ascii, convert,
};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::nutrient::{Nutrient, Unit};
use crate::units::Kcal;

/// The files of a download. The three that nothing can be read without are not optional.
pub struct Download<'a> {
    /// `food.csv`, the descriptions.
    pub food: Box<dyn Read + 'a>,
    /// `nutrient.csv`, number, unit and name of each nutrient.
    pub nutrient: Box<dyn Read + 'a>,
    /// `food_nutrient.csv`, the values.
    pub food_nutrient: Box<dyn Read + 'a>,
    /// `foundation_food.csv`, which Foundation foods are current.
    pub foundation_food: Option<Box<dyn Read + 'a>>,
    /// `food_category.csv`, names of the food groups.
    pub food_category: Option<Box<dyn Read + 'a>>,
    /// `food_portion.csv`, household measures.
    pub food_portion: Option<Box<dyn Read + 'a>>,
    /// `measure_unit.csv`, names of the measures.
    pub measure_unit: Option<Box<dyn Read + 'a>>,
    /// `food_nutrient_derivation.csv`, meaning of the derivations; not in every download.
    pub food_nutrient_derivation: Option<Box<dyn Read + 'a>>,
}

/// Data types of which the rows are foods of their own.
const TYPES: [&str; 3] = ["foundation_food", "sr_legacy_food", "survey_fndds_food"];

/// Share over what can be in 100 g that rounding explains: 5 %, as for foods of a user's own. Our choice.
const ROOM: f64 = 1.05;

/// The measure unit that means none; the words stand in the modifier or the description then.
const UNDETERMINED: &str = "9999";

/// The foods of a download, with ids `fdc:NUMBER` (`fdc:321358`), and every problem of the files.
///
/// `source` is the citation printed with each food.
pub fn read(download: Download<'_>, source: &str) -> Reading {
    let mut problems = Problems::default();
    let mut pairs = |file, name, key: &'static str, value: &'static str| {
        let mut found: HashMap<String, String> = HashMap::new();
        if let Some(file) = file {
            rows(file, name, &[key, value], &[], &mut problems, |row| {
                found.insert(row.text(0), row.text(1));
                Ok(())
            });
        }
        found
    };
    let categories = pairs(download.food_category, "food_category.csv", "id", "description");
    let measures = pairs(download.measure_unit, "measure_unit.csv", "id", "name");
    let has_current = download.foundation_food.is_some();
    let current = pairs(
        download.foundation_food,
        "foundation_food.csv",
        "fdc_id",
        "footnote",
    );

    let mut derivations: HashMap<String, Code> = HashMap::new();
    if let Some(file) = download.food_nutrient_derivation {
        rows(
            file,
            "food_nutrient_derivation.csv",
            &["id", "code", "description"],
            &[],
            &mut problems,
            |row| {
                derivations.insert(
                    row.text(0),
                    Code {
                        code: row.text(1).into(),
                        meaning: row.text(2).into(),
                    },
                );
                Ok(())
            },
        );
    }
    let nutrients = nutrients(download.nutrient, &mut problems);

    let mut foods: Vec<Food> = Vec::new();
    let mut index: HashMap<String, usize> = HashMap::new();
    let mut left_out: HashMap<String, usize> = HashMap::new();
    let columns = ["fdc_id", "data_type", "description"];
    rows(
        download.food,
        "food.csv",
        &columns,
        &["food_category_id"],
        &mut problems,
        |row| {
            let (id, kind, name) = (row.text(0), row.text(1), row.text(2));
            if id.is_empty() || !id.bytes().all(|b| b.is_ascii_digit()) {
                return row.fault(0, "the number of a food");
            }
            let old = kind == "foundation_food" && has_current && !current.contains_key(&id);
            if old || !TYPES.contains(&kind.as_str()) {
                let kind = if old {
                    "foundation_food that is not current".to_owned()
                } else {
                    kind
                };
                *left_out.entry(kind).or_default() += 1;
                return Ok(());
            }
            if name.is_empty() {
                return row.fault(2, "the description of the food");
            }
            if index.contains_key(&id) {
                return row.fault(0, "each food once; this number came before");
            }
            index.insert(id.clone(), foods.len());
            let mut food = Food::new(FoodId::new(format!("fdc:{id}")), name, source.to_owned());
            food.group = categories.get(&row.text(3)).cloned().unwrap_or_default();
            if let Some(note) = current.get(&id).filter(|n| !n.is_empty()) {
                food.footnotes.push(Footnote {
                    subject: NoteSubject::Description,
                    text: note.clone(),
                });
            }
            foods.push(food);
            Ok(())
        },
    );

    let mut provenances = vec![Provenance::default()];
    let mut provenance_index: HashMap<String, u16> = HashMap::new();
    // How far from the number itself the value taken so far is; 0 is the number itself.
    let mut taken: HashMap<(usize, Nutrient), (u8, Content, u32, u16)> = HashMap::new();
    let mut unlisted: BTreeMap<String, usize> = BTreeMap::new();
    let columns = ["fdc_id", "nutrient_id", "amount"];
    let more = ["data_points", "derivation_id"];
    rows(
        download.food_nutrient,
        "food_nutrient.csv",
        &columns,
        &more,
        &mut problems,
        |row| {
            let Some(&food) = index.get(&row.text(0)) else {
                return Ok(());
            };
            let Some(known) = nutrients.get(&row.text(1)) else {
                // Official downloads have rows for nutrients that their own nutrient.csv leaves out.
                *unlisted.entry(row.text(1)).or_default() += 1;
                return Ok(());
            };
            let amount = match known {
                Some((Nutrient::CARBOHYDRATE, ..)) => row.difference(2)?,
                _ => row.number(2)?,
            };
            let points = row.number(3)?.unwrap_or(0.0);
            let (Some((nutrient, unit, rank)), Some(amount)) = (known, amount) else {
                return Ok(());
            };
            let Some(amount) = convert(amount, *unit, nutrient.unit()) else {
                return Ok(());
            };
            if amount > ROOM * most_in_100_g(nutrient.unit()) {
                return row.fault(2, "an amount that can be in 100 g");
            }
            let provenance = match derivations.get(&row.text(4)) {
                None => 0,
                Some(code) => {
                    let next = provenances.len() as u16;
                    *provenance_index.entry(row.text(4)).or_insert_with(|| {
                        provenances.push(Provenance {
                            source: None,
                            derivation: Some(code.clone()),
                        });
                        next
                    })
                }
            };
            match taken.get(&(food, *nutrient)) {
                Some((other, ..)) if other == rank => {
                    return row.fault(1, "each nutrient of a food once; this one came before");
                }
                Some((better, ..)) if better < rank => {}
                _ => {
                    let value = (*rank, Content::Known(amount), points as u32, provenance);
                    taken.insert((food, *nutrient), value);
                }
            }
            Ok(())
        },
    );
    for (id, count) in unlisted {
        let message = format!("food_nutrient.csv: nutrient_id {id} of {count} rows is not in nutrient.csv");
        problems.push(
            Diagnostic::warning("foods-fdc-unlisted-nutrient", message)
                .help("the rows were left out; nothing is to be done when the download is whole"),
        );
    }
    let provenances = Arc::new(provenances);
    let mut taken: Vec<_> = taken.into_iter().collect();
    taken.sort_by_key(|(key, _)| *key);
    for ((food, nutrient), (_, content, points, provenance)) in taken {
        foods[food].set(nutrient, content);
        foods[food].detail(nutrient, points, provenance);
    }
    for food in &mut foods {
        food.provenances = Arc::clone(&provenances);
        if let (Content::Unknown, Content::Known(kj)) = (food.content(Nutrient::ENERGY), kilojoules(food)) {
            food.set(Nutrient::ENERGY, Content::Known(Kcal::from_kj(kj).0));
        }
    }

    if let Some(file) = download.food_portion {
        let columns = ["fdc_id", "amount", "measure_unit_id", "gram_weight"];
        let more = ["portion_description", "modifier"];
        rows(file, "food_portion.csv", &columns, &more, &mut problems, |row| {
            let Some(&food) = index.get(&row.text(0)) else {
                return Ok(());
            };
            let (amount, grams) = (row.number(1)?.unwrap_or(1.0), row.number(3)?);
            let Some(grams) = grams.filter(|g| *g > 0.0) else {
                return row.fault(3, "grams above 0");
            };
            let unit = row.text(2);
            let unit = if unit == UNDETERMINED {
                ""
            } else {
                measures.get(&unit).map_or("", String::as_str)
            };
            let words = [unit.to_owned(), row.text(4), row.text(5)];
            let words: Vec<&str> = words.iter().map(|w| w.trim()).filter(|w| !w.is_empty()).collect();
            foods[food].portions.push(Portion {
                amount,
                measure: words.join(", "),
                grams,
            });
            Ok(())
        });
    }

    if foods.is_empty() {
        problems.push(
            Diagnostic::error(
                "foods-fdc-no-foods",
                "food.csv holds no Foundation, SR Legacy or Survey food",
            )
            .help("take one of these downloads; a list of branded foods can be given as a CSV of your own"),
        );
    }
    let mut left_out: Vec<_> = left_out.into_iter().collect();
    left_out.sort();
    for (kind, count) in left_out {
        let message = format!("{count} rows of food.csv of type `{kind}` are left out");
        problems.push(Diagnostic::note("foods-fdc-left-out", message));
    }
    Reading {
        foods,
        problems: problems.finish(),
    }
}

fn kilojoules(food: &Food) -> Content {
    Nutrient::from_id("energy_kj").map_or(Content::Unknown, |n| food.content(n))
}

type Ids = HashMap<String, Option<(Nutrient, Unit, u8)>>;

fn nutrients(file: Box<dyn Read + '_>, problems: &mut Problems) -> Ids {
    let mut found = HashMap::new();
    rows(
        file,
        "nutrient.csv",
        &["id", "unit_name", "nutrient_nbr"],
        &[],
        problems,
        |row| {
            let number = row.text(2);
            let known = match number.as_str() {
                "958" => Some((Nutrient::ENERGY, 1)),
                "957" => Some((Nutrient::ENERGY, 2)),
                "293" => Some((Nutrient::FIBRE, 1)),
                "269.3" => Some((Nutrient::SUGARS, 1)),
                other => other.parse().ok().and_then(Nutrient::from_number).map(|n| (n, 0)),
            };
            let known = match known {
                None => None,
                Some((nutrient, rank)) => match ascii::unit(&row.text(1)) {
                    Some(unit) if convert(1.0, unit, nutrient.unit()).is_some() => {
                        Some((nutrient, unit, rank))
                    }
                    _ => {
                        return row.fault(1, &format!("{} or a like unit", nutrient.unit().symbol()));
                    }
                },
            };
            found.insert(row.text(0), known);
            Ok(())
        },
    );
    found
}

/// A reader that refuses a record that does not end.
struct Guard<R> {
    inner: R,
    budget: Rc<Cell<usize>>,
}

impl<R: Read> Read for Guard<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        match self.budget.get().checked_sub(read) {
            Some(left) => self.budget.set(left),
            None => {
                let message =
                    format!("a row is longer than {LONGEST_LINE} bytes; is a quotation mark left open?");
                return Err(io::Error::new(io::ErrorKind::InvalidData, message));
            }
        }
        Ok(read)
    }
}

struct Row<'a> {
    file: &'static str,
    columns: &'a [&'static str],
    places: &'a [Option<usize>],
    record: &'a csv::ByteRecord,
    problems: &'a mut Problems,
}

impl Row<'_> {
    fn text(&self, column: usize) -> String {
        let field = self
            .places
            .get(column)
            .copied()
            .flatten()
            .and_then(|at| self.record.get(at));
        field.map_or_else(String::new, |f| decode(f).trim().to_owned())
    }

    fn number(&mut self, column: usize) -> Result<Option<f64>, ()> {
        let text = self.text(column);
        if text.is_empty() {
            return Ok(None);
        }
        match text.parse::<f64>() {
            Ok(v) if v.is_finite() && v >= 0.0 => Ok(Some(v)),
            _ => self.fault(column, "a number of 0 or more").map(|()| None),
        }
    }

    /// As [`Row::number`], but a value by difference, which the errors of its parts can take a little
    /// below zero, counts as 0 then, with a warning.
    fn difference(&mut self, column: usize) -> Result<Option<f64>, ()> {
        const LEAST: f64 = -2.0;
        match self.text(column).parse::<f64>() {
            Ok(v) if (LEAST..0.0).contains(&v) => {
                let line = self.record.position().map_or(0, |p| p.line() as usize);
                let message = format!(
                    "{}, line {line}: carbohydrate by difference is {v} g, taken as 0",
                    self.file
                );
                self.problems.push(
                    Diagnostic::warning("foods-fdc-below-zero", message)
                        .on_line(line)
                        .help(
                            "nothing is to be done: the other parts of the food sum to a little over 100 g",
                        ),
                );
                Ok(Some(0.0))
            }
            _ => self.number(column),
        }
    }

    fn fault(&mut self, column: usize, expected: &str) -> Result<(), ()> {
        let read: String = self.text(column).chars().take(60).collect();
        let line = self.record.position().map_or(0, |p| p.line() as usize);
        let column = self.columns.get(column).copied().unwrap_or("");
        self.problems.push(
            Diagnostic::error(
                "foods-fdc-field",
                format!(
                    "{}, line {line}, {column}: read `{read}`, expected {expected}",
                    self.file
                ),
            )
            .on_line(line)
            .help("the row was left out; compare it with a fresh download"),
        );
        Err(())
    }
}

fn rows(
    file: Box<dyn Read + '_>,
    name: &'static str,
    needed: &[&'static str],
    wanted: &[&'static str],
    problems: &mut Problems,
    mut each: impl FnMut(&mut Row<'_>) -> Result<(), ()>,
) {
    let budget = Rc::new(Cell::new(LONGEST_LINE));
    let guard = Guard {
        inner: file,
        budget: Rc::clone(&budget),
    };
    let mut reader = csv::ReaderBuilder::new()
        .flexible(true)
        .has_headers(false)
        .from_reader(guard);
    let mut record = csv::ByteRecord::new();
    let columns: Vec<&'static str> = needed.iter().chain(wanted).copied().collect();
    let mut places: Vec<Option<usize>> = Vec::new();
    loop {
        match reader.read_byte_record(&mut record) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                problems.push(
                    Diagnostic::error("foods-unreadable", format!("{name}: {error}"))
                        .help("is this the file of a CSV download, unpacked?"),
                );
                return;
            }
        }
        budget.set(LONGEST_LINE);
        if places.is_empty() {
            let heads: Vec<String> = record
                .iter()
                .map(|f| {
                    decode(f)
                        .trim_start_matches('\u{FEFF}')
                        .trim()
                        .trim_matches('"')
                        .to_lowercase()
                })
                .collect();
            places = columns
                .iter()
                .map(|c| heads.iter().position(|h| h == c))
                .collect();
            for (column, place) in needed.iter().zip(&places) {
                if place.is_none() {
                    let near = suggestion(column, heads.iter().map(String::as_str));
                    let near = near.map_or_else(String::new, |n| format!("; `{n}` comes nearest"));
                    problems.push(
                        Diagnostic::error("foods-fdc-column", format!("{name}: no column `{column}`{near}"))
                            .on_line(1)
                            .help("is this the file of a CSV download, with its first line?"),
                    );
                }
            }
            if places[..needed.len()].iter().any(Option::is_none) {
                return;
            }
            continue;
        }
        // A fault has been reported by the row itself; the next one is read all the same.
        let _ = each(&mut Row {
            file: name,
            columns: &columns,
            places: &places,
            record: &record,
            problems,
        });
    }
    if places.is_empty() {
        problems
            .push(Diagnostic::error("foods-empty", format!("{name} is empty")).help("give the whole file"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn small<'a>(food: &'a str, nutrient: &'a str, values: &'a str) -> Reading {
        let download = Download {
            food: Box::new(food.as_bytes()),
            nutrient: Box::new(nutrient.as_bytes()),
            food_nutrient: Box::new(values.as_bytes()),
            foundation_food: None,
            food_category: None,
            food_portion: None,
            measure_unit: None,
            food_nutrient_derivation: None,
        };
        read(download, "test")
    }

    const FOOD: &str = "fdc_id,data_type,description\n1,foundation_food,A\n2,sample_food,B\n";
    const NUTRIENT: &str = "id,unit_name,nutrient_nbr\n1008,KCAL,208\n2047,KCAL,957\n2048,KCAL,958\n\
        1003,MG,203\n1062,kJ,268\n1111,UG,799\n";

    #[test]
    fn the_best_energy_is_taken_in_any_order_and_units_are_converted() {
        let values = "fdc_id,nutrient_id,amount\n1,2047,90\n1,2048,95\n1,1003,5000\n1,1111,3\n2,1008,1\n";
        let reading = small(FOOD, NUTRIENT, values);
        assert_eq!(reading.foods.len(), 1);
        assert_eq!(reading.foods[0].content(Nutrient::ENERGY), Content::Known(95.0));
        assert_eq!(reading.foods[0].content(Nutrient::PROTEIN), Content::Known(5.0));
        assert!(!crate::diagnostic::any_error(&reading.problems));
    }

    #[test]
    fn every_bad_row_is_reported() {
        let values = "fdc_id,nutrient_id,amount\n1,9,90\n1,1003,-1\n1,1003,inf\n1,1003,2\n1,1003,3\n";
        let reading = small(FOOD, NUTRIENT, values);
        let lines: Vec<_> = reading
            .problems
            .iter()
            .filter(|p| p.is_error())
            .map(|p| p.line)
            .collect();
        assert_eq!(lines, [Some(3), Some(4), Some(6)]);
        assert!(
            reading
                .problems
                .iter()
                .any(|p| p.code == "foods-fdc-unlisted-nutrient")
        );
    }

    #[test]
    fn a_food_that_stands_twice_is_reported_and_its_values_are_those_of_the_first() {
        let food = "fdc_id,data_type,description\n1,foundation_food,A\n1,foundation_food,B\n";
        let reading = small(food, NUTRIENT, "fdc_id,nutrient_id,amount\n1,1008,90\n");
        let errors = reading.problems.iter().filter(|p| p.is_error());
        assert_eq!(errors.map(|p| p.line).collect::<Vec<_>>(), [Some(3)]);
        assert_eq!(reading.foods.len(), 1);
        assert_eq!(reading.foods[0].name, "A");
        assert_eq!(reading.foods[0].content(Nutrient::ENERGY), Content::Known(90.0));
    }

    #[test]
    fn a_missing_column_is_named_with_the_nearest() {
        let reading = small(
            "fdcid,data_type,description\n",
            NUTRIENT,
            "fdc_id,nutrient_id,amount\n",
        );
        assert!(
            reading.problems[0]
                .message
                .contains("`fdc_id`; `fdcid` comes nearest")
        );
    }

    #[test]
    fn a_quotation_mark_left_open_does_not_swallow_all_memory() {
        let food = format!(
            "fdc_id,data_type,description\n1,foundation_food,\"{}",
            "x\n".repeat(1 << 20)
        );
        let reading = small(&food, NUTRIENT, "fdc_id,nutrient_id,amount\n");
        assert!(reading.problems.iter().any(|p| p.code == "foods-unreadable"));
    }
}
